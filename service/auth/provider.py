"""Signing in through a provider of OpenID Connect: where people go, and whether what comes back is true.

The code flow with PKCE. Whose word counts is settled by the settings, never by what the provider says of
itself: the issuer as it was set, signatures by keys that only it has, and for this service alone.

References
----------
OpenID Connect Core 1.0 sections 3.1.2 and 3.1.3, Discovery 1.0 section 4; RFC 7636 (PKCE); RFC 9207 (issuer
in the answer); RFC 8725 section 3.1 (algorithms).
"""

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlsplit

import httpx2
from authlib.integrations.base_client import OAuthError
from authlib.integrations.httpx_client import OAuth2Client
from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import ClaimError, InvalidKeyIdError, JoseError
from joserfc.jwk import KeySet
from joserfc.jws import JWSRegistry

from service.auth.errors import ProviderFailed
from service.auth.talk import Line, fetch
from service.auth.tokens import digest_of
from service.settings import Settings

ALGORITHMS: Final = (
    *("RS256", "RS384", "RS512", "PS256", "PS384", "PS512"),
    *("ES256", "ES384", "ES512", "Ed25519", "EdDSA"),
)
"""Signatures that are believed: only those that nobody can make who knows the published keys. The provider's
own list is not asked."""

RETURN: Final = "/sign-in/return"
"""Where the provider sends people back to."""

KEY_KINDS: Final = ("RSA", "EC", "OKP")

KEPT_FOR: Final = timedelta(hours=1)
"""How long addresses and keys of the provider are kept; chosen by us. An unknown key asks anew at once."""

ASK_AGAIN_AFTER: Final = timedelta(seconds=30)
"""Least time between two fetches of the keys that an unknown key causes; chosen by us."""

LEEWAY_S: Final = 60
"""How far the provider's clock may be off; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What was agreed with the provider.

    Parameters
    ----------
    issuer : str
        As the provider writes it, to the letter.
    client_id : str
        What it knows this service as.
    client_secret : str
        Empty for a client without one.
    claim : str
        Claim that holds the login.
    return_to : str
        Address of this service at which people come back.
    """

    issuer: str
    client_id: str
    client_secret: str = field(default="", repr=False)
    claim: str = "preferred_username"
    return_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proven:
    """Who somebody is, as the provider has proved.

    Parameters
    ----------
    login : str
        In small letters, as the agreed claim says.
    subject : str
        Digest of issuer and subject: the one name that the provider never gives to anybody else.
    """

    login: str
    subject: str


class Provider:
    """One provider of sign-ins; its addresses and keys are fetched when first needed, and kept.

    Parameters
    ----------
    terms : Terms
        What was agreed with it.
    """

    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self._lock = threading.Lock()
        self._told: tuple[datetime, Mapping[str, str]] | None = None
        self._keys: tuple[datetime, KeySet] | None = None
        self._line = Line(
            client_id=terms.client_id,
            client_secret=terms.client_secret or None,
            scope="openid email" if terms.claim == "email" else "openid profile",
            redirect_uri=terms.return_to,
            code_challenge_method="S256",
        )

    def address_for(self, *, state: str, nonce: str, verifier: str, now: datetime) -> str:
        """Give the address of the provider to which somebody is sent.

        Parameters
        ----------
        state, nonce, verifier : str
            Secrets of this one try.
        now : datetime
            Aware.

        Raises
        ------
        ProviderFailed
            It does not answer, or not with what it has to say of itself.
        """
        with self._line.talk() as client:
            told = self._describe(client, now)
            address, _ = client.create_authorization_url(
                told["authorization_endpoint"], state=state, nonce=nonce, code_verifier=verifier
            )
        return str(address)

    def ask(
        self, code: str, *, nonce: str, verifier: str, now: datetime, said_issuer: str | None = None
    ) -> Proven:
        """Ask the provider who somebody is, and believe it only with proof.

        Parameters
        ----------
        code : str
            What the browser brought back.
        nonce, verifier : str
            Secrets of this one try, as before.
        now : datetime
            Aware.
        said_issuer : str or None
            Who the answer says it is from (RFC 9207); None where it does not say.

        Returns
        -------
        Proven
            Login and subject.

        Raises
        ------
        ProviderFailed
            It does not answer, or what it says is not proven.
        """
        if said_issuer is not None and said_issuer != self.terms.issuer:
            raise ProviderFailed("unproven", "issuer of the answer")
        with self._line.talk() as client:
            told = self._describe(client, now)
            given = _trade(client, told, code, verifier)
            claims = self._believe(client, told, given, nonce, now)
            login = self._login(client, told, given, claims)
        return Proven(login=login, subject=digest_of(f"{self.terms.issuer}\n{claims['sub']}"))

    def _describe(self, client: OAuth2Client, now: datetime) -> Mapping[str, str]:
        with self._lock:
            kept = self._told
        if kept is not None and now - kept[0] < KEPT_FOR:
            told = kept[1]
        else:
            address = f"{self.terms.issuer.rstrip('/')}/.well-known/openid-configuration"
            told = _checked(fetch(client, address, "description"), self.terms.issuer)
            with self._lock:
                self._told = (now, told)
        client.token_endpoint_auth_method = told["auth_method"] if self.terms.client_secret else "none"
        return told

    def _believe(
        self,
        client: OAuth2Client,
        told: Mapping[str, str],
        given: Mapping[str, Any],
        nonce: str,
        now: datetime,
    ) -> Mapping[str, Any]:
        """Give the claims of a signed token that is for this service, this try, and not over."""
        wanted = {
            "iss": {"essential": True, "value": self.terms.issuer},
            "aud": {"essential": True, "value": self.terms.client_id},
            "nonce": {"essential": True, "value": nonce},
        }
        facts = {"nonce": nonce, "client_id": self.terms.client_id, "access_token": given.get("access_token")}
        try:
            token = self._decode(client, told, given["id_token"], now)
            claims = CodeIDToken(token.claims, token.header, wanted, facts)
            claims.validate(now=int(now.timestamp()), leeway=LEEWAY_S)
        except ClaimError as err:
            raise ProviderFailed("unproven", err.claim) from err
        except (JoseError, ValueError, TypeError, KeyError, AttributeError, RecursionError) as err:
            raise ProviderFailed("unproven", "signature") from err
        return dict(claims)

    def _decode(self, client: OAuth2Client, told: Mapping[str, str], text: str, now: datetime) -> jwt.Token:
        registry = JWSRegistry(algorithms=ALGORITHMS, strict_check_header=False)
        try:
            return jwt.decode(text, self._key_set(client, told, now, KEPT_FOR), registry=registry)
        except InvalidKeyIdError:  # the provider may have changed its keys since they were fetched
            return jwt.decode(text, self._key_set(client, told, now, ASK_AGAIN_AFTER), registry=registry)

    def _key_set(
        self, client: OAuth2Client, told: Mapping[str, str], now: datetime, oldest: timedelta
    ) -> KeySet:
        with self._lock:
            kept = self._keys
        if kept is not None and now - kept[0] < oldest:
            return kept[1]
        keys = _public_keys(fetch(client, told["jwks_uri"], "keys"))
        with self._lock:
            self._keys = (now, keys)
        return keys

    def _login(
        self,
        client: OAuth2Client,
        told: Mapping[str, str],
        given: Mapping[str, Any],
        claims: Mapping[str, Any],
    ) -> str:
        """Find the login: in the signed token, else where the provider keeps what it knows of people."""
        name, source, key = self.terms.claim, claims, given.get("access_token")
        if (
            name not in claims
            and told["userinfo_endpoint"]
            and isinstance(key, str)
            and key.isascii()
            and key.isprintable()
        ):
            address, proof = told["userinfo_endpoint"], {"authorization": f"Bearer {key}"}
            source = fetch(client, address, "person", proof)
            if source.get("sub") != claims["sub"]:
                raise ProviderFailed("unproven", "sub")
        login = source.get(name)
        if not isinstance(login, str) or not login.strip():
            raise ProviderFailed("unproven", f"no {name}")
        if name == "email" and source.get("email_verified") is not True:
            raise ProviderFailed("unproven", "email_verified")
        return login.strip().casefold()


