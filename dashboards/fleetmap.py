"""From the standings of some weeks to the picture of the fleet, vehicle by week."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, get_args

from dashboards.rows import Counts, Urgency
from dashboards.week import FleetMap, MapRow

MOST_ROWS: Final = 40
"""Vehicles drawn; chosen by us: a picture that can still be taken in, with the list for the rest."""

MOST_WEEKS: Final = 12
"""Weeks drawn; chosen by us: a quarter fits a phone with little scrolling."""

_ORDER: Final[tuple[Urgency, ...]] = get_args(Urgency)
_RANK: Final = {urgency: place for place, urgency in enumerate(_ORDER)}
_ABSENT: Final = len(_ORDER)
_CALM: Final = frozenset({"steady", None})


def build_map(
    weeks: Sequence[tuple[str, Mapping[str, Urgency]]], *, most: int = MOST_ROWS
) -> FleetMap | None:
    """Build the picture.

    Parameters
    ----------
    weeks : sequence of (ISO week, standing by vehicle)
        Oldest first; only the newest `MOST_WEEKS` are drawn. A vehicle that a week does not name was not in
        service then.
    most : int
        Vehicles drawn at most. Vehicles that stayed steady throughout are never drawn, only counted.

    Returns
    -------
    FleetMap or None
        The most urgent of the newest week first, then of the weeks before, then by number; None without
        weeks.

    Examples
    --------
    >>> found = build_map([("2031-W36", {"a": "steady", "b": "steady"}), ("2031-W37", {"a": "watch"})])
    >>> found.weeks, [(row.vehicle, row.words) for row in found.rows], found.left_out
    (('2031-W36', '2031-W37'), [('a', ('steady', 'watch'))], 1)
    """
    drawn = list(weeks)[-MOST_WEEKS:]
    if not drawn:
        return None
    vehicles = sorted({vehicle for _, standings in drawn for vehicle in standings})
    rows = [
        MapRow(vehicle=vehicle, words=tuple(standings.get(vehicle) for _, standings in drawn))
        for vehicle in vehicles
    ]
    moving = sorted((row for row in rows if not _CALM.issuperset(row.words)), key=_urgent_first)
    return FleetMap(
        weeks=tuple(week for week, _ in drawn),
        counts=tuple(count_week(standings.values()) for _, standings in drawn),
        rows=tuple(moving[:most]),
        left_out=len(rows) - len(moving[:most]),
    )


def count_week(words: Iterable[Urgency]) -> Counts:
    """Count how a week's vehicles divided.

    Examples
    --------
    >>> count_week(["watch", "steady", "steady"]).steady
    2
    """
    found = Counter(words)
    return Counts(in_service=found.total(), **{word: found[word] for word in _ORDER})


def _urgent_first(row: MapRow) -> tuple[tuple[int, ...], str]:
    newest_first = tuple(_ABSENT if word is None else _RANK[word] for word in reversed(row.words))
    return newest_first, row.vehicle
