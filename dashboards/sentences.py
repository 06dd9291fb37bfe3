"""Sentences made from numbers: what a page says before it shows anything."""

from dataclasses import dataclass

from dashboards import formats
from dashboards.chart import Chart
from dashboards.frame import Units
from dashboards.rows import Counts, Learning
from dashboards.series import change, kind_of, series_name, split
from dashboards.words import SENTENCES, STATES, say
from models.findings import SeriesReading


def week_sentence(
    counts: Counts, needed: float | None, available: float | None, past_due: int, *, whole: bool = True
) -> str:
    """Sum up the week: how many must come in, whether the hours suffice, who cannot be judged.

    Parameters
    ----------
    counts : Counts
        How the vehicles in service divide.
    needed, available : float or None
        Hours needed and hours the workshop has [h].
    past_due : int
        Tickets past due.
    whole : bool
        Whether all of the fleet is meant; the workshop's hours are not one depot's.

    Examples
    --------
    >>> counts = Counts(in_service=412, pull_in_now=4, plan_this_week=5, watch=31, steady=349, cannot_say=23)
    >>> for part in week_sentence(counts, 14.5, 20, 6).split("; "):
    ...     print(part)
    9 vehicles should come in this week (14.5 h of your 20.0 h)
    31 to watch
    6 tickets past due
    23 of 412 in service cannot be judged.
    """
    if not counts.in_service:
        return "No vehicle is in service yet."
    coming = counts.pull_in_now + counts.plan_this_week
    if counts.cannot_say == counts.in_service:
        start = "Whether a vehicle needs pulling in cannot be said"
    elif not coming:
        start = "No vehicle needs pulling in"
    else:
        start = (
            f"{formats.count(coming, 'vehicle')} should come in this week{_hours(needed, available, whole)}"
        )
    judged = counts.in_service - counts.cannot_say
    late = f"{formats.count(past_due, 'ticket')} past due" if past_due else "nothing past due"
    seen = (
        f"{counts.cannot_say} of {counts.in_service} in service cannot be judged"
        if counts.cannot_say
        else f"all {judged} in service judged"
    )
    if not coming and counts.cannot_say:
        seen = f"{judged} of {counts.in_service} judged"
    return f"{start}; {counts.watch} to watch; {late}; {seen}."


def plan_sentence(hours: float | None, usable: float, used: float, visits: int, left: int) -> str:
    """Sum up a plan: how many visits fit, in how many hours, and how many are left out.

    Parameters
    ----------
    hours : float or None
        Hours that the workshop has [h]; None when nobody has said.
    usable, used : float
        Hours less the reserve, and hours of the visits in the plan [h].
    visits, left : int
        Visits in the plan, and left out.

    Examples
    --------
    >>> plan_sentence(20.0, 17.0, 14.5, 9, 2)
    '9 visits fit: 14.5 h of the 17.0 h that can be planned (20.0 h less the reserve). 2 are left out.'
    >>> plan_sentence(20.0, 17.0, 0.0, 0, 0)
    'No vehicle asks for the workshop: there is nothing to plan.'
    """
    if not visits and not left:
        return SENTENCES["no_visits"]
    if not hours:
        return SENTENCES["no_hours"]
    fits = "fits" if visits == 1 else "fit"
    text = (
        f"{formats.count(visits, 'visit')} {fits}: {formats.hours(used)} of the {formats.hours(usable)}"
        f" that can be planned ({formats.hours(hours)} less the reserve)."
    )
    return text + (f" {left} {'is' if left == 1 else 'are'} left out." if left else " None is left out.")


def _hours(needed: float | None, available: float | None, whole: bool) -> str:
    if needed is None:
        return ""
    if not whole:
        return f" ({formats.hours(needed)})"
    if available is None:
        return f" ({formats.hours(needed)}; workshop hours not given)"
    over = needed - available
    short = f", {formats.hours(over)} too few" if over > 0.05 else ""
    return f" ({formats.hours(needed)} of your {formats.hours(available)}{short})"


def learning_sentence(learning: Learning) -> str:
    """Say how far a baseline has come.

    Examples
    --------
    >>> learning_sentence(Learning(series="IAC@warm_idle", have=3, need=20))
    'Learning: 3 of 20 readings of IAC (warm idle)'
    >>> learning_sentence(Learning(series="@warm_idle", have=3, need=20))
    'Learning: 3 of 20 days with readings at warm idle'
    """
    if learning.series.startswith("@"):
        state = say(STATES, learning.series[1:])
        return f"Learning: {learning.have} of {learning.need} days with readings at {state}"
    formula, state = split(learning.series)
    return f"Learning: {learning.have} of {learning.need} readings of {formula} ({say(STATES, state)})"


def limits_text(chart: Chart, units: Units = "metric") -> str:
    """Name the sheet's limits with sheet, revision and source, or say that there are none."""
    if not chart.sheet:
        return SENTENCES["no_sheet"]
    if chart.limit_low is None and chart.limit_high is None:
        return SENTENCES["no_limit"]
    low, high = (_side(value, chart, units) for value in (chart.limit_low, chart.limit_high))
    unit = formats.shown_unit(chart.unit, units)
    if low and high:
        band = f"{low} to {high} {unit}"
    else:
        band = f"at least {low} {unit}" if low else f"at most {high} {unit}"
    return f"Sheet {chart.sheet} revision {chart.revision} ({chart.source}) allows {band}."


def _side(value: float | None, chart: Chart, units: Units) -> str:
    return "" if value is None else formats.number(value, chart.unit, units, chart.kind)


