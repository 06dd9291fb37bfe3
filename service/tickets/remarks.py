"""What the models noted beside a finding, in words."""

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from service.tickets.checks import cause_table
from service.tickets.words import day_words, short_name

DOUBTS: Final[Mapping[str, str]] = {
    "flow_against_pressure": "measured air flow does not fit pressure, speed and displacement",
    "load_against_flow": "absolute load does not fit measured air flow and displacement",
    "pressure_range": "outside pressure is that of no inhabited place",
    "unchanged": "the same value for twenty days with readings or more, which no sound sensor gives",
}
"""Why a reading cannot be right."""

PUBLISHED_SLOPE: Final = -10.0
"""What published charging regulators do [mV / degC]: the middle of a 2018 service specification's band falls
by 10.4."""

LIKE_PUBLISHED: Final = (-16.0, -5.0)
"""Slopes called alike [mV / degC]; chosen by us: a battery charger's -18 lies outside."""


STAYED: Final = 0.6
"""Share of the total trim that must be left after clearing to say that it stayed; chosen by us."""


def remark_lines(notes: Iterable[str]) -> tuple[str, ...]:
    """Put the notes of a finding into sentences.

    Parameters
    ----------
    notes : iterable of str
        Codes with their values after colons, see `models.findings.Finding`.

    Returns
    -------
    tuple of str
        In the same order; a code that has no sentence is left out.

    Examples
    --------
    >>> remark_lines(["resting_charge:30:63"])
    ('The resting voltage means a charge between 30 and 63 % (published tables differ by that much).',)
    """
    lines = []
    for note in notes:
        code, *values = note.split(":")
        if code in _SENTENCES:
            lines.append(_SENTENCES[code](*values))
    return tuple(lines)


def _chance(share: str) -> str:
    told = "fewer than 1 %" if share == "0" else f"about {share} %"
    return f"Of the drifts at least as strong in this fleet, {told} are expected by chance."


def _charge(low: str, high: str) -> str:
    band = f"between {low} and {high} %"
    return f"The resting voltage means a charge {band} (published tables differ by that much)."


def _slope(slope: str) -> str:
    alike = LIKE_PUBLISHED[0] <= float(slope) <= LIKE_PUBLISHED[1]
    word = "as" if alike else "unlike"
    return (
        f"Charging voltage of its like changes by {float(slope):+.1f} mV per °C of air temperature, {word} "
        f"published regulators do ({PUBLISHED_SLOPE:+.0f}); that is taken out."
    )


def _implausible(series: str, reason: str) -> str:
    return f"Doubtful reading: {short_name(series)}; {DOUBTS[reason]}. Check sensor, scale and sheet first."


def _belief(cause: str, before: str, after: str) -> str:
    words = cause_table().causes[cause].words
    return f"This fleet's repairs moved “{words}” from {before} to {after} % before any reading is looked at."


def _total_trim(day: str, learned: str, relearned: str, total: str, total_after: str) -> str:
    before, after = float(total), float(total_after)
    stayed = abs(after) >= STAYED * abs(before) and before * after > 0
    verdict = "clearing cured nothing" if stayed else "what moved it may be gone; the next weeks will tell"
    return (
        f"Memory was cleared on {day_words(int(day))}: learned trim at bank 1 went from {learned} to "
        f"{relearned} %, learned and short-term trim together from {total} to {total_after} %: {verdict}."
    )


def _odd(series: str, share: str) -> str:
    return f"Odd among its like: {short_name(series)} makes {share} % of the oddity."


def _splits(needed: str, usual: str) -> str:
    return f"A random tree sets it apart from its like after {needed} splits; {usual} are usual."


_SENTENCES: Final[Mapping[str, Callable[..., str]]] = {
    "rank_agrees": lambda: "A rank test on weekly medians (Mann-Kendall) sees the drift too.",
    "rank_undecided": lambda: "A rank test on weekly medians (Mann-Kendall) does not see a trend yet.",
    "rank_disagrees": lambda: "A rank test on weekly medians (Mann-Kendall) sees the opposite trend.",
    "resting_charge": _charge,
    "charging_slope": _slope,
    "implausible": _implausible,
    "belief": _belief,
    "chance": _chance,
    "odd": _odd,
    "total_trim": _total_trim,
    "splits": _splits,
}
