"""Measure how often evidence shows by chance: `python -m tests.bench.passages --fleets "own:1;signals:1"`.

Walks fleets as a replay does, keeps the most evidence of each kind that every vehicle has shown while it was
sound, and prints the straight lines of `models.evidence.kinds.KINDS`: of the logarithm of first passages per
100 vehicle-months against evidence, with what drawn histories of the same fleets pass and reach, the last two
for the `often` and `fall` of the table as it stands: after a change of lines, run it again. Of kind
`switch` nothing is drawn, and what is printed leaves out runs of "on" that the directions do not see.
"""

import argparse
import sys
from dataclasses import dataclass
from typing import Final
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from models.alarm.bootstrap import Chance
from models.alarm.levels import YOUNG_FLEET
from models.compare import Replay
from models.evidence.kinds import KINDS
from models.panel import Daily, Fleet, Wish
from models.statistics.runlength import DAYS_PER_MONTH
from models.verdict.sound import draw, most_by_kind
from tests.bench.fleets import MAKERS, fleet_of
from tests.bench.measure import read_seeds

Floats = NDArray[np.float64]

SETTLED_DAYS: Final = YOUNG_FLEET[-1][0]
"""Days of a history before which nothing is counted: levels are others while a fleet is young."""

NATS: Final = np.arange(3.5, 40.0, 0.25)
LEAST_PASSED: Final = 4
MOST_RATE: Final = 3.0
"""Points of a line, as many at least: passed by so many vehicles, and no more often than this [per 100
vehicle-months]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walked:
    """One fleet's walk.

    Parameters
    ----------
    most : float64 array of shape (vehicles, len(KINDS))
        Most evidence each sound vehicle has shown [nats].
    risk : float64 array of shape (len(NATS), len(KINDS))
        Vehicle-months before the first passage of each amount.
    chances : tuple of Chance
        What the fleet's own drawn histories showed, at each draw.
    """

    most: Floats
    risk: Floats
    chances: tuple[Chance, ...]


def walk(fleet: Fleet, daily: Daily, span: tuple[int, int], onset: Floats, every: int) -> Walked:
    """Walk one fleet; vehicles count up to the day before their fault begins."""
    first, last = span
    drawn: list[Chance] = []
    most = np.full((len(fleet.vehicles), len(KINDS)), -np.inf)
    risk = np.zeros((len(NATS), len(KINDS)))

    def kept(scene: object) -> Chance:
        drawn.append(draw(scene))  # type: ignore[arg-type]
        return drawn[-1]

    with patch("models.compare.draw", kept):
        replay = Replay(fleet, daily, Wish())
        for day in range(first + SETTLED_DAYS, last + 1, every):
            scene, verdict = replay.scene(day), replay.verdict(day)
            now = most_by_kind(
                verdict.evidence, scene.tables, scene.fit.noise.correlation, scene.material.group
            )
            sound = onset > day
            most[sound] = np.maximum(most[sound], now[sound])
            risk += (most[sound][None, :, :] < NATS[:, None, None]).sum(axis=1) * every / DAYS_PER_MONTH
    return Walked(most=most, risk=risk, chances=tuple(drawn))


def line(walks: list[Walked], kind: int) -> tuple[float, float]:
    """Fit level and fall of one kind [nats, 1 / nats]; NaN where too few vehicles pass anything."""
    passed = np.sum([(item.most[:, kind] >= NATS[:, None]).sum(axis=1) for item in walks], axis=0)
    rate = 100.0 * passed / np.maximum(np.sum([item.risk[:, kind] for item in walks], axis=0), 1e-9)
    used = (passed >= LEAST_PASSED) & (rate <= MOST_RATE)
    if used.sum() < LEAST_PASSED:
        return float("nan"), float("nan")
    slope, height = np.polyfit(NATS[used], np.log(rate[used]), 1, w=np.sqrt(passed[used]))
    return float(-height / slope), float(-slope)


def _table(walks: list[Walked]) -> str:
    chances = [chance for item in walks for chance in item.chances]
    months = sum(chance.months for chance in chances)
    passed = np.sum([chance.passed for chance in chances], axis=0)
    beyond = np.sum([chance.beyond for chance in chances], axis=0)
    rows = [f"{'kind':16} level  fall  drawn  beyond  passages drawn"]
    for place, kind in enumerate(KINDS):
        level, fall = line(walks, place)
        rows.append(
            f"{kind.name:16} {level:5.2f} {fall:5.2f}  {100 * passed[place] / max(months, 1):5.2f}  "
            f"{beyond[place] / max(passed[place], 1):6.2f}  {passed[place]:.0f}"
        )
    return "\n".join(rows)


def _walked(maker: str, seed: int, every: int) -> Walked:
    asked = next(known for known in MAKERS if known == maker)
    measured = fleet_of(asked, seed, vehicles=200, days=420, per_day=1.6, direct=True)
    key, stored = measured.key, measured.stored
    fleet, daily = stored.material.fleet, stored.daily
    onset = {truth.vehicle: truth.onset for truth in key.truths}
    begins = np.array([onset.get(name, np.inf) for name in fleet.vehicles])
    return walk(fleet, daily, (key.first_day, key.last_day), begins, every)


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.passages", description=__doc__)
    parser.add_argument(
        "--fleets", default="own:1", help="such as own:1-5;physics:1,2;signals:3 (default own:1)"
    )
    parser.add_argument("--every", type=int, default=4, help="days between looks")
    asked = parser.parse_args()
    walks = []
    for part in asked.fleets.split(";"):
        maker, _, seeds = part.partition(":")
        for seed in read_seeds(seeds):
            walks.append(_walked(maker, seed, asked.every))
            sys.stdout.write(f"{maker} {seed}\n")
            sys.stdout.flush()
    sys.stdout.write(_table(walks) + "\n")


if __name__ == "__main__":
    main()
