"""A sign-in provider of OpenID Connect on loopback, made for tests: it can be told to lie in every way."""

import base64
import hashlib
import hmac
import json
import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, unquote, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import ECKey, RSAKey

CLIENT, SECRET = "forelamp", "two:quiet lanterns"
EC = ECKey.generate_key("P-256", {"kid": "first", "use": "sig"})
RSA = RSAKey.generate_key(2048, {"kid": "second", "use": "sig"})
STRANGER = ECKey.generate_key("P-256", {"kid": "first"})
NEWER = ECKey.generate_key("P-256", {"kid": "third"})

Claims = dict[str, Any]


@dataclass
class Asked:
    """What one way to the provider began with."""

    redirect_uri: str
    nonce: str
    challenge: str


@dataclass
class Idp:
    """The provider. Its answers follow from these fields, which tests change."""

    now: datetime
    port: int = 0
    person: Claims = field(default_factory=lambda: {"sub": "p-17", "preferred_username": "Ann"})
    userinfo: Claims | None = None
    changes: Claims = field(default_factory=dict)
    sign: Callable[[Claims], str] | None = None
    description: Claims = field(default_factory=dict)
    raw: dict[str, tuple[int, bytes]] = field(default_factory=dict)
    keys: list[Claims] = field(
        default_factory=lambda: [EC.as_dict(private=False), RSA.as_dict(private=False)]
    )
    codes: dict[str, Asked] = field(default_factory=dict)
    asked_for: list[str] = field(default_factory=list)

    @property
    def issuer(self) -> str:
        """Give its name, which is its address."""
        return f"http://127.0.0.1:{self.port}"

    def authorise(self, address: str) -> str:
        """Do what a person does who is sent here: sign in. Gives the address that leads back."""
        parts = urlsplit(address)
        asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
        assert f"{parts.scheme}://{parts.netloc}{parts.path}" == f"{self.issuer}/authorise"
        assert (asked["client_id"], asked["response_type"]) == (CLIENT, "code")
        assert asked["code_challenge_method"] == "S256"
        assert "openid" in asked["scope"].split()
        code = secrets.token_urlsafe(16)
        self.codes[code] = Asked(asked["redirect_uri"], asked["nonce"], asked["code_challenge"])
        return f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}"

    def tokens(self, form: dict[str, str], proof: str) -> tuple[int, Claims]:
        """Trade a code, as RFC 6749, RFC 7636 and OpenID Connect Core 1.0 say."""
        told = base64.b64decode(proof.removeprefix("Basic ")).decode() if proof else ":"
        name, _, secret = told.partition(":")
        if (unquote(name), unquote(secret)) != (CLIENT, SECRET):
            return 401, {"error": "invalid_client"}
        asked = self.codes.pop(form.get("code", ""), None)
        digest = hashlib.sha256(form.get("code_verifier", "").encode()).digest()
        challenge = base64.urlsafe_b64encode(digest).rstrip(b"=").decode()
        if asked is None or (asked.redirect_uri, asked.challenge) != (form.get("redirect_uri"), challenge):
            return 400, {"error": "invalid_grant", "error_description": "not that code"}
        at = int(self.now.timestamp())
        claims = {"iss": self.issuer, "aud": CLIENT, "iat": at, "exp": at + 300, "nonce": asked.nonce}
        claims |= self.person | self.changes
        claims = {name: value for name, value in claims.items() if value is not None}
        return 200, {
            "access_token": "for-userinfo",
            "token_type": "Bearer",
            "expires_in": 300,
            "id_token": (self.sign or signed)(claims),
        }

    def describe(self) -> Claims:
        """Say of itself where it is asked what."""
        told: Claims = {
            "issuer": self.issuer,
            "authorization_endpoint": f"{self.issuer}/authorise",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/keys",
            "id_token_signing_alg_values_supported": ["none", "HS256", "ES256"],
        }
        if self.userinfo is not None:
            told["userinfo_endpoint"] = f"{self.issuer}/person"
        return told | self.description


def signed(claims: Claims, key: Any = EC, **header: str) -> str:
    """Sign claims as a sound provider does."""
    kind = "ES256" if isinstance(key, ECKey) else "RS256"
    return jwt.encode({"alg": kind, "kid": key.kid, **header}, claims, key)


def unsigned(claims: Claims) -> str:
    """Write a token with the algorithm `none`."""
    return f"{_part({'alg': 'none', 'kid': 'first'})}.{_part(claims)}."


def with_public_key(claims: Claims) -> str:
    """Sign with the published key as if it were a secret (RFC 8725 section 2.1); libraries refuse to."""
    said = f"{_part({'alg': 'HS256', 'kid': 'second'})}.{_part(claims)}"
    proof = hmac.new(RSA.as_pem(private=False), said.encode(), hashlib.sha256).digest()
    return f"{said}.{base64.urlsafe_b64encode(proof).rstrip(b'=').decode()}"


def _part(value: Claims) -> str:
    return base64.urlsafe_b64encode(json.dumps(value).encode()).rstrip(b"=").decode()


@contextmanager
def running(idp: Idp) -> Iterator[Idp]:
    """Let the provider answer on a free port of this machine."""

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            """Say nothing."""

        def _give(self, status: int, body: bytes) -> None:
            self.send_response(status)
            self.send_header("content-type", "application/json")
            self.send_header("content-length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def _answer(self, form: dict[str, str]) -> None:
            path = urlsplit(self.path).path
            idp.asked_for.append(path)
            if path in idp.raw:
                self._give(*idp.raw[path])
            elif path == "/authorise":
                self.send_response(302)
                self.send_header("location", idp.authorise(idp.issuer + self.path))
                self.end_headers()
            elif path == "/token":
                status, found = idp.tokens(form, self.headers.get("authorization", ""))
                self._give(status, json.dumps(found).encode())
            elif path == "/person" and self.headers.get("authorization") == "Bearer for-userinfo":
                self._give(200, json.dumps(idp.userinfo).encode())
            else:
                known: dict[str, Claims] = {
                    "/.well-known/openid-configuration": idp.describe(),
                    "/keys": {"keys": idp.keys},
                }
                self._give(200 if path in known else 404, json.dumps(known.get(path)).encode())

        def do_GET(self) -> None:
            """Answer a question."""
            self._answer({})

        def do_POST(self) -> None:
            """Answer a form."""
            body = self.rfile.read(int(self.headers.get("content-length", "0"))).decode()
            self._answer({name: values[0] for name, values in parse_qs(body).items()})

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    idp.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
    thread.start()
    try:
        yield idp
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
