"""Signing in: what it takes, what it gives, when it ends, and what it never tells."""

import re
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.auth.passwords import hash_password
from service.auth.sessions import COOKIE, TLS_COOKIE
from service.auth.tries import FREE_TRIES, FREE_TRIES_ADDRESS
from service.clock import Clock
from service.store import Person
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW

PASSWORD = "four lanterns over harrow"  # noqa: S105 (made up)
ENCODED = hash_password(PASSWORD)


class Desk:
    """A browser before the sign-in page, and a clock that can be moved."""

    def __init__(self, service: Service) -> None:
        self.service = service
        self.now = NOW
        self.move(timedelta())
        self.client = service.stranger()
        with service.store.begin() as work:
            work.put_person(
                Person(login="ann", role="manager", password=ENCODED, created_at=NOW, preferences={})
            )
            work.commit()

    def move(self, by: timedelta) -> None:
        """Let time pass."""
        self.now += by
        moment: datetime = self.now
        shell = self.service.app.state.shell
        self.service.app.state.shell = replace(shell, clock=Clock(lambda: moment))

    def token(self, client: TestClient | None = None) -> str:
        """Open the sign-in page and read its form token."""
        page = (client or self.client).get("/sign-in", follow_redirects=False).text
        found = re.search(r'name="token" value="([^"]+)"', page)
        assert found is not None, page
        return found[1]

    def enter(self, login: str = "ann", password: str = PASSWORD, **fields: str) -> Any:
        """Fill in the sign-in page and send it."""
        data = {"token": self.token(), "login": login, "password": password, **fields}
        return self.client.post("/sign-in", data=data, follow_redirects=False)

    def log(self) -> list[tuple[str, str]]:
        """Give what the event log says, oldest first: what and about whom."""
        with self.service.store.begin(readonly=True) as work:
            return [(one.what, one.subject) for one in reversed(work.log_entries().rows)]


@pytest.fixture
def desk(service: Service) -> Desk:
    """Give a browser before the sign-in page."""
    return Desk(service)


def test_pages_ask_who_reads(desk: Desk) -> None:
    """Whoever is not signed in is led to the sign-in, and then to the page asked for (ASVS 5.0.0 V8.3.1)."""
    led = desk.client.get("/vehicles?depot=North", follow_redirects=False)
    assert led.status_code == 303
    assert led.headers["location"] == "/sign-in?following=%2Fvehicles%3Fdepot%3DNorth"

    entered = desk.enter(following="/vehicles?depot=North")

    assert (entered.status_code, entered.headers["location"]) == (303, "/vehicles?depot=North")
    assert desk.client.get("/week").status_code == 200
    assert ("signed in", "ann") in desk.log()


