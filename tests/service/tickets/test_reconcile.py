"""One physical fault gives one ticket, whatever happens around it."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from models.findings import Assessment, Finding, SeriesReading
from service.tickets.completeness import missing_parts
from service.tickets.effects import Facts
from service.tickets.lifecycle import apply
from service.tickets.reconcile import Knowledge, reconcile, stamp
from tests.service.tickets.workshop import Workshop

MakeFinding = Callable[..., Finding]
MakeReading = Callable[..., SeriesReading]


def test_a_finding_past_the_ticket_level_raises_one_complete_ticket(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """A finding past the level raises one ticket, stamped with the evaluation date, with all seven parts."""
    finding = make_finding()

    workshop.night(finding)

    ticket = workshop.only()
    assert ticket.ticket == "V-1-T1"
    assert ticket.raised_at.date() == date(2031, 3, 3)
    assert missing_parts(ticket) == ()
    assert (ticket.depot, ticket.spec_sheet, ticket.cause_1) == ("North", "HARROW-24", "unmetered_air")


@pytest.mark.parametrize("change", [{"tier": "watch"}, {"held_back": "voltage"}])
def test_a_watched_or_held_back_finding_raises_nothing(
    workshop: Workshop, make_finding: MakeFinding, change: dict[str, str]
) -> None:
    """Only evidence past the ticket level that nothing holds back becomes a ticket."""
    workshop.night(make_finding(**change))

    assert workshop.tickets == {}


def test_evidence_to_and_fro_gives_one_ticket(workshop: Workshop, make_finding: MakeFinding) -> None:
    """Evidence that crosses the threshold to and fro for 60 days: one ticket, one raised_at, never closed."""
    for step in range(60):
        findings = ([make_finding(tier="ticket")], [make_finding(tier="watch", score=9.0)], [])[step % 3]
        workshop.night(*findings)
    for step in range(12):
        workshop.night(*[make_finding()] if step in {6, 7} else [])

    ticket = workshop.only()
    assert ticket.status == "raised"
    assert ticket.raised_at == stamp(workshop.day - 72)
    assert (workshop.events.count("rest"), workshop.events.count("wake")) == (2, 1)


def test_easing_marks_and_returning_wakes(workshop: Workshop, make_finding: MakeFinding) -> None:
    """Eased evidence marks the ticket as resting; a watched finding does not wake it, a strong one does."""
    workshop.night(make_finding())
    for _ in range(3):
        workshop.night()
    assert workshop.only().resting_since is None
    workshop.night()
    assert workshop.only().resting_since == date(2031, 3, 4)

    workshop.night(make_finding(tier="watch", score=9.0))
    assert workshop.only().resting_since is not None

    workshop.night(make_finding())
    assert workshop.only().resting_since is None


@pytest.mark.parametrize(("word", "age"), [("cannot_say", 0), ("learning", 0), ("watch", 30)])
def test_silence_is_no_easing(workshop: Workshop, make_finding: MakeFinding, word: str, age: int) -> None:
    """A vehicle that is silent or relearning does not put its ticket to rest."""
    workshop.night(make_finding())
    workshop.word = word
    for _ in range(10):
        workshop.night(last_day=workshop.day - age)

    assert workshop.only().resting_since is None


def test_a_fault_that_moves_to_another_group_stays_one_ticket(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A leak first seen in the trims and later in idle airflow is one fault."""
    workshop.night(make_finding())
    idle = make_reading(series="IAC@warm_idle", parameter="IAC", direction="down", baseline=30.0, level=25.0)

    workshop.night(make_finding(group="idle", lead=idle, causes=(("throttle_deposits", 0.9),)))

    ticket = workshop.only()
    assert ticket.cause_1 == "throttle_deposits"
    assert set(ticket.series) == {"LONGFT1@warm_idle", "IAC@warm_idle"}