def _is_beyond(chart: Chart) -> bool:
    """Tell whether the level lies beyond a limit that the readings themselves may not have left."""
    if chart.level is None:
        return False
    low, high = chart.limit_low, chart.limit_high
    return (low is not None and chart.level < low) or (high is not None and chart.level > high)


def chart_sentence(chart: Chart, units: Units = "metric") -> str:
    """Say in one paragraph what the picture of a series shows."""
    name = f"{chart.vehicle}: {series_name(chart.series)}"
    counted = sum(1 for point in chart.points if not point.excluded)
    if not chart.points:
        return f"{name}: {SENTENCES['no_readings']}"
    parts = [f"{name}, {formats.count(counted, 'reading')}{_span(chart)}."]
    if chart.need and chart.have < chart.need:
        parts.append(f"Learning: {chart.have} of {chart.need} readings.")
    if chart.baseline is not None and chart.level is not None:
        own = formats.quantity(chart.baseline, chart.unit, units, chart.kind)
        now = formats.quantity(chart.level, chart.unit, units, chart.kind)
        parts.append(f"Own baseline {own}, now {now}{_slope(chart, units)}.")
    parts.append(limits_text(chart, units))
    limited = bool(chart.sheet) and (chart.limit_low is not None or chart.limit_high is not None)
    if limited and chart.outside:
        parts.append("It is outside these limits now.")
    elif limited and _is_beyond(chart):
        parts.append("This level lies beyond them; the readings as they came do not clearly lie there yet.")
    elif limited and chart.reaches_limit_on:
        parts.append(
            f"At this rate it leaves them about {formats.day(chart.reaches_limit_on)}{_range(chart)}."
        )
    parts.append(_peers(chart, units))
    left_out = len(chart.points) - counted
    if left_out:
        parts.append(f"{formats.count(left_out, 'reading')} shown hollow and not counted.")
    return " ".join(parts)


def chart_brief(chart: Chart, units: Units = "metric") -> str:
    """Say in few words where a series stands, for a small picture whose title holds the whole."""
    if not chart.points:
        return SENTENCES["no_readings"]
    if chart.need and chart.have < chart.need:
        return f"Learning: {chart.have} of {chart.need} readings."
    parts = []
    if chart.baseline is not None and chart.level is not None:
        own = formats.quantity(chart.baseline, chart.unit, units, chart.kind)
        now = formats.quantity(chart.level, chart.unit, units, chart.kind)
        parts.append(f"Own baseline {own}, now {now}{_slope(chart, units)}.")
    if chart.outside:
        parts.append("Outside the sheet's limits.")
    elif chart.sheet and _is_beyond(chart):
        parts.append("Beyond the sheet's limits, not clearly yet.")
    elif chart.sheet and chart.reaches_limit_on:
        parts.append(f"Leaves the sheet's limits about {formats.day(chart.reaches_limit_on)}{_range(chart)}.")
    elif chart.sheet and chart.limit_low is None and chart.limit_high is None:
        parts.append("No limit on the sheet.")
    return " ".join(parts)


def _span(chart: Chart) -> str:
    first, last = chart.points[0].at, chart.points[-1].at
    return f" from {formats.day(first)} to {formats.day(last)}"


def _slope(chart: Chart, units: Units) -> str:
    if chart.drift_per_week is None:
        return ""
    return f" ({formats.difference(chart.drift_per_week, chart.unit, units)} a week)"


def _range(chart: Chart) -> str:
    if chart.reaches_limit_low is None:
        return ""
    late = formats.day(chart.reaches_limit_high) if chart.reaches_limit_high else "not within a year"
    return f" (80 %: {formats.day(chart.reaches_limit_low)} to {late})"


def _peers(chart: Chart, units: Units) -> str:
    if chart.peers_low is None or chart.peers_high is None:
        return SENTENCES["few_peers"]
    low = formats.number(chart.peers_low, chart.unit, units, chart.kind)
    high = formats.quantity(chart.peers_high, chart.unit, units, chart.kind)
    return f"{chart.peers} like vehicles: {low} to {high} (middle 80 %)."


@dataclass(frozen=True, slots=True, kw_only=True)
class NumbersRow:
    """One series' numbers in words, rounded as the evidence sentence rounds them."""

    name: str
    baseline: str
    level: str
    drift: str
    limits: str
    peers: str


def numbers_row(reading: SeriesReading, units: Units = "metric") -> NumbersRow:
    """Put the numbers of a series into the cells of a table.

    Parameters
    ----------
    reading : SeriesReading
        As the models gave it; verdicts are theirs, from before any rounding.
    units : {"metric", "us"}
        Units shown.
    """
    kind, unit = kind_of(reading.series), reading.unit

    def shown(value: float) -> float:
        return change(value, reading.baseline) if kind == "change" else value

    def span(low: float | None, high: float | None, none: str) -> str:
        if low is None and high is None:
            return none
        if low is None or high is None:
            word, value = ("at most", high) if low is None else ("at least", low)
            return f"{word} {formats.quantity(value, unit, units, kind)}"
        first = formats.number(shown(low), unit, units, kind)
        return f"{first} to {formats.quantity(shown(high), unit, units, kind)}"

    own = formats.quantity(shown(reading.baseline), unit, units, kind)
    now = formats.quantity(shown(reading.level), unit, units, kind)
    outside = ", outside now" if reading.outside else ""
    return NumbersRow(
        name=series_name(reading.series),
        baseline=f"{own} ({formats.count(reading.baseline_days, 'day')})",
        level=f"{now} ({formats.count(reading.recent_days, 'day')})",
        drift=formats.difference(reading.drift_per_week, unit, units),
        limits=span(reading.limit_low, reading.limit_high, "none on a sheet") + outside,
        peers=span(reading.peers_low, reading.peers_high, "too few"),
    )
