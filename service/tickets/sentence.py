"""The evidence sentence: what moved, from where to where, against which limits, and what stayed quiet."""

from typing import Final

from models.findings import Finding, SeriesReading
from models.panel import SheetFacts
from service.tickets.words import (
    Units,
    counted,
    day_words,
    is_difference,
    is_relative,
    listed,
    number,
    quantity,
    range_words,
    relative_change,
    short_name,
    state_words,
    unit_text,
    with_unit,
)

NO_SHEET: Final = "No spec sheet: compared with its own history and like vehicles only."
"""Said wherever a vehicle has no sheet; no limit is ever made up."""

QUIET_SHOWN: Final = 6
"""Quiet series that the sentence names; chosen by us, the rest is counted."""


def evidence(finding: Finding, *, sheet: SheetFacts | None, as_of_day: int, units: Units = "metric") -> str:
    """Write the evidence sentence of a finding.

    Parameters
    ----------
    finding : Finding
        What was found.
    sheet : SheetFacts or None
        Revision in force; None where the vehicle has none.
    as_of_day : int
        Evaluation day [days since 1970-01-01].
    units : {"metric", "us"}
        Units to write in. Verdicts are taken from the finding, which judged before any rounding.
    """
    return describe(
        finding.vehicle, finding.lead, quiet=finding.quiet, sheet=sheet, as_of_day=as_of_day, units=units
    )


def describe(
    vehicle: str,
    reading: SeriesReading,
    *,
    quiet: tuple[str, ...],
    sheet: SheetFacts | None,
    as_of_day: int,
    units: Units = "metric",
) -> str:
    """Write the evidence sentence of one series; parameters as in `evidence`."""
    parts = [
        f"{vehicle}: {_movement(reading, as_of_day, units)}",
        _limits(reading, sheet, units),
        _peers(reading, units),
        f"Quiet: {listed(tuple(short_name(name) for name in quiet), QUIET_SHOWN)}." if quiet else "",
    ]
    return " ".join(part for part in parts if part)


def limit_words(reading: SeriesReading, units: Units = "metric") -> str:
    """Write the sheet's band of a series, `15.0-28.0 %`; empty where there is none."""
    low, high, unit = reading.limit_low, reading.limit_high, reading.unit
    difference = is_difference(reading.series)
    if low is not None and high is not None:
        return _span(low, high, reading, units)
    if low is not None:
        return f"at least {with_unit(number(low, unit, units, difference=difference), unit, units)}"
    if high is not None:
        return f"at most {with_unit(number(high, unit, units, difference=difference), unit, units)}"
    return ""


def _movement(reading: SeriesReading, as_of_day: int, units: Units) -> str:
    verb = "rose" if reading.direction == "up" else "fell"
    what = f"{quantity(reading.series)} {state_words(reading.state)}"
    base = (
        f"{range_words(reading.baseline_from, reading.baseline_to)}, "
        f"{counted(reading.baseline_days, 'day')} with readings"
    )
    newest = day_words(reading.recent_to or as_of_day)
    recent = f"{counted(reading.recent_days, 'day')} with readings up to {newest}"
    if is_relative(reading.series):
        change = relative_change(reading.baseline, reading.level)
        return (
            f"{what} {verb} by {abs(change):.1f} % against its own normal (own normal, {base}) "
            f"on {recent}; {_drift(reading, units)}."
        )
    if reading.baseline_days == 0:
        return (
            f"{what} stands at {_value(reading.level, reading, units)} ({recent}); {_drift(reading, units)}."
        )
    before, after = _value(reading.baseline, reading, units), _value(reading.level, reading, units)
    if before == after:
        return f"{what} stands at {after} as it did before ({base}; {recent}); {_drift(reading, units)}."
    return (
        f"{what} {verb} from {before} (own normal, {base}) to {after} ({recent}); {_drift(reading, units)}."
    )


def _drift(reading: SeriesReading, units: Units) -> str:
    slope, low, high = (
        number(value, reading.unit, units, difference=True, signed=True)
        for value in (reading.drift_per_week, reading.drift_low, reading.drift_high)
    )
    unit = unit_text(reading.unit, units)
    return f"{slope}{f' {unit}' if unit else ''} a week (80 %: {low} to {high})"


def _limits(reading: SeriesReading, sheet: SheetFacts | None, units: Units) -> str:
    if sheet is None:
        return NO_SHEET
    name = f"Sheet {sheet.sheet} revision {sheet.revision}, {sheet.source},"
    band = limit_words(reading, units)
    if not band:
        return f"{name} names no limit for it {state_words(reading.state)}."
    return f"{name} allows {band}. {_crossing(reading)}"


def _crossing(reading: SeriesReading) -> str:
    if reading.outside:
        return "It lies outside the limits now."
    low, high = reading.limit_low, reading.limit_high
    if (low is not None and reading.level < low) or (high is not None and reading.level > high):
        return "This estimate lies beyond the limits; the readings as they came do not clearly lie there yet."
    if reading.reaches_limit_on is None:
        if reading.reaches_limit_low is None:
            return "At this rate it does not leave the limits within a year."
        return (
            "At this rate it more likely than not stays within the limits for a year "
            f"(80 %: from {day_words(reading.reaches_limit_low)})."
        )
    if reading.reaches_limit_low is None:
        return f"At this rate it leaves the limits about {day_words(reading.reaches_limit_on)}."
    if reading.reaches_limit_high is None:
        span = f"from {day_words(reading.reaches_limit_low)}, or not within a year"
    else:
        span = range_words(reading.reaches_limit_low, reading.reaches_limit_high)
    return f"At this rate it leaves the limits about {day_words(reading.reaches_limit_on)} (80 %: {span})."


def _peers(reading: SeriesReading, units: Units) -> str:
    if reading.peers_low is None or reading.peers_high is None:
        return "Too few like vehicles to compare with."
    if is_relative(reading.series):
        low = relative_change(reading.baseline, reading.peers_low)
        high = relative_change(reading.baseline, reading.peers_high)
        return f"{reading.peers} like vehicles: {low:+.1f} to {high:+.1f} % of this one's normal."
    return f"{reading.peers} like vehicles: {_span(reading.peers_low, reading.peers_high, reading, units)}."


def _value(value: float, reading: SeriesReading, units: Units) -> str:
    text = number(value, reading.unit, units, difference=is_difference(reading.series))
    return with_unit(text, reading.unit, units)


def _span(low: float, high: float, reading: SeriesReading, units: Units) -> str:
    difference = is_difference(reading.series)
    first = number(low, reading.unit, units, difference=difference)
    last = number(high, reading.unit, units, difference=difference)
    joint = " to " if first.startswith("-") or last.startswith("-") else "-"
    return with_unit(f"{first}{joint}{last}", reading.unit, units)
