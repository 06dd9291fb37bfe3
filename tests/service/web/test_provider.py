"""Signing in through a provider: what it takes, and every way in which its word is not believed."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient

from service.auth.passwords import hash_password
from service.auth.sessions import COOKIE, TLS_COOKIE
from service.auth.talk import LARGEST_ANSWER_BYTES
from service.clock import Clock
from service.store import Person
from service.web.arriving import AWAY_AT_ONCE
from service.web.readers import AWAY_COOKIE, TLS_AWAY_COOKIE
from tests.service.web import idp as made
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW
from tests.service.web.idp import CLIENT, SECRET, Claims, Idp, running

ENCODED = hash_password("four lanterns over harrow")
HERE = "http://testserver"


class Desk:
    """A browser before the sign-in page of a service with a provider, and a clock that can be moved."""

    def __init__(self, service: Service, provider: Idp) -> None:
        self.service, self.idp, self.now = service, provider, NOW
        self.client = service.stranger()
        self.register("ann")

    def register(self, login: str, **changes: Any) -> None:
        """Make an account, as an administrator does."""
        with self.service.store.begin() as work:
            work.put_person(Person(login=login, role="manager", password=ENCODED, created_at=NOW, **changes))
            work.commit()

    def move(self, by: timedelta) -> None:
        """Let time pass, here and at the provider."""
        self.now += by
        moment: datetime = self.now
        shell = self.service.app.state.shell
        self.service.app.state.shell = replace(shell, clock=Clock(lambda: moment))
        self.idp.now = moment

    def leave(self, client: TestClient | None = None, **fields: str) -> Any:
        """Press the button that leads to the provider."""
        browser = client or self.client
        page = browser.get("/sign-in", follow_redirects=False).text
        token = re.search(r'name="token" value="([^"]+)"', page)
        assert token is not None, page
        return browser.post("/sign-in/provider", data={"token": token[1], **fields}, follow_redirects=False)

    def way_back(self, client: TestClient | None = None, **fields: str) -> str:
        """Leave, sign in at the provider, and give the address that leads back."""
        return self.idp.authorise(link_of(self.leave(client, **fields)))

    def come_back(self, address: str, client: TestClient | None = None) -> Any:
        """Follow the provider's way back."""
        return (client or self.client).get(address.removeprefix(HERE), follow_redirects=False)

    def enter(self, **fields: str) -> Any:
        """Go the whole way."""
        return self.come_back(self.way_back(None, **fields))

    def is_in(self, client: TestClient | None = None) -> bool:
        """Tell whether a page opens."""
        return bool((client or self.client).get("/week", follow_redirects=False).status_code == 200)

    def log(self) -> list[tuple[str, str, str]]:
        """Give what the event log says, oldest first: what, about whom, and what of it."""
        with self.service.store.begin(readonly=True) as work:
            return [(one.what, one.subject, one.after) for one in reversed(work.log_entries().rows)]


def link_of(answer: Any) -> str:
    """Read the address of the provider off the page that leads there."""
    assert answer.status_code == 200, answer.text
    found = re.search(r'class="button main" href="([^"]+)"', answer.text)
    assert found is not None, answer.text
    return unescape(found[1])


@pytest.fixture
def desk(main_url: str, tmp_path: Path) -> Iterator[Desk]:
    """Give a browser before the sign-in page, and a provider that answers."""
    with running(Idp(now=NOW)) as provider:
        service = open_desk(main_url, tmp_path, provider)
        yield Desk(service, provider)
        service.store.close()


def open_desk(url: str, folder: Path, provider: Idp, **settings: Any) -> Service:
    """Open a service that people may enter through the provider."""
    return open_service(
        url,
        folder,
        **{
            "oidc_issuer": provider.issuer,
            "oidc_client_id": CLIENT,
            "oidc_client_secret": SECRET,
            "oidc_label": "Harrow <sign-in>",
            "public_url": HERE,
            **settings,
        },
    )


