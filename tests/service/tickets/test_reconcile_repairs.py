"""A repair finds its ticket, and readings prove it or bring the ticket back."""

from collections.abc import Callable
from dataclasses import replace

from models.findings import Finding, SeriesReading
from service.tickets.reconcile import stamp
from service.tickets.ticket import is_open
from tests.service.tickets.workshop import Workshop, cured_proof

MakeFinding = Callable[..., Finding]
MakeReading = Callable[..., SeriesReading]


def test_a_repair_without_number_finds_its_ticket(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A loaded repair belongs to the open ticket that its cause bears on."""
    workshop.night(make_finding())
    record = workshop.record("repair", cause="unmetered_air")

    workshop.night(make_finding())

    ticket = workshop.only()
    assert (ticket.status, ticket.done_at, ticket.done_cause) == ("done", record.done_at, "unmetered_air")
    assert is_open(ticket)


def test_a_repair_of_something_else_leaves_the_ticket_open(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """A repair whose cause bears on none of the ticket's series does not close it."""
    workshop.night(make_finding())
    workshop.record("repair", cause="thermostat_open")

    workshop.night(make_finding())

    assert workshop.only().status == "raised"


def test_a_battery_replaced_bears_on_charging_only(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """A new battery finishes the charging ticket and leaves the mixture ticket alone."""
    volts = make_reading(series="VPWR@koeo_soak", parameter="VPWR", unit="V", state="koeo_soak")
    charging = make_finding(group="charging", lead=volts, causes=(("battery_ageing", 0.9),))
    workshop.night(make_finding(), charging)
    workshop.record("battery_replaced")

    workshop.night(make_finding())

    assert workshop.tickets["V-1-T1"].status == "raised"
    assert workshop.tickets["V-1-T2"].status == "done"


def test_a_repair_older_than_the_change_is_history(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A repair done before the change began, loaded late, leaves the ticket open."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air", day=workshop.day - 60)

    workshop.night(make_finding())

    assert workshop.only().status == "raised"


def test_no_second_ticket_while_a_repair_awaits_proof(workshop: Workshop, make_finding: MakeFinding) -> None:
    """The old evidence lingers after a repair: no second ticket."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    for _ in range(15):
        workshop.night(make_finding())

    assert workshop.only().status == "done"


def test_good_readings_verify_a_repair(workshop: Workshop, make_finding: MakeFinding) -> None:
    """Readings enough, inside the limits with the shift undone, verify the repair and close the ticket."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()

    workshop.night(proofs=[cured_proof(workshop.only())])

    ticket = workshop.only()
    assert (ticket.status, ticket.closed_detail) == ("verified", "by_data")
    assert ticket.closed_at == stamp(workshop.day - 1)


def test_bad_readings_reopen_a_repair(workshop: Workshop, make_finding: MakeFinding) -> None:
    """Readings enough that show the shift still there reopen the ticket; it is not a second one."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()

    workshop.night(proofs=[cured_proof(workshop.only(), median=6.8, shift_undone=0.03)])
    workshop.night(make_finding())

    assert workshop.only().status == "reopened"


def test_after_a_failed_repair_only_good_readings_put_to_rest(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """The baseline after a failed repair holds the fault: no finding is no easing, cured readings are."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()
    failed = cured_proof(workshop.only(), median=6.8, shift_undone=0.03)
    for _ in range(20):
        workshop.night(proofs=[failed])
    assert (workshop.only().status, workshop.only().resting_since) == ("reopened", None)

    for _ in range(5):
        workshop.night(proofs=[cured_proof(workshop.only())])

    assert workshop.only().resting_since is not None


def test_the_repair_that_failed_is_not_applied_again(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A reopened ticket waits for a new repair; the old record does not finish it again."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air", ticket="V-1-T1")
    workshop.night()
    workshop.night(proofs=[cured_proof(workshop.only(), median=6.8, shift_undone=0.03)])
    workshop.night(make_finding())
    assert workshop.only().status == "reopened"

    workshop.record("repair", cause="fuel_delivery_low")
    workshop.night(make_finding())

    assert (workshop.only().status, workshop.only().done_cause) == ("done", "fuel_delivery_low")


def test_the_proof_of_an_earlier_repair_proves_nothing(workshop: Workshop, make_finding: MakeFinding) -> None:
    """A second repair needs readings of its own, whatever those after the first one said."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()
    first = cured_proof(workshop.only())
    workshop.night(proofs=[replace(first, shift_undone=0.0, median=7.0)])
    workshop.record("repair", cause="fuel_delivery_low")

    workshop.night(proofs=[first])

    assert workshop.only().status == "done"


def test_fresh_evidence_after_a_repair_reopens_instead_of_doubling(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """Evidence past the ticket level after the repair reopens the ticket, even as time runs out."""
    workshop.night(make_finding())
    record = workshop.record("repair", cause="unmetered_air")
    for _ in range(22):
        workshop.night()
    lead = make_reading(segment_from=record.day)

    workshop.night(make_finding(lead=lead, onset_day=record.day + 10))

    assert workshop.only().status == "reopened"


def test_without_readings_proof_times_out(workshop: Workshop, make_finding: MakeFinding) -> None:
    """After 21 days without proof the ticket stays done and is closed, apart from verified ones."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    for _ in range(25):
        workshop.night()

    ticket = workshop.only()
    assert (ticket.status, ticket.closed_detail, is_open(ticket)) == ("done", "without_proof", False)
    assert workshop.events.count("time_out") == 1


def test_old_evidence_after_verification_brings_nothing_back(
    workshop: Workshop, make_finding: MakeFinding
) -> None:
    """Late readings from before the repair raise no comeback."""
    workshop.night(make_finding())
    workshop.record("repair", cause="unmetered_air")
    workshop.night()
    workshop.night(proofs=[cured_proof(workshop.only())])
    for _ in range(20):
        workshop.night(make_finding())

    assert workshop.only().status == "verified"


def test_new_evidence_after_verification_is_a_linked_comeback(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """The same trouble in data taken after the repair opens a new ticket, linked both ways."""
    workshop.night(make_finding())
    record = workshop.record("repair", cause="unmetered_air")
    workshop.night()
    workshop.night(proofs=[cured_proof(workshop.only())])
    workshop.day += 20
    lead = make_reading(segment_from=record.day, segment_reason="repair")

    for _ in range(3):
        workshop.night(make_finding(lead=lead, onset_day=workshop.day - 10))

    assert sorted(workshop.tickets) == ["V-1-T1", "V-1-T2"]
    assert workshop.tickets["V-1-T1"].comeback_by == "V-1-T2"
    assert workshop.tickets["V-1-T2"].comeback_of == "V-1-T1"
    assert workshop.tickets["V-1-T1"].status == "verified"


def test_long_after_closing_a_new_ticket_is_no_comeback(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """After 60 days the same trouble is a new ticket without link."""
    workshop.night(make_finding())
    record = workshop.record("repair", cause="unmetered_air")
    workshop.night()
    workshop.night(proofs=[cured_proof(workshop.only())])
    workshop.day += 90
    lead = make_reading(segment_from=record.day)

    workshop.night(make_finding(lead=lead, onset_day=workshop.day - 10))

    assert workshop.tickets["V-1-T2"].comeback_of == ""
    assert workshop.tickets["V-1-T1"].comeback_by == ""


def test_a_repair_without_cause_needs_the_only_open_ticket(
    workshop: Workshop, make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """With two tickets open nobody can say which one a repair without cause or number belongs to."""
    volts = make_reading(series="VPWR@warm_idle", parameter="VPWR", unit="V")
    charging = make_finding(group="charging", lead=volts, causes=(("charging_low", 0.9),))
    workshop.night(make_finding(), charging)
    workshop.record("repair")
    workshop.night(make_finding(), charging)
    assert [ticket.status for ticket in workshop.tickets.values()] == ["raised", "raised"]

    workshop.record("repair", ticket="V-1-T2")
    workshop.night(make_finding(), charging)

    assert [ticket.status for ticket in workshop.tickets.values()] == ["raised", "done"]
