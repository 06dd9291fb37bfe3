"""What people do to tickets on pages: only what the life-cycle allows, once, and over nobody's work."""

import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from html import unescape
from itertools import product
from typing import Any, Final

import pytest

from service.clock import Clock
from service.tickets.aside import ASIDES
from service.tickets.effects import EVENTS
from service.tickets.lifecycle import allowed_events
from service.tickets.ticket import STATUSES, Role, Status, Ticket
from service.web.moving import RECORDING
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET

PEOPLE: Final[tuple[Role, ...]] = ("mechanic", "lead", "manager")
KINDS: Final = (*STATUSES, "done_closed")
ACT: Final = f"/work/{TICKET}/events"
RECORD: Final = f"/work/{TICKET}/record"


def ticket_of(service: Service) -> Ticket:
    """Read the ticket."""
    with service.store.begin(readonly=True) as work:
        return work.ticket(TICKET)


def put(service: Service, **changes: Any) -> Ticket:
    """Put the ticket into a state, one version further."""
    with service.store.begin() as work:
        before = work.ticket(TICKET)
        after = replace(before, **changes, version=before.version + 1)
        work.put_ticket(after, read_version=before.version)
        work.commit()
    return after


def act(service: Service, event: str, **fields: str) -> Any:
    """Send the form of one event, as the ticket's page does."""
    at = str(ticket_of(service).version)
    return service.post(ACT, {"event": event, "version": at, "key": f"{event}-{at}"} | fields)


def record(service: Service, cause: str, key: str = "k", **fields: str) -> Any:
    """Send the form of findings."""
    sent = {"version": str(ticket_of(service).version), "key": key, "cause": cause, "kind": "usual"}
    return service.post(RECORD, sent | fields)


def records(service: Service) -> list[Any]:
    """List the work records that belong to the ticket."""
    with service.store.begin(readonly=True) as work:
        return list(work.work_records(ticket=TICKET))


def later(service: Service, **span: float) -> None:
    """Let time pass."""
    service.app.state.shell = replace(service.app.state.shell, clock=Clock(lambda: NOW + timedelta(**span)))


def _in_state(kind: str) -> dict[str, Any]:
    status: Status = "done" if kind == "done_closed" else next(one for one in STATUSES if one == kind)
    closed = kind in {"verified", "dismissed", "done_closed"}
    return {
        "status": status,
        "closed_at": NOW - timedelta(hours=2) if closed else None,
        "closed_by": "visitor" if closed else "",
        "status_before": "in_work" if kind in {"verified", "dismissed"} else "",
        "done_at": NOW - timedelta(hours=3) if status in {"done", "verified"} else None,
        "deferred_until": NOW.date() + timedelta(days=9) if status == "deferred" else None,
        "consequence": 2,
    }


FACTS: Final[dict[str, dict[str, str]]] = {
    "book": {"on": "2031-03-05", "hours": "2"},
    "pause": {"reason": "parts"},
    "defer": {"on": "2031-04-01", "reason": "next_service", "confirmed": "yes"},
    "dismiss": {"reason": "evidence_eased"},
    "verify_by_hand": {"reason": "own_reader", "readings": "trim 0.8 %"},
    "reopen": {"reason": "not_fixed"},
    "assign": {"assignee": "bench 2"},
    "comment": {"note": "looked at it"},
    "pin": {"until": "2031-03-10"},
}
"""Everything that an event needs, so that only the table decides."""


@pytest.mark.parametrize("role", PEOPLE)
def test_only_the_table_moves_a_ticket(fleet: Service, role: Role) -> None:
    """For every state and event: what the life-cycle's table allows succeeds, all else is a 409."""
    fleet.become(role, login="visitor")
    token = fleet.form_token()
    for place, (kind, event) in enumerate(product(KINDS, EVENTS)):
        if event == "merge":
            continue
        before = put(fleet, **_in_state(kind))
        allowed = set(allowed_events(before, role)) - RECORDING - {"comeback"}

        fields = {"token": token, "event": event, "version": str(before.version), "key": f"k-{place}"}
        answer = fleet.client.post(ACT, data=fields | FACTS.get(event, {}), follow_redirects=False)

        expected = 303 if event in allowed else 409
        assert answer.status_code == expected, (kind, event, role, answer.text[:2000])
        assert ticket_of(fleet).version == before.version + (event in allowed), (kind, event, role)