def test_whole_way(desk: Desk) -> None:
    """Whoever is registered signs in at the provider and comes to the page that was asked for."""
    answer = desk.enter(following="/vehicles?depot=North")

    assert (answer.status_code, answer.headers["location"]) == (303, "/vehicles?depot=North")
    assert desk.is_in()
    assert desk.log() == [("signed in", "ann", "through the provider")]
    assert AWAY_COOKIE not in desk.client.cookies


def test_page_leads_there(desk: Desk) -> None:
    """The button leads on by itself and by a link, with secrets of this try, under the same policy."""
    answer = desk.leave()

    asked = {name: values[0] for name, values in parse_qs(urlsplit(link_of(answer)).query).items()}
    assert answer.headers["refresh"] == f"0; url={link_of(answer)}"
    assert "form-action 'self'" in answer.headers["content-security-policy"]
    assert answer.headers["referrer-policy"] == "same-origin"
    assert asked["redirect_uri"] == f"{HERE}/sign-in/return"
    assert len({asked["state"], asked["nonce"], asked["code_challenge"]}) == 3
    assert min(len(asked["state"]), len(asked["nonce"])) == 64
    assert SECRET not in answer.text
    assert "Harrow &lt;sign-in&gt;" in answer.text


def test_each_try_has_its_own_secrets(desk: Desk) -> None:
    """No two tries share a secret."""
    first, second = (parse_qs(urlsplit(link_of(desk.leave())).query) for _ in range(2))

    assert all(first[name] != second[name] for name in ("state", "nonce", "code_challenge"))


def test_cookies(desk: Desk) -> None:
    """The cookies of the way and of the sign-in are out of scripts' and other sites' reach (ASVS V3.3)."""
    there = desk.leave()
    answer = desk.come_back(desk.idp.authorise(link_of(there)))

    said = there.headers.get_list("set-cookie") + answer.headers.get_list("set-cookie")
    assert all("HttpOnly" in one and "SameSite=" in one for one in said)
    assert [one.split("=")[0] for one in answer.headers.get_list("set-cookie")] == [COOKIE, AWAY_COOKIE]


def test_cookies_behind_tls(main_url: str, tmp_path: Path) -> None:
    """Behind TLS they are Secure and bound to this host by name."""
    with running(Idp(now=NOW)) as provider:
        service = open_desk(main_url, tmp_path, provider, tls_in_front=True)
        desk = Desk(service, provider)
        desk.client = TestClient(service.app, base_url="https://testserver")
        there = desk.leave()
        answer = desk.come_back(desk.idp.authorise(link_of(there)))

        said = " ".join(there.headers.get_list("set-cookie") + answer.headers.get_list("set-cookie"))
        assert f"{TLS_AWAY_COOKIE}=" in said
        assert f"{TLS_COOKIE}=" in said
        assert said.count("Secure") == said.count("Path=/") == 3
        assert desk.is_in()
        service.store.close()


def test_leads_nowhere_else(desk: Desk) -> None:
    """After the sign-in nobody is led to another site."""
    for following in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere"):
        desk.client = desk.service.stranger()
        assert desk.enter(following=following).headers["location"] == "/"


def test_nobody_is_registered_by_signing_in(desk: Desk) -> None:
    """Whom the provider knows and nobody registered is told so, with the login, and gets no account."""
    desk.idp.person = {"sub": "p-18", "preferred_username": "Eve.Lee"}

    answer = desk.enter()

    assert answer.status_code == 401
    assert "nobody has registered you here" in answer.text
    assert "eve.lee" in answer.text
    assert not desk.is_in()
    assert desk.log() == [("sign-in refused", "unknown login", "provider: not registered")]
    with desk.service.store.begin(readonly=True) as work:
        assert work.person("eve.lee") is None


def test_disabled_account_stays_out(desk: Desk) -> None:
    """A disabled account cannot be entered this way either (ASVS 5.0.0 V7.4.2)."""
    desk.register("ann", disabled_at=NOW)

    answer = desk.enter()

    assert answer.status_code == 401
    assert "your account here is disabled" in answer.text
    assert not desk.is_in()
    assert desk.log() == [("sign-in refused", "ann", "provider: disabled")]