def test_charging_beside_mixture_is_another_fault(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A charging fault on a vehicle with a mixture ticket gets its own ticket, once."""
    volts = make_reading(series="VPWR@warm_idle", parameter="VPWR", unit="V", baseline=14.2, level=13.3)
    charging = make_finding(group="charging", lead=volts, causes=(("charging_low", 0.9),))
    for _ in range(5):
        workshop.night(make_finding(), charging)

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]
    assert workshop.tickets["V-1-T2"].group == "charging"


def test_a_by_product_ties_no_two_faults_together(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """With a charging ticket open, a mixture fault gets its ticket though the voltage still stands out."""
    trim = make_reading()
    volts = make_reading(series="VPWR@warm_idle", parameter="VPWR", unit="V", baseline=14.2, level=13.3)
    charging = {"group": "charging", "causes": (("charging_low", 0.9),)}
    workshop.night(make_finding(lead=volts, series=(volts, trim), **charging))

    workshop.night(make_finding(lead=trim, series=(trim, volts)))

    assert workshop.tickets["V-1-T1"].series == ("VPWR@warm_idle",)
    assert workshop.tickets["V-1-T2"].series == ("LONGFT1@warm_idle",)


def test_weak_evidence_of_another_group_leaves_the_ticket_alone(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A watched finding of another group neither raises a ticket nor rewrites the open one."""
    workshop.night(make_finding())
    volts = make_reading(series="VPWR@warm_idle", parameter="VPWR", unit="V")

    workshop.night(make_finding(), make_finding(group="charging", lead=volts, tier="watch", score=9.0))

    assert workshop.only().parameter == "LONGFT1"


def test_memory_cleared_moves_no_ticket(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A memory reset alone neither verifies, dismisses nor rests a ticket, and doubles none."""
    workshop.night(make_finding())
    before = workshop.only()
    workshop.record("memory_cleared")
    workshop.word = "learning"
    for _ in range(10):
        workshop.night()
    assert workshop.only() == before

    workshop.word = "watch"
    workshop.night(make_finding())

    assert workshop.only().status == "raised"


def test_a_complaint_of_another_cause_stays_apart(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A complaint whose cause bears on nothing of the ticket does not join it."""
    workshop.night(make_finding())
    workshop.record("complaint", cause="battery_ageing")

    workshop.night(make_finding())

    assert workshop.only().complaints == ()


def test_a_complaint_before_the_ticket_joins_it(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A complaint since the change began is part of the ticket that is raised later."""
    record = workshop.record("complaint")
    workshop.day += 2

    workshop.night(make_finding())

    assert workshop.only().complaints == (record.done_at,)


def test_a_complaint_joins_the_open_ticket_once(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A complaint becomes part of the open ticket's history, once, and raises no ticket of its own."""
    workshop.record("complaint")
    workshop.night()
    assert workshop.tickets == {}

    workshop.night(make_finding())
    record = workshop.record("complaint")
    for _ in range(3):
        workshop.night(make_finding())

    assert workshop.only().complaints.count(record.done_at) == 1


def test_a_complaint_reopens_a_repair(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A complaint after a repair that awaits proof says that it is not cured."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()
    workshop.record("complaint")

    workshop.night()

    assert workshop.only().status == "reopened"


def test_a_deferred_ticket_returns_on_its_day_or_early_when_worse(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A deferral ends on its date, or when the limit date moves forward."""
    workshop.night(make_finding(lead=make_reading(reaches_limit_on=workshop.day + 80)))
    facts = Facts(on=date(2031, 4, 20), reason="vehicle needed")
    later = apply(workshop.only(), "defer", role="manager", at=datetime(2031, 3, 4, tzinfo=UTC), facts=facts)
    workshop.tickets["V-1-T1"] = later
    workshop.night(make_finding(lead=make_reading(reaches_limit_on=workshop.day + 79)))
    assert workshop.only().status == "deferred"

    workshop.night(make_finding(lead=make_reading(reaches_limit_on=workshop.day + 10)))
    assert workshop.only().status == "accepted"

    workshop.tickets["V-1-T1"] = later
    workshop.day += 60
    workshop.night()
    assert workshop.only().status == "accepted"


def test_a_vehicle_out_of_service_has_its_tickets_dismissed(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """Open tickets of a sold vehicle are dismissed with the reason; history is kept."""
    workshop.night(make_finding())
    assessment = Assessment(day=workshop.day, method="a method 1")

    actions = reconcile(
        tickets=workshop.tickets.values(),
        assessment=assessment,
        knowledge=Knowledge(gone={"V-1": date(2031, 3, 4)}),
    )

    assert [(a.kind, a.ticket.reason) for a in actions] == [("vehicle_gone", "vehicle_gone")]


def test_another_fault_after_weeks_of_rest_gets_its_own_ticket(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A ticket that has rested for weeks does not swallow a later change in another series."""
    workshop.night(make_finding())
    for _ in range(5):
        workshop.night()
    workshop.day += 80
    idle = make_reading(series="IAC@warm_idle", parameter="IAC")

    workshop.night(make_finding(lead=idle, onset_day=workshop.day - 10))

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]


def test_small_changes_do_not_renew_a_ticket_every_night(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """Decimals that move leave the ticket's version alone, for a week at most."""
    workshop.night(make_finding())
    for step in range(6):
        workshop.night(make_finding(lead=make_reading(level=7.0 + 0.01 * step)))
    assert workshop.only().version == 1

    workshop.night(make_finding(lead=make_reading(level=7.07)))

    assert workshop.only().version == 2
    assert workshop.only().value == 7.07


def test_a_priority_rises_at_once_and_falls_slowly(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A probability that dances around an edge makes no priority flicker."""
    workshop.night(make_finding(probability_30d=0.45))
    words = []
    for step in range(12):
        workshop.night(make_finding(probability_30d=0.52 if step % 2 else 0.47))
        words.append(workshop.only().priority)
    assert words == ["plan_this_week", *["pull_in_now"] * 11]

    for _ in range(10):
        workshop.night(make_finding(probability_30d=0.3))

    assert workshop.only().priority == "plan_this_week"


def test_the_order_of_findings_does_not_matter(make_finding: MakeFinding) -> None:
    """The same facts in another order give the same actions."""
    others = [make_finding(vehicle=f"V-{n}") for n in range(2, 6)]
    one = reconcile(
        tickets=(),
        assessment=Assessment(day=22341, method="m", findings=tuple(others)),
        knowledge=Knowledge(),
    )
    other = reconcile(
        tickets=(),
        assessment=Assessment(day=22341, method="m", findings=tuple(reversed(others))),
        knowledge=Knowledge(),
    )

    assert one == other
    assert [action.ticket.ticket for action in one] == ["V-2-T1", "V-3-T1", "V-4-T1", "V-5-T1"]