@pytest.mark.parametrize("role", ["viewer", "analyst", "integrator", "admin"])
def test_others_move_nothing(fleet: Service, role: str) -> None:
    """Who does not work on tickets is shown no form for it, and sends none."""
    fleet.become(role)

    page = fleet.client.get(f"/work/{TICKET}").text

    assert f'action="{ACT}"' not in page
    assert f'action="{RECORD}"' not in page
    for event in (*EVENTS, *ASIDES):
        assert act(fleet, event, **FACTS.get(event, {})).status_code == 403
    assert record(fleet, "unmetered_air").status_code == 403
    assert ticket_of(fleet).version == 1


@pytest.mark.parametrize("role", PEOPLE)
@pytest.mark.parametrize("kind", KINDS)
def test_page_offers_what_is_allowed(fleet: Service, kind: str, role: Role) -> None:
    """The buttons on the page are the steps that the table allows, and no others."""
    fleet.become(role, login="visitor")
    ticket = put(fleet, **_in_state(kind))

    page = fleet.client.get(f"/work/{TICKET}").text

    offered = set(re.findall(r'name="event" value="(\w+)"', page)) - set(ASIDES)
    assert offered == set(allowed_events(ticket, role)) - RECORDING - {"comeback", "merge"}
    assert ('id="record"' in page) == ("record_repair" in allowed_events(ticket, role))


def test_two_on_one_version(fleet: Service) -> None:
    """One wins; the other gets a 412 with both versions and what was chosen, and can send it all the same."""
    fleet.become("lead")
    act(fleet, "accept", version="1")

    answer = act(fleet, "book", version="1", on="2031-03-06", hours="2.5")

    text = unescape(answer.text)
    assert answer.status_code == 412
    assert "As it stands now" in text
    assert "As you read it" in text
    assert "Accepted" in text
    assert "2031-03-06" in text
    assert ticket_of(fleet).booked_on is None
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', text.split("<h2>")[1]))
    assert (
        fleet.post(
            ACT, {name: fields[name] for name in ("event", "version", "key", "on", "hours")}
        ).status_code
        == 303
    )
    assert ticket_of(fleet).booked_on is not None


def test_what_is_not_possible_any_more_is_not_sent_again(fleet: Service) -> None:
    """When the newer version does not allow the step, the page says what it allows and offers no repeat."""
    fleet.become("lead")
    act(fleet, "dismiss", version="1", reason="risk_accepted")

    answer = act(fleet, "book", version="1", on="2031-03-06", hours="2")

    assert answer.status_code == 412
    assert "Do it all the same" not in answer.text
    assert "Allowed now: " in answer.text


def test_missing_fact_is_named_and_nothing_is_lost(fleet: Service) -> None:
    """A fact that the step lacks is named on a page that shows what was typed."""
    fleet.become("lead")

    answer = act(fleet, "book", on="2031-03-08", hours="2")

    assert answer.status_code == 422
    assert "does not work on 2031-03-08" in answer.text
    assert "2031-03-08" in answer.text.split("What you chose and typed")[1]