def test_login_given_to_somebody_else(desk: Desk) -> None:
    """A login that the provider gives to another person opens nothing, until it is released here."""
    assert desk.enter().status_code == 303
    desk.client = desk.service.stranger()
    desk.idp.person = {"sub": "p-99", "preferred_username": "ann"}

    answer = desk.enter()
    assert answer.status_code == 401
    assert "Somebody else at the provider" in answer.text
    assert not desk.is_in()
    assert desk.log()[-1] == ("sign-in refused", "ann", "provider: not who came before")

    desk.service.post("/setup/people/ann", {"do": "release"})
    assert desk.log()[-1] == ("released from the provider", "ann", "")
    assert desk.enter().status_code == 303
    assert desk.is_in()


def test_password_stays(desk: Desk) -> None:
    """Passwords go on working beside the provider."""
    page = desk.client.get("/sign-in").text
    token = re.search(r'name="token" value="([^"]+)"', page)
    assert token is not None
    fields = {"token": token[1], "login": "ann", "password": "four lanterns over harrow"}

    assert desk.client.post("/sign-in", data=fields, follow_redirects=False).status_code == 303
    assert desk.is_in()


def test_issued_password_is_not_asked_for(desk: Desk) -> None:
    """Whoever came through the provider need not replace a password that was never used."""
    desk.register("ann", password_until=NOW + timedelta(days=7))

    assert desk.enter(following="/week").headers["location"] == "/week"
    assert desk.is_in()


def test_same_session_rules(desk: Desk) -> None:
    """The sign-in ends as every other: without use after an hour, and for who signs out (ASVS V7.3.1)."""
    desk.enter()
    desk.move(timedelta(minutes=59))
    assert desk.is_in()

    desk.move(timedelta(minutes=61))

    assert not desk.is_in()


def test_old_session_ends(desk: Desk) -> None:
    """A browser's earlier sign-in ends with the new one, so that none can be planted (ASVS V7.2.4)."""
    back = desk.way_back()
    planted = desk.service.session("admin")
    desk.client.cookies.set(COOKIE, planted)

    desk.come_back(back)

    thief = desk.service.stranger()
    thief.cookies.set(COOKIE, planted)
    assert not desk.is_in(thief)
    assert "ann" in desk.client.get("/account").text


def test_draft_is_kept(desk: Desk) -> None:
    """A form that came too late goes along to the provider and is shown again afterwards."""
    desk.enter()
    desk.move(timedelta(hours=2))
    late = desk.client.post("/account/password", data={"note": 'hose "split" <b>', "new_password": "x"})
    carried = dict(re.findall(r'name="(again[^"]*)" value="([^"]*)"', late.text))

    again = desk.enter(**{name: unescape(text) for name, text in carried.items()})

    assert again.status_code == 200
    assert 'action="/account/password"' in again.text
    assert 'hose "split" <b>' in unescape(again.text)


def test_draft_outlives_a_refusal(desk: Desk) -> None:
    """What was typed stays on the page when the provider's word does not count."""
    desk.idp.changes = {"nonce": "another"}

    answer = desk.enter(again_action="/account/password", **{"again.note": "hose split"})

    assert answer.status_code == 401
    assert 'name="again.note" value="hose split"' in answer.text


