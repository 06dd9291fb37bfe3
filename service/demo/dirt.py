"""What loggers and the way to the service do to snapshots: offsets, rounding, gaps, repeats, nonsense."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from service.demo.roster import Roster
from service.demo.strengths import Strengths
from service.demo.timetable import Rows

Floats = NDArray[np.float64]

_COARSE: Final = {
    "LONGFT1": 1.0, "LONGFT2": 1.0, "SHRTFT1": 1.0, "SHRTFT2": 1.0, "ECT": 2.0, "IAT": 2.0, "AAT": 2.0,
    "VPWR": 0.1, "CRANK_VMIN": 0.1, "IAC": 1.0, "MAF": 0.1, "TAC_PCT": 0.5, "TP": 0.5, "RPM": 10.0,
}  # fmt: skip
"""Rounding of coarse loggers, in default units; chosen by us."""

_NONSENSE: Final = (
    ("RPM", 70_000.0), ("VPWR", 655.35), ("ECT", -88.0), ("LONGFT1", 250.0), ("MAP", 9_999.0), ("IAT", 300.0),
)  # fmt: skip
"""Values that no sensor can encode."""

_ENDS: Final = (("ECT", -40.0), ("IAT", -40.0), ("VPWR", 0.0), ("LONGFT1", 99.21875))
"""Readings at the end of the encoding: wiring or logger, never the engine."""

PLAIN, FUTURE, ANCIENT, STRANGER, NONSENSE, STUCK = range(6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sent:
    """Snapshots as the loggers send them; columns of shape (n,) unless said otherwise.

    Parameters
    ----------
    values : float array of shape (n, P)
        In default units; NaN where not sent.
    claim : int array
        Declared state; -1 where none.
    switches : int array of shape (n, 3)
        1 on, 0 off, -1 not sent.
    second_device : bool array
        Whether the vehicle's second logger sent it.
    flaw : int array
        PLAIN, or what makes the row unbelievable.
    personal : bool array
        Rows that carry driver and position fields, to be dropped at the door.
    order : int array of shape (m,)
        Rows in the order of arrival; late ones later, repeats named twice.
    spells : int
        Spells in which one value sat at the end of its encoding.
    late : int
        Snapshots that arrived days late.
    """

    values: Floats
    claim: NDArray[np.int64]
    switches: NDArray[np.int64]
    second_device: NDArray[np.bool_]
    flaw: NDArray[np.int64]
    personal: NDArray[np.bool_]
    order: NDArray[np.int64]
    spells: int
    late: int


def _through_logger(rng: np.random.Generator, values: Floats, roster: Roster, rows: Rows) -> Floats:
    out = values.copy()
    second = rows.day >= roster.swap_day[rows.vehicle]
    volts, degrees = rng.normal(0, 0.05, len(roster)), rng.normal(0, 0.8, len(roster))
    out[:, COLUMN["VPWR"]] += np.where(second, volts[rows.vehicle], 0)
    for code in ("ECT", "IAT"):
        out[:, COLUMN[code]] += np.where(second, np.round(degrees[rows.vehicle]), 0)
    coarse = roster.coarse[rows.vehicle] ^ (second & roster.regridded[rows.vehicle])
    for code, step in _COARSE.items():
        column = out[:, COLUMN[code]]
        column[coarse] = np.round(column[coarse] / step) * step
    out[rng.random(out.shape) < 0.006] = np.nan
    return out


def _stuck_spells(
    rng: np.random.Generator, values: Floats, flaw: NDArray[np.int64], rows: Rows, days: int
) -> int:
    vehicles = int(rows.vehicle.max(initial=-1)) + 1
    struck = np.flatnonzero(rng.random(vehicles) < 0.02)
    for vehicle in struck:
        code, end = _ENDS[int(rng.integers(len(_ENDS)))]
        first = int(rng.integers(0, days))
        here = (rows.vehicle == vehicle) & (rows.day >= first) & (rows.day < first + int(rng.integers(2, 9)))
        here &= ~np.isnan(values[:, COLUMN[code]])
        values[here, COLUMN[code]] = end
        flaw[here] = STUCK
    return len(struck)


def _spoil(
    rng: np.random.Generator, values: Floats, rows: Rows, days: int, share: float
) -> tuple[NDArray[np.int64], int]:
    flaw = np.zeros(len(rows), dtype=np.int64)
    spoilt = np.flatnonzero(rng.random(len(rows)) < share)
    flaw[spoilt] = rng.choice([FUTURE, ANCIENT, STRANGER, NONSENSE, STUCK], len(spoilt),
                              p=[0.1, 0.05, 0.05, 0.5, 0.3])  # fmt: skip
    for row in spoilt[flaw[spoilt] >= NONSENSE]:
        choices = _NONSENSE if flaw[row] == NONSENSE else _ENDS
        code, value = choices[int(rng.integers(len(choices)))]
        values[row, COLUMN[code]] = value
    return flaw, _stuck_spells(rng, values, flaw, rows, days)


def _arrivals(rng: np.random.Generator, rows: Rows, strengths: Strengths) -> tuple[NDArray[np.int64], int]:
    n = len(rows)
    arrives = rows.day + rows.hour / 24
    late = rng.random(n) < strengths.late
    arrives = arrives + np.where(late, rng.exponential(4, n), rng.uniform(0, 0.2, n))
    again = np.flatnonzero(rng.random(n) < strengths.duplicates)
    when = np.concatenate([arrives, arrives[again] + rng.exponential(1.5, len(again))])
    order = np.concatenate([np.arange(n), again])[np.argsort(when, kind="stable")]
    return order, int(late.sum())


def _claims(rng: np.random.Generator, roster: Roster, rows: Rows, share: float) -> NDArray[np.int64]:
    claim = rows.state.copy()
    wrong = rng.random(len(rows)) < share
    claim[wrong] = rng.integers(0, len(STATES), int(wrong.sum()))
    # A stop over lunch declared as a soak: the engine is still warm.
    lunch = (rows.state == STATES.index("koeo")) & (rng.random(len(rows)) < 0.1)
    claim[lunch] = STATES.index("koeo_soak")
    claim[roster.stateless[rows.vehicle] | (rng.random(len(rows)) < 0.01)] = -1
    return claim


def send(
    rng: np.random.Generator,
    values: Floats,
    roster: Roster,
    rows: Rows,
    stuck_switch: NDArray[np.int64],
    strengths: Strengths,
    *,
    days: int,
) -> Sent:
    """Pass readings through each vehicle's logger and over the line.

    Parameters
    ----------
    values : float array of shape (n, P)
        As read from the engine, already in encoding steps.
    stuck_switch : int array of shape (n,)
        1 + place of a switch that reads on whatever the driver does; 0 where none.

    Returns
    -------
    Sent
        What arrives, in which order.
    """
    out = _through_logger(rng, values, roster, rows)
    counters = ("CLR_DIST", "WARM_UPS")
    for code in counters:
        out[~roster.reads_clear[rows.vehicle], COLUMN[code]] = np.nan
    flaw, spells = _spoil(rng, out, rows, days, strengths.unbelievable)
    switches = np.stack([rows.ac, rows.steering, rows.gear], axis=1).astype(np.int64)
    for place in range(switches.shape[1]):
        switches[stuck_switch == place + 1, place] = 1
    switches[roster.switchless[rows.vehicle]] = -1
    personal = rng.random(len(rows)) < strengths.personal
    order, late = _arrivals(rng, rows, strengths)
    return Sent(
        values=out,
        claim=_claims(rng, roster, rows, strengths.wrong_claim),
        switches=switches,
        second_device=rows.day >= roster.swap_day[rows.vehicle],
        flaw=flaw,
        personal=personal,
        order=order,
        spells=spells,
        late=late,
    )