@pytest.mark.parametrize(
    ("event", "fields"),
    [
        ("book", {"on": "soon", "hours": "2"}),
        ("book", {"on": "2031-03-05", "hours": "two"}),
        ("book", {"on": "2031-03-05", "hours": "nan"}),
        ("book", {"on": "2031-03-05", "hours": "-1"}),
        ("pin", {"until": "2031-01-01"}),
        ("pin", {}),
        ("comment", {"note": " "}),
        ("merge", {"other": "V-0002-T9"}),
    ],
)
def test_wrong_fields(fleet: Service, event: str, fields: dict[str, str]) -> None:
    """What cannot be meant is refused with the field named, and nothing is written."""
    fleet.become("lead")

    assert act(fleet, event, **fields).status_code == 422
    assert act(fleet, event, version="-1", **fields).status_code == 422
    assert ticket_of(fleet).version == 1


def test_first_class_needs_a_second_confirmation(fleet: Service) -> None:
    """What may stall is put off by a manager only, and only when that was weighed."""
    put(fleet, consequence=1)
    facts = {"on": "2031-04-01", "reason": "next_service"}

    fleet.become("lead")
    assert act(fleet, "defer", **facts, confirmed="yes").status_code == 409
    fleet.become("manager")
    assert 'name="confirmed"' in fleet.client.get(f"/work/{TICKET}").text
    assert act(fleet, "defer", **facts).status_code == 422
    assert act(fleet, "defer", **facts, confirmed="yes").status_code == 303


def test_double_tap_moves_once(fleet: Service) -> None:
    """The same form sent again goes where the first one went, and moves nothing."""
    fleet.become("mechanic")

    first, second = act(fleet, "start", key="key-1"), act(fleet, "start", key="key-1")

    assert first.headers["location"] == second.headers["location"]
    assert ticket_of(fleet).version == 2


def test_form_without_key(fleet: Service) -> None:
    """A form that is not a page's is refused."""
    fleet.become("mechanic")

    assert fleet.post(ACT, {"event": "accept", "version": "1"}).status_code == 422


def test_accepting_takes_it_in_hand(fleet: Service) -> None:
    """A mechanic who accepts a ticket that nobody has, has it; it leads the own list."""
    fleet.become("mechanic")
    act(fleet, "accept")

    page = unescape(fleet.client.get("/work").text)

    assert ticket_of(fleet).assignee == "mechanic"
    assert "1 ticket yours" in page
    assert page.index("<h2>Mine</h2>") < page.index(f"/work/{TICKET}")


def test_comment_and_wrong_sheet(fleet: Service) -> None:
    """A comment and the note of a wrong sheet stand in the history; the status and version stay."""
    fleet.become("mechanic")

    assert act(fleet, "comment", note="belt looks worn").status_code == 303
    assert act(fleet, "sheet_wrong").status_code == 303

    page = unescape(fleet.client.get(f"/work/{TICKET}").text)
    assert "Comment: belt looks worn" in page
    assert "HARROW-24 revision 2" in page.split('id="history"')[1]
    assert ticket_of(fleet).version == 1
    with fleet.store.begin(readonly=True) as work:
        assert [one.subject for one in work.log_entries(what="sheet said to be wrong").rows] == [TICKET]


def test_assign_and_pin(fleet: Service) -> None:
    """A lead gives a ticket to a bench and keeps it in the plan until a day."""
    fleet.become("lead")

    act(fleet, "assign", assignee="bench 2")
    act(fleet, "pin", until="2031-03-10")

    page = unescape(fleet.client.get(f"/work/{TICKET}").text)
    assert "Pinned in the plan until 10 Mar 2031" in page
    assert "bench 2" in page
    act(fleet, "unpin")
    assert ticket_of(fleet).pinned_until is None


def test_finding_in_two_picks(fleet: Service) -> None:
    """Cause and save: a repair is recorded with the odometer of the newest snapshot, and awaits proof."""
    fleet.become("mechanic")

    answer = record(fleet, "unmetered_air", relearn_done="yes", labour_hours="1.5", parts="hose")

    assert answer.status_code == 303
    (kept,) = records(fleet)
    assert (kept.kind, kept.cause, kept.odometer_km) == ("repair", "unmetered_air", 48211.0)
    assert (kept.relearn_done, kept.labour_hours, kept.parts) == (True, 1.5, "hose")
    page = unescape(fleet.client.get(f"/work/{TICKET}").text)
    assert "0 of 5 readings in" in page
    assert "relearn pending" in page
    assert "Take it back" in page