LIES: dict[str, tuple[Claims, Callable[[Claims], str] | None, str]] = {
    "nonce of another try": ({"nonce": "0" * 64}, None, "nonce"),
    "no nonce": ({"nonce": None}, None, "nonce"),
    "token for another service": ({"aud": "somebody-else"}, None, "aud"),
    "token for others too, and not from them": ({"aud": [CLIENT, "somebody-else"]}, None, "azp"),
    "handed out to another service": ({"azp": "somebody-else"}, None, "azp"),
    "no audience": ({"aud": None}, None, "aud"),
    "expired": ({"exp": int(NOW.timestamp()) - 61}, None, "exp"),
    "no end": ({"exp": None}, None, "exp"),
    "end that is no time": ({"exp": "tomorrow"}, None, "exp"),
    "from the future": ({"iat": int(NOW.timestamp()) + 3600}, None, "iat"),
    "another issuer": ({"iss": "http://127.0.0.1:1"}, None, "iss"),
    "issuer with a slash more": ({"iss": "https://id.example/"}, None, "iss"),
    "no issuer": ({"iss": None}, None, "iss"),
    "nobody": ({"sub": None}, None, "sub"),
    "not signed": ({}, made.unsigned, "signature"),
    "signed with the public key": ({}, made.with_public_key, "signature"),
    "signed by a stranger": ({}, lambda claims: made.signed(claims, made.STRANGER), "signature"),
    "signed with an unknown key": ({}, lambda claims: made.signed(claims, made.NEWER), "signature"),
    "changed afterwards": ({}, lambda claims: _changed(made.signed(claims)), "signature"),
    "no token at all": ({}, lambda _: "nonsense", "signature"),
    "token hash of another": ({"at_hash": "AAAAAAAAAAAAAAAAAAAAAA"}, None, "at_hash"),
    "no login": ({"preferred_username": None}, None, "no preferred_username"),
    "login that is no text": ({"preferred_username": ["ann"]}, None, "no preferred_username"),
}


def _changed(token: str) -> str:
    head, body, signature = token.split(".")
    return f"{head}.{body}.{'A' * 8}{signature[8:]}"


def test_lies_are_not_believed(desk: Desk) -> None:
    """Whatever is not proven signs nobody in; the log says which fact failed, and nothing that was sent."""
    for lie, (changes, sign, fact) in LIES.items():
        desk.idp.changes, desk.idp.sign = changes, sign

        answer = desk.enter()

        assert answer.status_code == 401, lie
        assert "does not prove who you are" in answer.text
        assert not desk.is_in()
        assert desk.log()[-1] == ("sign-in refused", "unknown login", f"provider: unproven, {fact}")
    assert len(desk.log()) == len(LIES)


def test_other_usual_signature(desk: Desk) -> None:
    """The other usual kind of signature is believed too."""
    desk.idp.sign = lambda claims: made.signed(claims, made.RSA)

    assert desk.enter().status_code == 303


def test_wrong_state(desk: Desk) -> None:
    """Another state than this browser's opens nothing, and the code is not even traded."""
    back = desk.way_back()

    for state in ("", "0" * 64, "%00", "é"):
        answer = desk.come_back(re.sub(r"state=[^&]*", f"state={state}", back))
        assert answer.status_code == 401
        assert "begun in another browser" in answer.text
    assert "/token" not in desk.idp.asked_for
    assert not desk.is_in()
    assert desk.log() == []


def test_way_back_works_once(desk: Desk) -> None:
    """A way back that was used opens nothing, even to who kept every cookie."""
    back = desk.way_back()
    kept = desk.client.cookies[AWAY_COOKIE]
    assert desk.come_back(back).status_code == 303
    thief = desk.service.stranger()
    thief.cookies.set(AWAY_COOKIE, kept)

    answer = desk.come_back(back, thief)

    assert answer.status_code == 401
    assert not desk.is_in(thief)
    assert desk.idp.asked_for.count("/token") == 1


def test_code_works_once(desk: Desk) -> None:
    """A code that was traded before gives nothing in a new try either."""
    code = parse_qs(urlsplit(first := desk.way_back()).query)["code"][0]
    desk.come_back(first)
    thief = desk.service.stranger()
    own = desk.way_back(thief)

    answer = desk.come_back(re.sub(r"code=[^&]*", f"code={code}", own), thief)

    assert answer.status_code == 401
    assert not desk.is_in(thief)


def test_code_of_another_browser(desk: Desk) -> None:
    """A code that another browser was given is worth nothing in this one: its verifier is another (PKCE)."""
    victim = desk.service.stranger()
    stolen = parse_qs(urlsplit(desk.way_back(victim)).query)["code"][0]
    own = desk.way_back()

    answer = desk.come_back(re.sub(r"code=[^&]*", f"code={stolen}", own))

    assert answer.status_code == 401
    assert not desk.is_in()
    assert ("sign-in refused", "unknown login", "provider: unproven, code") in desk.log()