def provider_of(settings: Settings) -> Provider:
    """Make the provider that the settings name; people come back to its public address."""
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    here = settings.public_url or f"http://{host}:{settings.port}"
    return Provider(
        Terms(
            issuer=settings.oidc_issuer,
            client_id=settings.oidc_client_id,
            client_secret=settings.oidc_client_secret,
            claim=settings.oidc_claim,
            return_to=here + RETURN,
        )
    )


def _trade(client: OAuth2Client, told: Mapping[str, str], code: str, verifier: str) -> Mapping[str, Any]:
    """Trade the code for tokens; a code that was used before, or that somebody else began, gives none."""
    try:
        given = client.fetch_token(
            told["token_endpoint"], code=code, code_verifier=verifier, redirect_uri=client.redirect_uri
        )
    except OAuthError as err:
        raise ProviderFailed("unproven", "code") from err
    except httpx2.HTTPError as err:
        raise ProviderFailed("away", "tokens") from err
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as err:
        raise ProviderFailed("nonsense", "tokens") from err
    if not isinstance(given.get("id_token"), str):
        raise ProviderFailed("nonsense", "tokens")
    return dict(given)


def _checked(found: Mapping[str, Any], issuer: str) -> Mapping[str, str]:
    """Take over what a provider says of itself, where it can be meant."""
    if found.get("issuer") != issuer:
        raise ProviderFailed("unproven", "issuer of the description")
    scheme, told = urlsplit(issuer).scheme, {}
    for name in ("authorization_endpoint", "token_endpoint", "jwks_uri", "userinfo_endpoint"):
        address = found.get(name)
        optional = name == "userinfo_endpoint" and address is None
        if not optional and not _is_usable(address, scheme):
            raise ProviderFailed("nonsense", name)
        told[name] = str(address or "")
    methods = found.get("token_endpoint_auth_methods_supported") or ["client_secret_basic"]
    told["auth_method"] = "client_secret_basic" if "client_secret_basic" in methods else "client_secret_post"
    return told


def _is_usable(address: object, scheme: str) -> bool:
    if not isinstance(address, str) or not address.isascii() or not address.isprintable() or " " in address:
        return False
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    return bool(parts.hostname) and parts.scheme == scheme and not parts.fragment


def _public_keys(found: Mapping[str, Any]) -> KeySet:
    """Read the published keys; those of kinds that are not used here are passed over."""
    offered = found.get("keys")
    if isinstance(offered, list):
        usable = [one for one in offered if isinstance(one, dict) and one.get("kty") in KEY_KINDS]
        try:
            keys = KeySet.import_key_set({"keys": usable})
        except (JoseError, ValueError, TypeError, KeyError) as err:
            raise ProviderFailed("nonsense", "keys") from err
        if keys:
            return keys
    raise ProviderFailed("nonsense", "keys")
