"""What tickets say: in words, in units, and only what is known."""

from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from models.findings import Finding, SeriesReading
from models.panel import SheetFacts
from models.series import NAMES
from service.tickets.completeness import missing_parts
from service.tickets.compose import Setting, VehicleFacts, filled
from service.tickets.plain import event_from_plain, ticket_from_plain, to_plain
from service.tickets.proof import Proof, is_cured, is_enough, is_not_cured, progress_of, weigh
from service.tickets.rules import Rules
from service.tickets.sentence import NO_SHEET, evidence
from service.tickets.ticket import EXPORT_COLUMNS, Ticket, TicketEvent
from service.tickets.track import TrackCounts, count_tracks, track_record, wilson
from service.tickets.words import quantity, short_name, to_day

DAY = to_day(date(2031, 9, 6))
AT = datetime(2031, 9, 6, 23, 59, tzinfo=UTC)
MakeFinding = Callable[..., Finding]
MakeReading = Callable[..., SeriesReading]


def _idle(make_reading: MakeReading, **changes: object) -> SeriesReading:
    plain = make_reading(
        series="IAC@warm_idle",
        parameter="IAC",
        baseline=19.0,
        level=26.0,
        baseline_from=to_day(date(2031, 6, 9)),
        baseline_to=to_day(date(2031, 6, 22)),
        baseline_days=12,
        recent_days=9,
        limit_low=15.0,
        limit_high=28.0,
        reaches_limit_on=to_day(date(2031, 9, 21)),
        reaches_limit_low=to_day(date(2031, 9, 14)),
        reaches_limit_high=to_day(date(2031, 10, 3)),
        peers_low=17.0,
        peers_high=22.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_the_sentence_says_what_moved_where_and_against_what(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """Vehicle, parameter, state, from and to, dates, counts, limits with source, date with range, peers."""
    finding = make_finding(lead=_idle(make_reading), quiet=("LONGFT1@warm_idle", "VPWR@warm_idle"))

    text = evidence(finding, sheet=sheet, as_of_day=DAY)

    assert text == (
        "V-1: idle air control, share of the bypass valve's opening (IAC) at warm idle rose from 19.0 % "
        "(own normal, 9-22 Jun 2031, 12 days with readings) to 26.0 % (9 days with readings up to "
        "6 Sep 2031); +0.8 % a week (80 %: +0.5 to +1.1). Sheet HARROW-24 revision 2, "
        "shop manual p. 6-12, allows "
        "15.0-28.0 %. At this rate it leaves the limits about 21 Sep 2031 (80 %: 14 Sep-3 Oct 2031). "
        "11 like vehicles: 17.0-22.0 %. Quiet: LONGFT1 at warm idle, VPWR at warm idle."
    )


def test_without_a_sheet_no_limit_is_named(make_finding: MakeFinding, make_reading: MakeReading) -> None:
    """No sheet: the sentence says so and says nothing about limits."""
    lead = _idle(make_reading, limit_low=None, limit_high=None)

    text = evidence(make_finding(lead=lead), sheet=None, as_of_day=DAY)

    assert NO_SHEET in text
    assert "allows" not in text
    assert "leaves the limits" not in text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outside": True}, "It lies outside the limits now."),
        ({"level": 29.0}, "This estimate lies beyond the limits; the readings as they came do not clearly"),
        (
            {"reaches_limit_on": None, "reaches_limit_low": None, "reaches_limit_high": None},
            "does not leave the limits within a year",
        ),
        ({"reaches_limit_high": None}, "(80 %: from 14 Sep 2031, or not within a year)"),
        ({"reaches_limit_on": None, "reaches_limit_high": None}, "more likely than not stays within"),
        ({"limit_high": None}, "allows at least 15.0 %"),
        ({"limit_low": None}, "allows at most 28.0 %"),
        ({"limit_low": None, "limit_high": None}, "names no limit for it at warm idle"),
        ({"peers_low": None, "peers_high": None}, "Too few like vehicles"),
        ({"level": 19.04}, "stands at 19.0 % as it did before"),
        ({"baseline_days": 0}, "at warm idle stands at 26.0 % (9 days with readings"),
        ({"direction": "down", "level": 12.0}, "fell from 19.0 %"),
    ],
)
def test_the_sentence_fits_the_case(
    make_finding: MakeFinding,
    make_reading: MakeReading,
    sheet: SheetFacts,
    change: dict[str, object],
    words: str,
) -> None:
    """Each case of limits, dates and peers has its own words."""
    text = evidence(make_finding(lead=_idle(make_reading, **change)), sheet=sheet, as_of_day=DAY)

    assert words in text