def test_way_of_another_browser(desk: Desk) -> None:
    """A whole way back that somebody else began signs nobody in here, under no one's name."""
    attacker = desk.service.stranger()
    back = desk.way_back(attacker)
    desk.leave()

    assert desk.come_back(back).status_code == 401
    assert not desk.is_in()


def test_late_way_back(desk: Desk) -> None:
    """A way back is good for some minutes."""
    back = desk.way_back()
    desk.move(timedelta(minutes=11))

    assert "begun in another browser" in desk.come_back(back).text
    assert not desk.is_in()


def test_answer_of_another_issuer(desk: Desk) -> None:
    """An answer that names another issuer is not taken (RFC 9207), one that names this one is."""
    assert desk.come_back(desk.way_back() + "&iss=https%3A%2F%2Fid.example").status_code == 401
    assert "/token" not in desk.idp.asked_for

    assert desk.come_back(f"{desk.way_back()}&iss={desk.idp.issuer}").status_code == 303


def test_description_of_another_issuer(desk: Desk) -> None:
    """A description that names another issuer is not followed."""
    desk.idp.description = {"issuer": "https://id.example"}

    answer = desk.leave()

    assert answer.status_code == 401
    assert "does not prove" in answer.text


def test_description_leads_nowhere_odd(desk: Desk) -> None:
    """A provider that names no usable address is not followed there."""
    for address in (None, 7, "", "javascript:alert(1)", "https://\nid.example", "/authorise", "http://[x/"):
        desk.idp.description = {"authorization_endpoint": address}

        answer = desk.leave()

        assert answer.status_code == 502, address
        assert "makes no sense" in answer.text


def test_cancelled(desk: Desk) -> None:
    """Who turns back at the provider reads so in plain words; what the provider adds is not shown."""
    back = re.sub(
        r"code=[^&]*", "error=access_denied&error_description=%3Cb%3Esecret%20words", desk.way_back()
    )

    answer = desk.come_back(back)

    assert answer.status_code == 401
    assert "you did not sign in there" in answer.text
    assert "secret words" not in answer.text
    assert desk.log() == [("sign-in refused", "unknown login", "provider: error")]


def test_provider_is_away(main_url: str, tmp_path: Path) -> None:
    """While the provider does not answer the page says so, and passwords go on working."""
    with running(Idp(now=NOW)) as provider:
        pass  # it has a port, and is gone
    service = open_desk(main_url, tmp_path, provider)
    desk = Desk(service, provider)

    answer = desk.leave()

    assert answer.status_code == 503
    assert "does not answer" in answer.text
    assert desk.log() == [("sign-in refused", "unknown login", "provider: away, description")]
    test_password_stays(desk)
    service.store.close()


NONSENSE = {
    "fails": (500, b"{}"),
    "leads away": (302, b""),
    "a page": (200, b"<html>"),
    "a list": (200, b"[]"),
    "nothing": (200, b"null"),
    "empty": (200, b"{}"),
    "nested": (200, b"[" * 100_000),
    "wrong kinds": (200, b'{"keys": [{"kty": "RSA"}], "id_token": 7}'),
    "too large": (200, b" " * (LARGEST_ANSWER_BYTES + 1)),
}


@pytest.mark.parametrize("path", ["/.well-known/openid-configuration", "/keys", "/token"])
def test_nonsense(desk: Desk, path: str) -> None:
    """Whatever the provider answers, the reader gets a plain page, and nobody is signed in."""
    for case, desk.idp.raw[path] in NONSENSE.items():
        there = desk.leave()
        found = there if path.startswith("/.well") else desk.come_back(desk.idp.authorise(link_of(there)))

        assert found.status_code in (401, 502, 503), case
        assert 'role="alert"' in found.text
        assert not desk.is_in()
    assert len(desk.log()) == len(NONSENSE)


