"""Learned and total trim around cleared memory: one goes back to zero, the other stays.

What the mixture needs is the total of learned and short-term trim. Clearing the memory sets the learned part
to zero, and the short-term part takes over until it is learned anew: the total does not move, unless what
made it move is gone. So a total that stays says that clearing cured nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.findings import Finding
from models.learning.breaks import RELEARN_DAYS
from models.panel import Daily

BEFORE_DAYS: Final = 28
"""Days before the clearing that say what was; chosen by us: four weeks."""

RECENT_DAYS: Final = 60
"""A clearing longer ago than this is no longer worth a word; chosen by us."""

LEAST: Final = 3
"""Days with both trims needed on either side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Totals:
    """Days on which a vehicle's first bank reported both trims, each array of shape (n,).

    Parameters
    ----------
    vehicle, day : int32 arrays
    state : int8 array
        Place in `STATES`: warm idle or cruise.
    learned, total : float64 arrays
        Long-term trim alone, and with short-term trim [%].
    """

    vehicle: NDArray[np.int32]
    day: NDArray[np.int32]
    state: NDArray[np.int8]
    learned: NDArray[np.float64]
    total: NDArray[np.float64]


def read_totals(daily: Daily) -> Totals:
    """Read learned and total trim out of the daily summaries."""
    learned, short = daily.values[:, COLUMN["LONGFT1"]], daily.values[:, COLUMN["SHRTFT1"]]
    warm = np.isin(daily.state, [STATES.index("warm_idle"), STATES.index("cruise")])
    keep = warm & np.isfinite(learned) & np.isfinite(short)
    return Totals(
        vehicle=daily.vehicle[keep],
        day=daily.day[keep],
        state=daily.state[keep],
        learned=learned[keep],
        total=learned[keep] + short[keep],
    )


def tell_totals(
    findings: Sequence[Finding],
    totals: Totals,
    resets: NDArray[np.int64],
    vehicles: tuple[str, ...],
    day: int,
) -> tuple[Finding, ...]:
    """Note on findings that rest on a learned trim what the latest clearing of memory did to both trims.

    Parameters
    ----------
    findings : sequence of Finding
    totals : Totals
    resets : int64 array of shape (r, 2)
        Vehicle place and day of cleared memory, found and recorded.
    vehicles : tuple of str
        The fleet's own numbers.
    day : int
        Evaluation day; later readings take no part.

    Returns
    -------
    tuple of Finding
        In the same order, with the note `total_trim:DAY:LEARNED:LEARNED:TOTAL:TOTAL` [%], before and after,
        where the memory was cleared lately and both sides have readings.
    """
    place = {vehicle: number for number, vehicle in enumerate(vehicles)}
    written = []
    for one in findings:
        states = [STATES.index(item.state) for item in one.series if item.series.startswith("LONGFT1@")]
        mine = resets[(resets[:, 0] == place[one.vehicle]) & (resets[:, 1] <= day), 1]
        lately = len(mine) and mine.max() > day - RECENT_DAYS
        note = _note(totals, place[one.vehicle], states[0], int(mine.max()), day) if states and lately else ""
        written.append(replace(one, notes=(*one.notes, note)) if note else one)
    return tuple(written)


def _note(totals: Totals, vehicle: int, state: int, cleared: int, day: int) -> str:
    here = (totals.vehicle == vehicle) & (totals.state == state) & (totals.day <= day)
    before = here & (totals.day < cleared) & (totals.day >= cleared - BEFORE_DAYS)
    after = here & (totals.day >= cleared) & (totals.day < cleared + RELEARN_DAYS)
    if before.sum() < LEAST or after.sum() < LEAST:
        return ""
    told = [
        f"{np.median(values[side]):.1f}"
        for values in (totals.learned, totals.total)
        for side in (before, after)
    ]
    return ":".join(["total_trim", str(cleared), *told])