def test_a_temperature_gap_is_a_difference_in_both_units(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """A gap of 15 degrees Celsius is 27 degrees Fahrenheit; a temperature of 90 is 194."""
    gap = make_reading(
        series="ECT-IAT@koeo_soak", parameter="ECT", state="koeo_soak", unit="degC", baseline=1.0, level=15.0
    )
    plain = make_reading(
        series="ECT@cruise", parameter="ECT", state="cruise", unit="degC", baseline=90.0, level=80.0
    )

    of_gap = evidence(make_finding(lead=gap), sheet=sheet, as_of_day=DAY, units="us")
    of_level = evidence(make_finding(lead=plain), sheet=sheet, as_of_day=DAY, units="us")

    assert "from 1.8 °F" in of_gap
    assert "to 27.0 °F" in of_gap
    assert "from 194.0 °F" in of_level
    assert "+1.4 °F a week" in of_level


def test_the_verdict_is_taken_before_rounding(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """28.04 shown as 28.0 is outside a limit of 28 when the finding says so, in any unit."""
    lead = _idle(make_reading, level=28.04, outside=True)

    text = evidence(make_finding(lead=lead), sheet=sheet, as_of_day=DAY)

    assert "to 28.0 %" in text
    assert "outside the limits now" in text


def test_a_relative_series_is_told_as_a_change(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """A series held as a logarithm is told as per cent of its own normal."""
    lead = make_reading(
        series="ln MAF@cruise", parameter="MAF", state="cruise", direction="down", baseline=0.0, level=-10.0
    )

    text = evidence(make_finding(lead=lead), sheet=sheet, as_of_day=DAY)

    assert "mass air flow (MAF) at cruise fell by 9.5 % against its own normal" in text


def test_every_followed_series_has_words() -> None:
    """Each series the models follow has a name in words and a short name."""
    for name in NAMES:
        assert quantity(name)
        assert "@" not in short_name(name)


def _filled(make_finding: MakeFinding, sheet: SheetFacts | None, **changes: object) -> Ticket:
    empty = Ticket(ticket="V-1-T1", vehicle="V-1", raised_at=AT, updated_at=AT)
    setting = Setting(
        as_of_day=DAY,
        at=AT,
        method="a method 1",
        rules=Rules(),
        vehicles={"V-1": VehicleFacts(depot="North", spec_sheet="HARROW-24", sheet=sheet)},
    )
    return filled(empty, make_finding(**changes), (), setting)


@pytest.mark.parametrize("with_sheet", [True, False])
def test_a_ticket_has_all_seven_parts(make_finding: MakeFinding, sheet: SheetFacts, with_sheet: bool) -> None:
    """Sentence, numbers, checks, cautions, also looked at, what would change it, record, versions."""
    ticket = _filled(make_finding, sheet if with_sheet else None)

    assert missing_parts(ticket) == ()


@pytest.mark.parametrize(
    ("part", "empty"),
    [
        ("checks", ()),
        ("cautions", ()),
        ("also_looked_at", ()),
        ("would_change", ()),
        ("readings", ()),
        ("sentence", ""),
    ],
)
def test_a_missing_part_is_named(
    make_finding: MakeFinding, sheet: SheetFacts, part: str, empty: object
) -> None:
    """The machine's check names the part that lacks."""
    ticket = _filled(make_finding, sheet)
    assert ticket.detail is not None

    lacking = replace(ticket, detail=replace(ticket.detail, **{part: empty}))  # type: ignore[arg-type]

    assert part in missing_parts(lacking)


def test_the_first_fields_are_the_exported_columns() -> None:
    """A ticket's fields begin with the columns of the export, in order."""
    names = tuple(field.name for field in fields(Ticket))

    assert names[: len(EXPORT_COLUMNS)] == EXPORT_COLUMNS


def test_a_ticket_survives_the_way_to_json_and_back(make_finding: MakeFinding, sheet: SheetFacts) -> None:
    """Plain values give the same ticket and event back."""
    ticket = _filled(make_finding, sheet)
    event = TicketEvent(
        ticket="V-1-T1",
        version=1,
        at=AT,
        event="raise",
        role="system",
        by="system",
        status_before="",
        status_after="raised",
        facts={"score": 1.5, "series": "x", "count": 3, "flag": True, "none": None},
    )

    assert ticket_from_plain(to_plain(ticket)) == ticket
    assert event_from_plain(to_plain(event)) == event


def test_banks_and_steady_voltage_are_told(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """What was ruled out stands on the ticket: voltage, temperatures, the other bank."""
    one = make_reading()
    other = make_reading(series="LONGFT2@warm_idle", parameter="LONGFT2")
    both = _filled(make_finding, sheet, lead=one, series=(one, other))
    single = _filled(make_finding, sheet, lead=one, quiet=("LONGFT2@warm_idle",))

    assert both.detail is not None
    assert single.detail is not None
    assert "Both banks moved (warm idle)." in both.detail.also_looked_at
    assert "Supply voltage is steady." in both.detail.also_looked_at
    assert "Coolant and intake air agree after a soak." in both.detail.also_looked_at
    assert "Only one bank moved (warm idle)." in single.detail.also_looked_at


def test_track_record_with_its_range() -> None:
    """31 of 40 is 62-88 % by Wilson's interval; few are too few to say, none says so."""
    assert "31 of 40 (62-88 %)" in track_record("unmetered_air", TrackCounts(found=31, inspected=40)).text
    assert "too few to say" in track_record("unmetered_air", TrackCounts(found=3, inspected=4)).text
    assert "none inspected yet" in track_record("unmetered_air", TrackCounts()).text
    low, high = wilson(0, 10)
    assert low == 0.0
    assert high == pytest.approx(0.2775, abs=1e-4)


def test_no_label_is_no_negative() -> None:
    """Repairs count as found, empty inspections as not; other dismissals and open tickets count neither."""
    base = Ticket(ticket="a", vehicle="V-1", raised_at=AT, updated_at=AT, cause_1="unmetered_air")
    tickets = [
        replace(base, status="done", done_at=AT),
        replace(base, status="dismissed", reason="no_fault_found"),
        replace(base, status="dismissed", reason="sheet_wrong"),
        base,
    ]

    assert count_tracks(tickets) == {"unmetered_air": TrackCounts(found=1, inspected=2)}


def _weigh(ticket: Ticket, values: list[float], **changes: object) -> Proof:
    days = np.arange(DAY, DAY + len(values), dtype=np.int32)
    given: dict[str, object] = {
        "days": days,
        "values": np.array(values),
        "readings": np.full(len(values), 2, np.int32),
        "relearned_from": DAY,
        "as_of_day": DAY + 60,
    }
    return weigh(ticket, **(given | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("values", "enough", "cured", "failed"),
    [
        ([], False, False, False),
        ([1.0, 1.0], False, False, False),
        ([1.2, 0.5, 1.8], True, True, False),
        ([6.5, 7.0, 7.5], True, False, True),
        ([3.2, 3.2, 3.2], True, False, False),
        ([5.0, 5.0, 5.0], True, False, True),
        ([9.0, 9.0, 9.0], True, False, True),
        ([float("nan"), 1.0, 1.0, 1.0], True, True, False),
    ],
)
def test_proof_needs_readings_inside_limits_and_the_shift_undone(
    make_finding: MakeFinding,
    sheet: SheetFacts,
    values: list[float],
    enough: bool,
    cured: bool,
    failed: bool,
) -> None:
    """From 1 to 7 %, limits -8 to 8: five readings on three days, median inside, 70 % undone."""
    proof = _weigh(_filled(make_finding, sheet), values)

    assert (is_enough(proof, Rules()), is_cured(proof, Rules()), is_not_cured(proof, Rules())) == (
        enough,
        cured,
        failed,
    )


def test_a_shortfall_that_noise_explains_waits_for_more_days(
    make_finding: MakeFinding, make_reading: MakeReading, sheet: SheetFacts
) -> None:
    """A small shift that is nearly undone within the noise is not called uncured at once."""
    ticket = _filled(make_finding, sheet, lead=make_reading(level=3.0, noise=1.5))

    early, late = _weigh(ticket, [2.3, 2.3, 2.3]), _weigh(ticket, [2.3] * 6)

    assert not is_not_cured(early, Rules())
    assert is_not_cured(late, Rules())


def test_readings_before_the_relearn_ended_prove_nothing(
    make_finding: MakeFinding, sheet: SheetFacts
) -> None:
    """Readings during the relearn days do not count, and the progress says what is needed."""
    ticket = _filled(make_finding, sheet)

    proof = _weigh(ticket, [1.0] * 5, relearned_from=DAY + 10, as_of_day=DAY + 5)
    progress = progress_of(ticket, proof, Rules())

    assert (proof.readings, proof.relearn_pending) == (0, True)
    assert progress.text == (
        "0 of 5 readings in; needs LONGFT1 at warm idle on 3 more days; relearn pending; "
        "drive so that the vehicle reports at warm idle."
    )


def test_without_limits_like_vehicles_say_what_is_normal(
    make_finding: MakeFinding, make_reading: MakeReading
) -> None:
    """No sheet: the proof is held against like vehicles' range, widened to the vehicle's own normal."""
    lead = make_reading(limit_low=None, limit_high=None, peers_low=-2.0, peers_high=3.0)
    ticket = _filled(make_finding, None, lead=lead)

    assert _weigh(ticket, [1.0, 1.0, 1.0]).inside_limits is True
    assert _weigh(ticket, [6.5, 6.5, 6.5]).inside_limits is False


def test_plain_values_are_held_against_those_before_the_repair(
    make_finding: MakeFinding, sheet: SheetFacts
) -> None:
    """A season that lifts all plain readings by 3 hides no cure: 10 before the repair, 4 after it."""
    proof = _weigh(_filled(make_finding, sheet), [4.0, 4.0, 4.0], before=10.0)

    assert proof.shift_undone == pytest.approx(1.0)


def test_a_fast_drift_hides_no_cure(make_finding: MakeFinding, sheet: SheetFacts) -> None:
    """Where values before the repair lag behind, those of the baseline's days show that all is as it was."""
    proof = _weigh(_filled(make_finding, sheet), [1.5, 1.5, 1.5], before=3.0, normal=1.5)

    assert proof.shift_undone == pytest.approx(1.0)