def test_login_from_the_second_source(desk: Desk) -> None:
    """Where the signed token has no login, the provider is asked for it, about the same person only."""
    desk.idp.person, desk.idp.userinfo = {"sub": "p-17"}, {"sub": "p-17", "preferred_username": "ann"}
    assert desk.enter().status_code == 303

    desk.client = desk.service.stranger()
    desk.idp.userinfo["sub"] = "p-18"
    assert desk.enter().status_code == 401
    assert not desk.is_in()


@pytest.mark.parametrize(("verified", "status"), [(True, 303), (False, 401), (None, 401), ("true", 401)])
def test_mail_address_must_be_verified(main_url: str, tmp_path: Path, verified: object, status: int) -> None:
    """A mail address stands for somebody only where the provider says that it has checked it."""
    with running(Idp(now=NOW)) as provider:
        service = open_desk(main_url, tmp_path, provider, oidc_claim="email")
        desk = Desk(service, provider)
        desk.register("ann@harrow.example")
        provider.person = {"sub": "p-17", "email": "Ann@Harrow.example", "email_verified": verified}

        assert desk.enter().status_code == status
        service.store.close()


def test_new_key_is_fetched(desk: Desk) -> None:
    """When the provider signs with a new key, it is fetched at once; a made-up one fetches nothing anew."""
    desk.enter()
    desk.move(timedelta(minutes=1))
    desk.idp.keys.append(made.NEWER.as_dict(private=False))
    desk.idp.sign = lambda claims: made.signed(claims, made.NEWER)
    desk.client = desk.service.stranger()
    assert desk.enter().status_code == 303

    desk.idp.sign = lambda claims: made.signed(claims, made.EC, kid="made-up")
    fetched = desk.idp.asked_for.count("/keys")
    desk.client = desk.service.stranger()
    assert desk.enter().status_code == 401
    assert desk.idp.asked_for.count("/keys") == fetched


def test_button_is_bound(desk: Desk) -> None:
    """Another site cannot send a reader to the provider: the button's form is bound to the browser."""
    answer = desk.client.post("/sign-in/provider", data={"following": "/week"}, follow_redirects=False)

    assert answer.status_code == 403
    assert AWAY_COOKIE not in desk.client.cookies


def test_many_under_way(desk: Desk) -> None:
    """From one address only so many sign-ins may be under way (ASVS 5.0.0 V2.4.1); later there is room."""
    for _ in range(AWAY_AT_ONCE):
        assert desk.leave().status_code == 200

    assert desk.leave().status_code == 429
    desk.move(timedelta(minutes=11))
    assert desk.leave().status_code == 200


def test_without_a_provider(service: Service) -> None:
    """Without settings for it there is no button, and its addresses are not there."""
    client = service.stranger()

    assert "/sign-in/provider" not in client.get("/sign-in").text
    assert client.get("/sign-in/return?state=x&code=y").status_code == 404


def test_secrets_stay_out_of_logs(desk: Desk, caplog: pytest.LogCaptureFixture) -> None:
    """Neither code nor state, neither secret nor token reaches a log line (ASVS 5.0.0 V16.2.5)."""
    caplog.set_level("DEBUG")
    back = desk.way_back()
    told = {name: values[0] for name, values in parse_qs(urlsplit(back).query).items()}
    desk.come_back(back)

    own = "\n".join(one.getMessage() for one in caplog.records if not one.name.startswith("httpx2"))
    assert told["code"] not in own
    assert told["state"] not in own
    assert SECRET not in caplog.text
    assert desk.client.cookies[COOKIE] not in caplog.text


def test_away_provider_lets_nobody_fill_the_log(main_url: str, tmp_path: Path) -> None:
    """Tries while the provider is away count like others, so that lines in the log have an end."""
    with running(Idp(now=NOW)) as provider:
        pass
    service = open_desk(main_url, tmp_path, provider)
    desk = Desk(service, provider)

    statuses = [desk.leave().status_code for _ in range(AWAY_AT_ONCE + 2)]

    assert statuses == [503] * AWAY_AT_ONCE + [429] * 2
    assert len(desk.log()) == AWAY_AT_ONCE
    service.store.close()
