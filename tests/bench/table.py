"""Print scores side by side, and one method's score by cause and by slope."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

from models.statistics.proportion import wilson
from tests.bench.score import Case, Score, Tally, Truth, score

SLOW_DAYS: Final = 90
FAST_DAYS: Final = 40
"""Days from onset to complaint that part slow, middle and fast ramps of unknown slope; chosen by us, to cut
ramps of 15 to 150 days into three groups of some size."""


def _share(hits: int, of: int) -> str:
    low, high = wilson(hits, of)
    return f"{100 * hits / of:.1f} % ({100 * low:.0f}-{100 * high:.0f}; {hits}/{of})" if of else "-"


def _knows_bound(cases: Iterable[Case]) -> bool:
    return any(case.truth.bound_days is not None for case in cases)


def _cells(item: Score) -> list[str]:
    return [
        _share(item.in_time, item.faults),
        _share(item.found_at_all, item.faults),
        f"{item.warning_all:.2f}",
        f"{item.warning_found:.2f}",
        f"{item.false_rate:.2f} ({item.false_low:.2f}-{item.false_high:.2f}; {item.false})",
        f"{item.seconds_per_fault:.2f}",
        _share(item.cause_first, item.named),
        _share(item.cause_in_three, item.named),
        f"{item.bound_ratio:.2f}",
    ]


MEASURES = (
    "faults ticketed before the complaint",
    "faults ticketed at all",
    "median warning, share of onset to complaint, missed = 0",
    "the same, of those ticketed in time",
    "false tickets per 100 vehicle-months (95 %)",
    "second tickets per fault",
    "true cause first",
    "true cause in the first three",
    "median delay / first-order bound (ramps)",
)


def grid(rows: Iterable[Iterable[str]]) -> str:
    """Lay rows of cells out as a table; the first row is the head."""
    cells = [list(row) for row in rows]
    widths = [max(len(row[place]) for row in cells) for place in range(len(cells[0]))]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in cells]
    rule = "|" + "|".join("-" * (width + 2) for width in widths) + "|"
    return "\n".join([lines[0], rule, *lines[1:]])


def methods_table(results: Mapping[str, Tally]) -> str:
    """Lay the methods side by side, one measure a line; without the bound where none is known."""
    columns = [_cells(score(result)) for result in results.values()]
    known = any(_knows_bound(result.cases) for result in results.values())
    rows = [["measure", *results]]
    rows += [
        [name, *(column[place] for column in columns)]
        for place, name in enumerate(MEASURES if known else MEASURES[:-1])
    ]
    return grid(rows)


def split_table(result: Tally, title: str, of: Callable[[Case], str]) -> str:
    """Score one method within groups of faults; false tickets belong to no group and are left out.

    Delays over the bound are left out where none is known.
    """
    groups: dict[str, list[Case]] = {}
    for case in result.cases:
        groups.setdefault(of(case), []).append(case)
    known = _knows_bound(result.cases)
    bound = ["delay/bound"] if known else []
    rows = [[title, "faults", "in time", "warning", "second", "first", "in three", *bound, "delay d"]]
    for name in sorted(groups):
        item = score(replace(result, cases=tuple(groups[name]), false=()))
        delays = sorted(case.first.day - case.truth.onset for case in groups[name] if case.first)
        rows.append(
            [
                name,
                str(item.faults),
                f"{item.in_time}/{item.faults}",
                f"{item.warning_all:.2f}",
                f"{item.seconds_per_fault:.2f}",
                f"{item.cause_first}/{item.named}",
                f"{item.cause_in_three}/{item.named}",
                *([f"{item.bound_ratio:.2f}"] if known else []),
                str(delays[len(delays) // 2]) if delays else "-",
            ]
        )
    return grid(rows)


def speed_of(truth: Truth) -> str:
    """Name a fault's speed by its slope in noise units a day; where unknown, by the days to the complaint."""
    if truth.shape == "step":
        return "4 step"
    if truth.slope is None:
        days = truth.complaint - truth.onset
        if days > SLOW_DAYS:
            return f"1 slow (> {SLOW_DAYS} d to the complaint)"
        return "2 middle" if days >= FAST_DAYS else f"3 fast (< {FAST_DAYS} d)"
    if truth.slope < 0.07:
        return "1 slow (< 0.07 sigma/d)"
    return "2 middle" if truth.slope < 0.2 else "3 fast (> 0.2 sigma/d)"


def slope_class(case: Case) -> str:
    """Name the speed of a case's fault."""
    return speed_of(case.truth)