def test_double_tap_records_once(fleet: Service) -> None:
    """A double tap or a retry makes one record."""
    fleet.become("mechanic")

    for _ in range(3):
        assert record(fleet, "unmetered_air", key="same").status_code == 303

    assert len(records(fleet)) == 1
    assert ticket_of(fleet).version == 2


@pytest.mark.parametrize(
    ("cause", "kind", "recorded", "status"),
    [
        ("battery_ageing", "usual", "battery_replaced", "done"),
        ("unknown", "usual", "repair", "done"),
        ("inspected_nothing", "usual", "no_fault_found", "dismissed"),
        ("reader_disagrees", "usual", "no_fault_found", "dismissed"),
        ("comes_and_goes", "note", "no_fault_found", "dismissed"),
        ("not_looked", "usual", "note", "raised"),
        ("throttle_deposits", "note", "note", "raised"),
        ("throttle_deposits", "memory_cleared", "memory_cleared", "raised"),
    ],
)
def test_what_a_finding_becomes(fleet: Service, cause: str, kind: str, recorded: str, status: str) -> None:
    """Each pair of picks becomes one record of the right kind; clearing and notes move nothing."""
    fleet.become("mechanic")

    assert record(fleet, cause, kind=kind).status_code == 303

    assert [one.kind for one in records(fleet)] == [recorded]
    assert ticket_of(fleet).status == status


@pytest.mark.parametrize(
    ("cause", "kind"), [("comes_and_goes", "repair"), ("gremlins", "usual"), ("", "usual")]
)
def test_contradicting_finding(fleet: Service, cause: str, kind: str) -> None:
    """Nothing found and yet repaired, or a cause that nobody knows, is refused and nothing is kept."""
    fleet.become("mechanic")

    assert record(fleet, cause, kind=kind).status_code == 422
    assert records(fleet) == []


@pytest.mark.parametrize("cause", ["unmetered_air", "inspected_nothing", "not_looked"])
def test_taking_back(fleet: Service, cause: str) -> None:
    """What was recorded a moment ago is taken back: the record is gone, the ticket stands as before."""
    fleet.become("mechanic")
    before = ticket_of(fleet)
    record(fleet, cause)
    fields = {"version": str(ticket_of(fleet).version), "key": "undo", "record": records(fleet)[0].number}

    later(fleet, minutes=9)
    assert fleet.post(f"{RECORD}/undo", fields).status_code == 303
    assert fleet.post(f"{RECORD}/undo", fields).status_code == 303

    after = ticket_of(fleet)
    assert records(fleet) == []
    assert replace(after, version=before.version, updated_at=before.updated_at) == before
    assert "Record taken back" in fleet.client.get(f"/work/{TICKET}").text


def test_taking_back_ends(fleet: Service) -> None:
    """After ten minutes a record stays, and the page offers nothing else."""
    fleet.become("mechanic")
    record(fleet, "unmetered_air")
    fields = {"version": "2", "key": "undo", "record": records(fleet)[0].number}

    later(fleet, minutes=11)

    assert "Take it back" not in fleet.client.get(f"/work/{TICKET}").text
    assert fleet.post(f"{RECORD}/undo", fields).status_code == 422
    assert len(records(fleet)) == 1


def test_nothing_found_is_an_answer(fleet: Service) -> None:
    """The page says what was found, in which way, and when a new ticket may come."""
    fleet.become("mechanic")
    record(fleet, "comes_and_goes")

    page = unescape(fleet.client.get(f"/work/{TICKET}").text)

    assert "nothing found. That is an answer." in page
    assert "comes and goes" in page.split('id="history"')[1]
    assert ticket_of(fleet).score_at_inspection == ticket_of(fleet).score


