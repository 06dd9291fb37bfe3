"""Hold the stated shares of causes against the planted ones."""

from collections.abc import Iterable
from math import log

from models.statistics.calibration import reliability_table
from tests.bench.score import Case
from tests.bench.table import grid

LEAST_SHARE = 0.005
"""Share counted for a cause that is not among the three that a ticket names."""


def cause_table(cases: Iterable[Case]) -> str:
    """Show stated against observed shares of the three causes that tickets name when they are raised.

    Every named cause of every ticket on a planted fault is one statement. The last line is the mean logarithm
    of the share given to the true cause: the larger, the better.
    """
    stated: list[float] = []
    happened: list[float] = []
    logs: list[float] = []
    for case in cases:
        if case.first is None or not case.first.shares:
            continue
        given = dict(zip(case.first.causes, case.first.shares, strict=True))
        stated += given.values()
        happened += [float(cause == case.truth.cause) for cause in given]
        logs.append(log(max(given.get(case.truth.cause, 0.0), LEAST_SHARE)))
    rows = [["stated share of a cause", "named", "mean stated", "true", "95 % interval"]]
    if not logs:
        return grid(rows)
    for one in reliability_table(happened, stated, bins=10):
        if one.count:
            held = f"{one.observed_low:.2f}-{one.observed_high:.2f}"
            rows.append([f"{one.low:.1f}-{one.high:.1f}", str(one.count), f"{one.stated:.2f}",
                         f"{one.observed:.2f}", held])  # fmt: skip
    return (
        grid(rows) + f"\nmean log share of the true cause {sum(logs) / len(logs):.3f} ({len(logs)} tickets)"
    )
