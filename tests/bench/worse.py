"""Worsen what loggers send and measure what it costs: `python -m tests.bench.worse --maker loops --seeds 1`.

Every line is the same fleets with the same faults, their daily values changed in one way that real loggers
have: rounded off, left out, seldom, off from a day on, wild. Tickets go up and faults are missed where the
models take for the engine's what is the logger's.
"""

import argparse
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN
from models.panel import Daily, Wish
from tests.bench.fleets import MAKERS, fleet_of
from tests.bench.measure import read_seeds
from tests.bench.routes import walk_columns
from tests.bench.score import Score, pool, score, tally
from tests.bench.table import grid

Change = Callable[[Daily, np.random.Generator], Daily]
"""Gives daily values as other loggers would have sent them."""

_VOLTS: Final = ("VPWR", "CRANK_VMIN")
_TRIMS: Final = ("LONGFT1", "LONGFT2", "SHRTFT1", "SHRTFT2")
_TEMPERATURES: Final = ("ECT", "IAT", "AAT")
_FLOWS: Final = {"MAF": 1.0, "MAP": 5.0, "IAC": 5.0, "TP": 5.0, "TAC_PCT": 5.0, "LOAD_ABS": 5.0, "RPM": 50.0}
_MOST: Final = ("LONGFT1", "VPWR", "ECT", "IAC", "MAF", "TP", "TAC_PCT", "MAP")


def _some(daily: Daily, rng: np.random.Generator, share: float) -> NDArray[np.bool_]:
    """Draw a share of the vehicles; give their rows."""
    drawn: NDArray[np.bool_] = (rng.random(int(daily.vehicle.max()) + 1) < share)[daily.vehicle]
    return drawn


def rounded(steps: Mapping[str, float], share: float = 1.0) -> Change:
    """Round parameters to steps [default units] on a share of the vehicles."""

    def change(daily: Daily, rng: np.random.Generator) -> Daily:
        values, rows = daily.values.copy(), _some(daily, rng, share)
        for code, step in steps.items():
            values[rows, COLUMN[code]] = np.round(values[rows, COLUMN[code]] / step) * step
        return replace(daily, values=values)

    return change


def without(codes: tuple[str, ...]) -> Change:
    """Leave parameters out on all vehicles."""

    def change(daily: Daily, _: np.random.Generator) -> Daily:
        values = daily.values.copy()
        values[:, [COLUMN[code] for code in codes]] = np.nan
        return replace(daily, values=values)

    return change


def without_switches(daily: Daily, _: np.random.Generator) -> Daily:
    """Leave all load switches out."""
    return replace(daily, switched_on=np.full_like(daily.switched_on, np.nan))


def seldom(share: float) -> Change:
    """Keep a share of the daily values."""

    def change(daily: Daily, rng: np.random.Generator) -> Daily:
        return daily.rows(rng.random(len(daily)) < share)

    return change


def off_from_a_day(daily: Daily, rng: np.random.Generator) -> Daily:
    """Shift voltages and temperatures of a third of the vehicles from a day on, as an untold logger does."""
    values, rows = daily.values.copy(), _some(daily, rng, 1 / 3)
    vehicles = int(daily.vehicle.max()) + 1
    begin = rng.integers(int(daily.day.min()) + 90, int(daily.day.max()) - 40, vehicles)
    rows &= daily.day >= begin[daily.vehicle]
    for codes, spread in ((_VOLTS, 0.08), (("ECT", "IAT"), 1.5)):
        by_vehicle = rng.normal(0.0, spread, vehicles)
        for code in codes:
            values[rows, COLUMN[code]] += by_vehicle[daily.vehicle[rows]]
    return replace(daily, values=values)


def wild(share: float) -> Change:
    """Throw a share of the values off by some three spreads of the fleet."""

    def change(daily: Daily, rng: np.random.Generator) -> Daily:
        values = daily.values.copy()
        for code in _MOST:
            column = values[:, COLUMN[code]]
            hit = np.flatnonzero((rng.random(len(column)) < share) & np.isfinite(column))
            column[hit] += rng.normal(0.0, 3.0 * np.nanstd(column), len(hit))
        return replace(daily, values=values)

    return change


CHANGES: Final[Mapping[str, Change]] = {
    "as made": lambda daily, _: daily,
    "volts in steps of 0.2": rounded(dict.fromkeys(_VOLTS, 0.2)),
    "a third reads half volts": rounded(dict.fromkeys(_VOLTS, 0.5), 1 / 3),
    "whole volts": rounded(dict.fromkeys(_VOLTS, 1.0)),
    "a third reads temperatures in steps of 10 degF": rounded(dict.fromkeys(_TEMPERATURES, 10 / 1.8), 1 / 3),
    "a third reads trims in steps of 3 %": rounded(dict.fromkeys(_TRIMS, 3.125), 1 / 3),
    "half reads idle coarsely": rounded(_FLOWS, 1 / 2),
    "no air temperature, no barometer": without(("AAT", "IAT", "BARO")),
    "no load switches": without_switches,
    "a third of the readings": seldom(1 / 3),
    "a third of the loggers off from a day on": off_from_a_day,
    "2 % of the readings wild": wild(0.02),
}
"""What each line changes; sizes chosen by us."""


def _line(name: str, item: Score) -> list[str]:
    return [
        name,
        f"{item.in_time} of {item.faults}",
        f"{item.warning_all:.2f}",
        f"{item.false_rate:.2f} ({item.false})",
        f"{100 * item.cause_first / max(item.named, 1):.0f} %",
        f"{100 * item.cause_in_three / max(item.named, 1):.0f} %",
    ]


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.worse", description=__doc__)
    parser.add_argument("--maker", choices=MAKERS, default="own", help="who made the fleets (default own)")
    parser.add_argument("--seeds", type=read_seeds, default=[1], help="such as 1,2 (default 1)")
    parser.add_argument("--vehicles", type=int, default=200)
    parser.add_argument("--days", type=int, default=420)
    parser.add_argument("--every", type=int, default=4, help="days between evaluations")
    asked = parser.parse_args()
    fleets = [
        fleet_of(asked.maker, seed, vehicles=asked.vehicles, days=asked.days, per_day=1.6, direct=True)
        for seed in asked.seeds
    ]
    kept = [(fleet.key, fleet.stored) for fleet in fleets]
    rows = [["changed", "in time", "warning", "false", "cause first", "in three"]]
    for name, change in CHANGES.items():
        tallies = []
        for key, stored in kept:
            worse = replace(stored, daily=change(stored.daily, np.random.default_rng(5)))
            days = range(key.first_day, key.last_day + 1, asked.every)
            tallies.append(tally(key, walk_columns(worse, days, wish=Wish()).tickets))
        rows.append(_line(name, score(pool(tallies))))
        sys.stderr.write(f"{rows[-1]}\n")
    sys.stdout.write(grid(rows) + "\n")


if __name__ == "__main__":
    main()
