"""What was inspected and found sound keeps quiet until there is a reason."""

from collections.abc import Callable
from datetime import UTC, datetime

from models.findings import Finding, SeriesReading
from service.tickets.effects import Facts
from service.tickets.lifecycle import apply
from tests.service.tickets.workshop import Workshop

MakeFinding = Callable[..., Finding]
MakeReading = Callable[..., SeriesReading]


def test_nothing_found_keeps_quiet_until_the_evidence_grows(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """After an inspection that found nothing the same evidence raises nothing; clearly more does."""
    workshop.night(make_finding(score=15.0))
    workshop.record("no_fault_found", ticket="V-1-T1")
    for _ in range(30):
        workshop.night(make_finding(score=17.0))
    assert (workshop.only().status, workshop.only().reason) == ("dismissed", "no_fault_found")

    workshop.night(make_finding(score=19.5))

    assert workshop.tickets["V-1-T2"].comeback_of == "V-1-T1"


def test_a_complaint_ends_the_quiet(workshop: Workshop, make_finding: MakeFinding) -> None:
    """After an inspection that found nothing a complaint lets the same evidence raise a ticket."""
    workshop.night(make_finding())
    workshop.record("no_fault_found", ticket="V-1-T1")
    workshop.night(make_finding())
    workshop.day += 5
    workshop.record("complaint")

    workshop.night(make_finding())

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]


def test_nothing_found_without_a_number_dismisses_nothing(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """A loaded inspection must name the ticket."""
    workshop.night(make_finding())
    workshop.record("no_fault_found")

    workshop.night(make_finding())

    assert workshop.only().status == "raised"


def test_a_repair_after_an_empty_inspection_ends_the_quiet(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """Evidence on a baseline that a later repair began is new evidence."""
    workshop.night(make_finding(score=15.0))
    workshop.record("no_fault_found", ticket="V-1-T1")
    workshop.night()
    record = workshop.record("repair", cause="fuel_delivery_low")
    workshop.day += 20
    lead = make_reading(segment_from=record.day)

    workshop.night(make_finding(score=13.0, lead=lead, onset_day=record.day + 8))

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]


def test_quiet_silences_only_what_was_inspected(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A later change in other series was not part of the inspection and raises its ticket."""
    workshop.night(make_finding(score=40.0))
    workshop.record("no_fault_found", ticket="V-1-T1")
    workshop.night()
    workshop.day += 30
    other = make_reading(series="O2S11@warm_idle", parameter="O2S11", unit="V")

    workshop.night(make_finding(score=13.0, lead=other, onset_day=workshop.day - 10))

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]


def test_a_repair_once_passed_over_is_not_asked_again(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A repair that did not bear on the ticket does not finish it later, when its causes have changed."""
    workshop.night(make_finding())
    workshop.record("repair", cause="thermostat_open")
    workshop.night(make_finding())

    workshop.night(make_finding(causes=(("thermostat_open", 0.6), ("unmetered_air", 0.4))))

    assert workshop.only().status == "raised"
    assert workshop.only().cause_1 == "thermostat_open"


def test_fixed_elsewhere_waits_for_fresh_data(workshop: Workshop, make_finding: MakeFinding) -> None:
    """Dismissed as fixed elsewhere: old evidence raises nothing, evidence that began since does."""
    workshop.night(make_finding())
    at = datetime(2031, 3, 4, 12, tzinfo=UTC)
    facts = Facts(reason="fixed_elsewhere")
    workshop.tickets["V-1-T1"] = apply(workshop.only(), "dismiss", role="lead", at=at, by="lead", facts=facts)
    for _ in range(10):
        workshop.night(make_finding())
    assert workshop.only().status == "dismissed"

    workshop.day += 10
    workshop.night(make_finding(onset_day=workshop.day - 8))

    assert workshop.tickets["V-1-T2"].comeback_of == "V-1-T1"