def test_manager_records_nothing(fleet: Service) -> None:
    """Findings are the workshop's: a manager is told what is allowed instead."""
    fleet.become("manager")

    assert fleet.client.get(RECORD).status_code == 409
    assert record(fleet, "unmetered_air").status_code == 409


def test_going_back_to_a_form_that_was_sent(fleet: Service) -> None:
    """Going back to the form of a ticket that is done, I read in words why it is not shown again."""
    fleet.become("mechanic")
    record(fleet, "unmetered_air")

    again = fleet.client.get(RECORD)

    assert again.status_code == 409
    assert "Record a repair” is not possible for a ticket that stands there" in unescape(again.text)
    assert "record_repair" not in again.text


def test_finding_page_is_light(fleet: Service) -> None:
    """The form of findings loads with a poor signal: no chart, the likeliest causes, nothing to type."""
    fleet.become("mechanic")

    answer = fleet.client.get(RECORD)

    assert len(answer.content) < 20_000
    assert "unmetered air" in answer.text
    assert "48" in answer.text
    assert "<svg" not in answer.text


def test_comeback_shows_what_was_done(fleet: Service) -> None:
    """A ticket that came back opens on what was done then and what was not."""
    fleet.become("lead")
    record(fleet, "unmetered_air", parts="hose")
    put(fleet, closed_at=NOW, closed_detail="without_proof", comeback_by="V-0001-T2")
    with fleet.store.begin() as work:
        old = work.ticket(TICKET)
        new = replace(
            old, ticket="V-0001-T2", comeback_of=TICKET, comeback_by="", status="raised", closed_at=None,
            done_at=None, done_cause="", records=(), version=1,
        )  # fmt: skip
        work.put_ticket(new, read_version=0)
        work.commit()

    page = unescape(fleet.client.get("/work/V-0001-T2").text)

    assert "Came back after" in page
    assert "unmetered air (vacuum leak), hose" in page
    assert "Not done, or not recorded: relearn;" in page
    assert page.index("Came back after") < page.index('id="why"')


def test_late_readings_before_the_repair_are_listed(fleet: Service) -> None:
    """Readings taken before the repair that came after it are told apart, and say that they prove nothing."""
    fleet.become("mechanic")
    put(fleet, status="done", done_at=NOW - timedelta(days=5), done_day=0)

    page = unescape(fleet.client.get(f"/work/{TICKET}").text)

    assert "came after the repair but were taken before it" in page
    assert "they prove nothing and reopen nothing" in page


def test_complaint(fleet: Service) -> None:
    """A complaint is recorded once, without a name, from the vehicle's page."""
    fleet.become("mechanic")
    assert 'action="/complaints"' in fleet.client.get("/vehicles/V-0002").text
    fields = {"vehicle": "V-0002", "complaint": "stalls", "key": "c-1"}

    for _ in range(2):
        assert fleet.post("/complaints", fields).headers["location"] == "/vehicles/V-0002?saved=complaint"

    with fleet.store.begin(readonly=True) as work:
        found = work.work_records(vehicle="V-0002")
    assert [(one.kind, one.notes) for one in found] == [("complaint", "stalls")]
    assert "No names" in fleet.client.get("/complaints/new").text


@pytest.mark.parametrize(
    "fields", [{"vehicle": "V-9999", "complaint": "stalls"}, {"vehicle": "V-0002", "complaint": "x"}]
)
def test_wrong_complaint(fleet: Service, fields: dict[str, str]) -> None:
    """A complaint about no vehicle, or about nothing known, is refused."""
    fleet.become("mechanic")

    assert fleet.post("/complaints", fields | {"key": "c-1"}).status_code == 422


