"""The administrator's pages: accounts, and the log of what was changed."""

import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from service.auth.passwords import matches
from service.store.work import Work
from service.web.pages.log import LINES_SHOWN
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW


def _logged(service: Service) -> list[tuple[str, str, str, str, str]]:
    with service.store.begin(readonly=True) as work:
        return [(e.who, e.what, e.subject, e.before, e.after) for e in reversed(work.log_entries().rows)]


def _make(service: Service, login: str = "bob", role: str = "mechanic", **fields: str) -> Any:
    return service.post("/setup/people", {"login": login, "role": role, **fields})


def test_account_is_made(service: Service) -> None:
    """A new account's password is on the answer and nowhere else; the log says who made it."""
    answer = _make(service, "Bob", depot="North", depot_only="yes")

    shown = re.search(r'<code class="secret">([^<]+)</code>', answer.text)
    assert answer.status_code == 200
    assert shown is not None
    with service.store.begin(readonly=True) as work:
        kept = work.person("bob")
    assert kept is not None
    assert matches(kept.password, shown[1])
    assert _logged(service) == [("admin", "account made", "bob", "", "mechanic, North only")]
    assert shown[1] not in service.client.get("/setup/people").text
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"login": "bob lee"}, "A login is"),
        ({"role": "boss"}, "A role is"),
        ({"depot_only": "yes"}, "needs that depot"),
        ({"login": "admin"}, "already"),
    ],
)
def test_account_is_refused(service: Service, fields: dict[str, str], sentence: str) -> None:
    """What cannot be kept is refused beside the form, and nothing is written."""
    answer = _make(service, **{"login": "bob", "role": "viewer", **fields})

    assert answer.status_code == 422
    assert sentence in unescape(answer.text)
    assert _logged(service) == []


def test_account_is_changed(service: Service) -> None:
    """Role and depot are changed, with before and after in the log; the person's next page shows it."""
    service.session("viewer", login="bob")

    answer = service.post("/setup/people/bob", {"do": "change", "role": "lead", "depot": "North"})

    assert answer.headers["location"] == "/setup/people/bob?saved=person"
    assert _logged(service) == [("admin", "account changed", "bob", "viewer", "lead, North")]


@pytest.mark.parametrize("do", ["disable", "password", "end_sessions"])
def test_sign_ins_end(service: Service, do: str) -> None:
    """Disabling, a new password, and ending sign-ins all sign the person out at once (ASVS 5.0.0 V7.4.2)."""
    browser = service.stranger()
    browser.cookies.set("forelamp", service.session("lead", login="bob"))
    assert browser.get("/week").status_code == 200

    service.post("/setup/people/bob", {"do": do})

    assert browser.get("/week", follow_redirects=False).status_code == 303


@pytest.mark.parametrize("fields", [{"do": "disable"}, {"do": "change", "role": "viewer"}])
def test_last_admin_stays(service: Service, fields: dict[str, str]) -> None:
    """The last administrator stays one, and the page says why."""
    answer = service.post("/setup/people/admin", fields)

    assert answer.status_code == 422
    assert "last administrator" in answer.text
    assert service.client.get("/setup/people").status_code == 200


def test_nobody_there(service: Service) -> None:
    """An account that is not there is a page with status 404; what cannot be done is a 422."""
    assert service.client.get("/setup/people/eve").status_code == 404
    assert service.post("/setup/people/eve", {"do": "disable"}).status_code == 404
    assert service.post("/setup/people/admin", {"do": "promote"}).status_code == 422


def test_nothing_else_is_set(service: Service) -> None:
    """Fields that the form does not have change nothing (ASVS 5.0.0 V15.3.3)."""
    service.session("viewer", login="bob")

    service.post(
        "/setup/people/bob",
        {
            "do": "change",
            "role": "viewer",
            "depot": "",
            "password": "x",
            "login": "admin",
            "disabled_at": "1",
        },
    )

    with service.store.begin(readonly=True) as work:
        person = work.person("bob")
    assert person is not None
    assert (person.password, person.disabled_at) == ("", None)


def test_log_page(service: Service) -> None:
    """The log lists the newest first, filters, and pages by a cursor that fits its filters only."""
    with service.store.begin() as work:
        for number in range(LINES_SHOWN + 5):
            work.log_event(at=NOW, who="ann", what="sheet enforced", subject=f"<S-{number}>")
        work.log_event(at=NOW, who="bob", what="released", subject="refusal 7")
        work.commit()

    page = service.client.get("/log?who=ann").text
    older = unescape(re.findall(r'href="(/log\?[^"]*cursor=[^"]+)"', page)[0])

    assert "refusal 7" not in page
    assert f"&lt;S-{LINES_SHOWN + 4}&gt;" in page
    assert "&lt;S-0&gt;" in service.client.get(older).text
    assert service.client.get(older.replace("who=ann", "who=bob")).status_code == 400


def test_log_has_no_way_back() -> None:
    """Nobody can change or remove an event; only erasing a vehicle takes its number out of the texts."""
    sources = {
        path.name: path.read_text("utf-8")
        for path in (Path(__file__).parents[3] / "service" / "store").glob("*.py")
    }
    writing = {name for name, text in sources.items() if re.search(r"\b(update|delete)\(EVENT\b", text)}

    assert [one for one in dir(Work) if "log" in one and not one.startswith("_")] == [
        "log_entries",
        "log_event",
    ]
    assert writing <= {"erasing.py"}


def test_every_change_through_the_api_is_logged(fleet: Service) -> None:
    """A program's change is in the log under its token's name, sends of snapshots left out."""
    headers = fleet.token("admin")
    fleet.client.post("/api/v1/vehicles", json=[{"vehicle": "V-0500"}], headers=headers)

    lines = _logged(fleet)

    assert [line[0] for line in lines][-1].startswith("admin-")
    assert "/api/v1/vehicles" in lines[-1][1] or "vehicle" in lines[-1][1]
    before = len(lines)
    fleet.client.post("/api/v1/vehicles", json=[{"vehicle": "  "}], headers=fleet.token("read"))
    assert len(_logged(fleet)) == before


def test_sends_are_limited(service: Service) -> None:
    """A token that sends more than it may is told when to go on (ASVS 5.0.0 V2.4.1)."""
    from dataclasses import replace

    shell = service.app.state.shell
    service.app.state.shell = replace(shell, settings=replace(shell.settings, sends_per_minute=3))
    headers, other = service.token("send"), service.token("send")

    answers = [service.send(b"[]", headers) for _ in range(4)]

    assert [one.status_code for one in answers[:3]] == [422] * 3 or answers[2].status_code < 429
    assert answers[3].status_code == 429
    assert answers[3].json()["code"] == "too-many-requests"
    assert answers[3].headers["retry-after"] == "20"
    assert service.send(b"[]", other).status_code != 429


def test_refused_doors_are_logged(service: Service, caplog: pytest.LogCaptureFixture) -> None:
    """Refused access is a log line with who was refused, the route and the status (ASVS 5.0.0 V16.3.2)."""
    caplog.set_level("INFO", "forelamp.web")
    service.become("viewer")

    service.client.get("/log")

    line = caplog.records[-1].message
    assert '"status":403' in line
    assert '"route":"/log"' in line
    assert '"caller":"viewer"' in line