@pytest.mark.parametrize("following", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere"])
def test_sign_in_leads_nowhere_else(desk: Desk, following: str) -> None:
    """After the sign-in nobody is led to another site."""
    assert desk.enter(following=following).headers["location"] == "/"


def test_cookie(desk: Desk) -> None:
    """The cookie is random, out of scripts' and other sites' reach (ASVS 5.0.0 V3.3.2, V3.3.4, V7.2.3)."""
    said = desk.enter().headers["set-cookie"]

    secret = desk.client.cookies[COOKIE]
    assert len(secret) == 43  # 256 bits in base64
    assert "HttpOnly" in said
    assert "SameSite=lax" in said
    with desk.service.store.begin(readonly=True) as work:
        assert work.find_visit(secret) is None  # kept as a digest only


def test_cookie_behind_tls(main_url: str, tmp_path: Path) -> None:
    """Behind TLS cookies are Secure, named so that no other site can set them; HSTS (ASVS V3.3.1, V3.4.1)."""
    service = open_service(main_url, tmp_path, tls_in_front=True)
    client = TestClient(service.app, base_url="https://testserver", raise_server_exceptions=False)
    desk = Desk(service)
    desk.client = client

    answer = desk.enter()

    assert f"{TLS_COOKIE}=" in answer.headers["set-cookie"]
    assert "Secure" in answer.headers["set-cookie"]
    assert "Path=/" in answer.headers["set-cookie"]
    assert "Domain" not in answer.headers["set-cookie"]
    assert answer.headers["strict-transport-security"].startswith("max-age=31536000")
    assert client.get("/week").status_code == 200
    service.store.close()


def test_no_hsts_without_tls(service: Service) -> None:
    """Without TLS in front browsers are not told to come by TLS."""
    assert "strict-transport-security" not in service.client.get("/week").headers


def test_new_session_each_time(desk: Desk) -> None:
    """Each sign-in has a new cookie, and the browser's old one ends (ASVS 5.0.0 V7.2.4)."""
    desk.enter()
    first = desk.client.cookies[COOKIE]
    desk.client.cookies.delete(COOKIE)
    desk.enter()
    second = desk.client.cookies[COOKIE]
    assert first != second


@pytest.mark.parametrize(
    ("login", "password"), [("ann", "wrong password"), ("eve", PASSWORD), ("", ""), ("ann", PASSWORD + " ")]
)
def test_refusal_tells_nothing(desk: Desk, login: str, password: str) -> None:
    """Wrong password and unknown login get the same answer (ASVS 5.0.0 V6.2.8)."""
    answer = desk.enter(login, password)

    assert answer.status_code == 401
    assert "Login and password do not fit" in answer.text
    assert desk.client.get("/week", follow_redirects=False).status_code == 303


def test_unknown_login_is_not_written_down(desk: Desk) -> None:
    """What is typed as a login that nobody has may be a password, so the log leaves it out (V16.2.5)."""
    desk.enter("swordfish swordfish", "x")
    desk.enter("ann", "x")

    assert desk.log() == [("sign-in refused", "unknown login"), ("sign-in refused", "ann")]


@pytest.mark.parametrize("login", ["ann", "nobody-has-this"])
def test_lockout(desk: Desk, login: str) -> None:
    """After some failures the next try waits, for a login that exists and one that does not (V6.3.1)."""
    answers = [desk.enter(login, "wrong").status_code for _ in range(FREE_TRIES)]
    assert answers == [401] * FREE_TRIES

    refused = desk.enter(login, PASSWORD)
    assert refused.status_code == 429
    assert 0 < int(refused.headers["retry-after"]) <= 61

    desk.move(timedelta(seconds=61))
    assert desk.enter(login, "wrong").status_code == 401
    assert int(desk.enter(login, PASSWORD).headers["retry-after"]) > 61


def test_right_password_after_the_wait(desk: Desk) -> None:
    """After the wait the right password opens, and forgets what was counted."""
    for _ in range(FREE_TRIES):
        desk.enter("ann", "wrong")
    desk.move(timedelta(minutes=2))

    assert desk.enter().status_code == 303
    desk.client.cookies.delete(COOKIE)
    assert desk.enter("ann", "wrong").status_code == 401


def test_address_is_slowed(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guessing at many logins from one address has to wait too (ASVS 5.0.0 V2.4.1)."""
    monkeypatch.setattr("service.web.entry.matches", lambda *_: False)
    for number in range(FREE_TRIES_ADDRESS):
        assert desk.enter(f"guess-{number}", "wrong").status_code == 401

    assert desk.enter("another", "wrong").status_code == 429


def test_idle_end(desk: Desk) -> None:
    """A sign-in that nobody uses ends; one in use goes on (ASVS 5.0.0 V7.3.1)."""
    desk.enter()
    for _ in range(3):
        desk.move(timedelta(minutes=59))
        assert desk.client.get("/week").status_code == 200

    desk.move(timedelta(minutes=61))

    assert desk.client.get("/week", follow_redirects=False).status_code == 303


def test_absolute_end(desk: Desk) -> None:
    """However much it is used, a sign-in ends (ASVS 5.0.0 V7.3.2)."""
    desk.enter()
    for _ in range(23):
        desk.move(timedelta(minutes=30))
        assert desk.client.get("/week").status_code == 200

    desk.move(timedelta(minutes=30))

    assert desk.client.get("/week", follow_redirects=False).status_code == 303


def test_sign_out(desk: Desk) -> None:
    """After signing out the cookie is worth nothing, even if somebody kept it (ASVS 5.0.0 V7.4.1)."""
    desk.enter()
    kept = desk.client.cookies[COOKIE]
    token = _token(desk.client.get("/account").text)

    answer = desk.client.post("/sign-out", data={"token": token}, follow_redirects=False)

    assert answer.headers["location"] == "/sign-in?saved=signed_out"
    thief = desk.service.stranger()
    thief.cookies.set(COOKIE, kept)
    assert thief.get("/week", follow_redirects=False).status_code == 303


def test_disabled_person_is_out(desk: Desk) -> None:
    """Whoever is disabled is signed out at once and cannot come back (ASVS 5.0.0 V7.4.2)."""
    desk.enter()
    with desk.service.store.begin() as work:
        person = work.person("ann")
        assert person is not None
        work.put_person(replace(person, disabled_at=NOW))
        work.commit()

    assert desk.client.get("/week", follow_redirects=False).status_code == 303
    assert desk.enter().status_code == 401


def test_issued_password(desk: Desk) -> None:
    """A password set by somebody else opens one page only, and not for long (ASVS 5.0.0 V6.4.1)."""
    with desk.service.store.begin() as work:
        person = work.person("ann")
        assert person is not None
        work.put_person(replace(person, password_until=NOW + timedelta(days=7)))
        work.commit()

    assert desk.enter(following="/week").headers["location"] == "/account"
    assert desk.client.get("/week", follow_redirects=False).headers["location"] == "/account"
    assert "Choose your own" in desk.client.get("/account").text
    desk.client.cookies.delete(COOKIE)
    desk.move(timedelta(days=8))
    assert desk.enter().status_code == 401


def test_draft_is_kept(desk: Desk) -> None:
    """A form sent after the sign-in has ended is shown again after signing in anew, nothing lost."""
    desk.enter()
    token = _token(desk.client.get("/help").text)
    desk.move(timedelta(hours=2))

    asked = desk.client.post("/units", data={"token": token, "units": "us", "note": 'hose "split" <b>'})
    assert asked.status_code in (401, 403)  # this page is anybody's: its form is shown again at once

    late = desk.client.post(
        "/account/password", data={"token": token, "note": 'hose "split" <b>', "new_password": "swordfish"}
    )
    assert late.status_code == 401
    assert "Nothing you typed is lost" in late.text
    assert "swordfish" not in late.text
    carried = dict(re.findall(r'name="(again[^"]*)" value="([^"]*)"', late.text))
    data = {"token": _token(late.text), "login": "ann", "password": "wrong"}
    wrong = desk.client.post("/sign-in", data=data | {k: unescape(v) for k, v in carried.items()})
    assert dict(re.findall(r'name="(again[^"]*)" value="([^"]*)"', wrong.text)) == carried
    again = desk.client.post(
        "/sign-in", data=data | {k: unescape(v) for k, v in carried.items()} | {"password": PASSWORD}
    )

    assert again.status_code == 200
    assert 'action="/account/password"' in again.text
    assert 'hose "split" <b>' in unescape(again.text)
    assert _token(again.text) != token


def test_draft_of_another_site_is_not_kept(desk: Desk) -> None:
    """Another site cannot put words into the form that waits for the sign-in (ASVS 5.0.0 V3.5.1)."""
    answer = desk.client.post(
        "/account/password", data={"note": "x"}, headers={"origin": "https://evil.example"}
    )

    assert answer.status_code == 403


def test_sign_in_form_is_bound(desk: Desk) -> None:
    """Another site cannot sign a reader in under its own account: the form is bound to the browser."""
    answer = desk.client.post("/sign-in", data={"login": "ann", "password": PASSWORD}, follow_redirects=False)

    assert answer.status_code == 403
    assert COOKIE not in desk.client.cookies


def test_password_is_changed(desk: Desk) -> None:
    """Changing the password ends every other sign-in and gives this one a new cookie."""
    desk.enter()
    other = desk.service.stranger()
    other.cookies.set(COOKIE, desk.client.cookies[COOKIE])
    fields = {
        "token": _token(desk.client.get("/account").text),
        "current_password": PASSWORD,
        "new_password": "seven quiet wrenches at dawn",
        "repeat_password": "seven quiet wrenches at dawn",
    }

    answer = desk.client.post("/account/password", data=fields, follow_redirects=False)

    assert answer.headers["location"] == "/account?saved=password"
    assert desk.client.get("/week").status_code == 200
    assert other.get("/week", follow_redirects=False).status_code == 303
    assert ("password changed", "ann") in desk.log()
    desk.client.cookies.delete(COOKIE)
    assert desk.enter().status_code == 401
    assert desk.enter(password="seven quiet wrenches at dawn").status_code == 303  # noqa: S106 (made up)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"current_password": "wrong"}, "is not that one"),
        ({"repeat_password": "another thing"}, "differ"),
        ({"new_password": "short", "repeat_password": "short"}, "at least 12"),
        ({"new_password": PASSWORD, "repeat_password": PASSWORD}, "is the old one"),
        ({"new_password": "1q2w3e4r5t6y", "repeat_password": "1q2w3e4r5t6y"}, "easy to guess"),
    ],
)
def test_password_is_refused(desk: Desk, changes: dict[str, str], sentence: str) -> None:
    """A change that cannot be is refused with its reason, and the old password stays."""
    desk.enter()
    fields = {
        "token": _token(desk.client.get("/account").text),
        "current_password": PASSWORD,
        "new_password": "seven quiet wrenches at dawn",
        "repeat_password": "seven quiet wrenches at dawn",
    }

    answer = desk.client.post("/account/password", data=fields | changes)

    assert answer.status_code == 422
    assert sentence in answer.text
    assert ("password changed", "ann") not in desk.log()


def test_units_go_with_the_account(desk: Desk) -> None:
    """The choice of units is the person's, in every browser."""
    desk.enter()
    desk.client.post("/units", data={"token": _token(desk.client.get("/help").text), "units": "us"})
    elsewhere = desk.service.stranger()
    elsewhere.cookies.set(COOKIE, desk.client.cookies[COOKIE])

    assert "Show metric units" in elsewhere.get("/week").text


def test_passwords_stay_out_of_logs(desk: Desk, caplog: pytest.LogCaptureFixture) -> None:
    """No password, cookie or form token reaches a log line (ASVS 5.0.0 V16.2.5)."""
    caplog.set_level("INFO", "forelamp.web")
    desk.enter()

    assert PASSWORD not in caplog.text
    assert desk.client.cookies[COOKIE] not in caplog.text


def _token(page: str) -> str:
    found = re.search(r'name="token" value="([^"]+)"', page)
    assert found is not None, page
    return found[1]


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash nobody's password once for the whole file."""
    monkeypatch.setattr("service.auth.passwords._nobodys", lambda: ENCODED)


def test_own_password_is_not_guessed(desk: Desk) -> None:
    """Whoever found a browser left open cannot try passwords without end (ASVS 5.0.0 V6.3.1)."""
    desk.enter()
    fields = {
        "token": _token(desk.client.get("/account").text),
        "new_password": "seven quiet wrenches at dawn",
        "repeat_password": "seven quiet wrenches at dawn",
    }

    def guess(password: str) -> int:
        sent = fields | {"current_password": password}
        return int(desk.client.post("/account/password", data=sent, follow_redirects=False).status_code)

    assert [guess("wrong") for _ in range(FREE_TRIES)] == [422] * FREE_TRIES
    assert guess(PASSWORD) == 429
    desk.move(timedelta(minutes=2))
    assert guess(PASSWORD) == 303


def test_visit_cookie_behind_tls(main_url: str, tmp_path: Path) -> None:
    """Behind TLS no other host of the domain can plant the cookie that the sign-in form is bound to."""
    service = open_service(main_url, tmp_path, tls_in_front=True)
    client = TestClient(service.app, base_url="https://testserver", raise_server_exceptions=False)

    said = client.get("/sign-in").headers["set-cookie"]

    assert said.startswith("__Host-visit=")
    assert "Secure" in said
    assert "SameSite=strict" in said
    service.store.close()


@pytest.mark.parametrize(
    "origin", ["http://[", "null", "http://testserver.evil.example", "http://testserver:81"]
)
def test_odd_origins_are_foreign(desk: Desk, origin: str) -> None:
    """An origin that is another one, or none at all, is refused as such."""
    answer = desk.client.post("/sign-in", data={"token": desk.token()}, headers={"origin": origin})

    assert answer.status_code == 403
    assert "form-foreign" in answer.text