def test_raise_by_hand(fleet: Service) -> None:
    """A ticket is raised with a pick; a second one for the same fault is added to it."""
    fleet.become("mechanic")
    fields = {"vehicle": "V-0002", "reason": "rough_idle", "key": "r-1"}

    first = fleet.post("/work/new", fields)
    again = fleet.post("/work/new", fields | {"key": "r-2"})

    assert first.headers["location"] == "/work/V-0002-T1?saved=raised"
    assert again.headers["location"] == "/work/V-0002-T1?saved=added"
    page = unescape(fleet.client.get("/work/V-0002-T1").text)
    assert "raised by hand. rough idle" in page
    assert "What did you find?" in page


def test_raise_needs_a_reason(fleet: Service) -> None:
    """Without a reason nothing is raised."""
    fleet.become("mechanic")

    assert fleet.post("/work/new", {"vehicle": "V-0002", "reason": "", "key": "r"}).status_code == 422


def test_merging_on_the_page(fleet: Service) -> None:
    """A lead merges two tickets of one vehicle; the page then leads from one to the other."""
    fleet.become("lead")
    fleet.post("/work/new", {"vehicle": "V-0001", "reason": "other", "cause": "charging_low", "key": "r"})
    assert '<option value="V-0001-T2">' in fleet.client.get(f"/work/{TICKET}").text

    assert act(fleet, "merge", other="V-0001-T2").status_code == 303

    assert ticket_of(fleet).merged_into == "V-0001-T2"
    assert "Took in" in fleet.client.get("/work/V-0001-T2").text
    assert "Merged into" in fleet.client.get(f"/work/{TICKET}").text


def test_dismissed_in_error(fleet: Service) -> None:
    """Who dismissed a ticket undoes it within a day; after that only a lead or manager reopens it."""
    fleet.become("manager")
    act(fleet, "dismiss", reason="risk_accepted")
    assert 'value="undo"' in fleet.client.get(f"/work/{TICKET}").text

    later(fleet, hours=25)

    page = fleet.client.get(f"/work/{TICKET}").text
    assert 'value="undo"' not in page
    assert 'value="reopen"' in page
    assert act(fleet, "undo").status_code == 422
    assert act(fleet, "reopen", reason="closed_in_error").status_code == 303


def test_parts_of_the_rank_add_up(fleet: Service) -> None:
    """What acting saves, less what looking for nothing costs, is the gain on the page, to the cent."""
    with fleet.store.begin() as work:
        kept = work.ticket(TICKET)
        work.put_ticket(replace(kept, version=2, gain=97.345, saved=123.456), read_version=1)
        work.commit()

    page = unescape(fleet.client.get(f"/work/{TICKET}").text)
    part = page.split("Parts of its rank")[1].split("</table>")[0]
    saved, less, gain = (Decimal(one) for one in re.findall(r'class="num">(-?\d+\.\d\d)<', part))

    assert (saved, gain) == (Decimal("123.46"), Decimal("97.34"))
    assert saved + less == gain


@pytest.mark.parametrize("role", ["mechanic", "manager"])
def test_long_list_stays_light(fleet: Service, role: str) -> None:
    """With three hundred tickets each page stays under 150,000 bytes, and all of them are reached."""
    with fleet.store.begin() as work:
        plain = work.ticket(TICKET)
        for place in range(1, 300):
            number = f"V-{place:04}-T7"
            one = replace(plain, ticket=number, vehicle=number[:6], assignee="bench 1" if place % 3 else "")
            work.put_ticket(replace(one, version=1), read_version=0)
        work.commit()
    fleet.become(role)
    found: set[str] = set()

    address = "/work"
    for _ in range(6):
        answer = fleet.client.get(address)
        assert len(answer.content) < 150_000
        found |= set(re.findall(r'class="ticket" href="/work/([^"]+)"', answer.text))
        following = re.search(r'href="(/work\?page=\d+)"', answer.text)
        if following is None:
            break
        address = following[1]

    free = 100 if role == "mechanic" else 300
    assert len(found) >= free
    if role == "mechanic":
        assert "other hands, in proof or resting" in fleet.client.get("/work").text
