"""Switch one part off at a time and measure what it costs: `python -m tests.bench.ablation --seeds 7,8`.

Every line is the whole walk from columns to tickets with one part replaced by nothing, on the same fleets
and at the same wish. What goes down without it, the part earns. With a part gone the same level of evidence
may mean another rate of false tickets: read the columns together.
"""

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from statistics import fmean
from typing import Any, Final
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from models import compare, series
from models.alarm import levels, limits
from models.alarm.bootstrap import NOTHING
from models.causes.table import Directions, directions
from models.changes import swaps
from models.changes.returns import Falls
from models.evidence import loads, scan
from models.evidence.kinds import KINDS
from models.evidence.noise import estimate_slow
from models.evidence.scan import Evidence, weigh
from models.learning import fit
from models.learning.breaks import is_untold, number_stretches
from models.learning.crowd import Common
from models.panel import Fleet, SheetFacts, Wish
from models.series import SERIES, Observations
from models.telling import forecast, report
from models.telling.readings import watched_shapes
from models.verdict import judge
from models.weather import reported_air
from tests.bench.calibration import FORECAST_AGES, Judged
from tests.bench.fleets import MAKERS, fleet_of
from tests.bench.measure import read_seeds
from tests.bench.score import Score, pool, score, tally
from tests.bench.table import grid

Off = tuple[object, str, Any]
"""A module, a name in it, and what stands in for it."""


def _no_adjustment(seen: Any, *_: Any) -> NDArray[np.float64]:
    return np.zeros(len(seen))


def _no_common(_seen: Any, _away: Any, _sigma: Any, crowd: Any, *, days: tuple[int, int], **_: Any) -> Common:
    shape = (max(int(crowd.max(initial=-1)) + 1, 1), len(SERIES), days[1] - days[0] + 1)
    return Common(shift=np.zeros(shape), support=np.zeros(shape), crowd=crowd, first_day=days[0])


def _no_clip(_seen: Any, residual: NDArray[np.float64], *_: Any) -> NDArray[np.float64]:
    return residual


def _independent(estimate: Callable[..., Any]) -> Callable[..., Any]:
    def white(*given: Any) -> Any:
        inflation, correlation = estimate(*given)
        return np.ones_like(inflation), correlation

    return white


def _uncorrelated(estimate: Callable[..., Any]) -> Callable[..., Any]:
    def alone(*given: Any) -> Any:
        inflation, correlation = estimate(*given)
        return inflation, np.eye(len(correlation))

    return alone


def _singles(sheet: SheetFacts | None, *, naming: bool = False) -> Directions:
    """Keep the directions of one series only, each under the first cause that moves it."""
    whole = directions(sheet, naming=naming)
    keep = whole.single
    return Directions(
        shift=whole.shift[keep],
        cause=whole.cause[keep],
        reported=whole.reported[keep],
        single=whole.single[keep],
        excuse=whole.excuse,
        witness=whole.witness,
        excused=whole.excused[:, keep],
    )


def _raising(sheet: SheetFacts | None, *, naming: bool = False) -> Directions:  # noqa: ARG001
    """Leave out the directions that only name a cause, whoever asks."""
    return directions(sheet)


def _no_falls(*_: Any) -> Falls:
    return Falls(place=np.empty((0, 4), np.int64), jump=np.empty(0))


def _across_untold(fleet: Fleet, seen: Observations) -> NDArray[np.int32]:
    told = tuple(fact for fact in fleet.work if not is_untold(fact))
    return number_stretches(replace(fleet, work=told), seen)


def _one_kind(nats: NDArray[np.float64], *_: Any) -> NDArray[np.float64]:
    """Count all evidence as if it were of one kind, at the mean of all levels and falls."""
    fall, level = fmean(kind.fall for kind in KINDS), fmean(kind.level for kind in KINDS)
    return fall * (nats - level)


def _rolling(days: int) -> Callable[..., Evidence]:
    def newest(history: Any, *, day: int, start: NDArray[np.int32], **more: Any) -> Evidence:
        return weigh(history, day=day, start=np.maximum(start, day - days), **more)

    return newest


PARTS: Final[Mapping[str, tuple[Off, ...]]] = {
    "everything on": (),
    "weather, height, loads not taken out": ((fit, "fit_adjustment", _no_adjustment),),
    "vehicles' own answers to loads and heat not learned": (
        (fit, "own_answers", lambda seen, *_: np.zeros(len(seen))),
    ),
    "air that a vehicle does not report left unknown": (
        (series, "read_air", lambda _fleet, daily: reported_air(daily)),
    ),
    "depots' and like vehicles' common movement left in": ((fit, "find_common", _no_common),),
    "wild readings not pulled in": ((fit, "clip_to_neighbours", _no_clip),),
    "readings taken as independent": ((fit, "estimate_slow", _independent(estimate_slow)),),
    "series taken as uncorrelated": ((fit, "estimate_slow", _uncorrelated(estimate_slow)),),
    "relearning not left out": ((fit, "relearning", lambda seen, _resets: np.zeros(len(seen), dtype=bool)),),
    "moves to another height not looked for": (
        (fit, "find_moves", lambda _daily: np.empty((0, 3), np.int64)),
    ),
    "repairs nobody wrote down not looked for": ((compare, "find_falls", _no_falls),),
    "drifts forgotten at a change of logger": ((swaps, "STEPS", 0.0),),
    "loggers taken to round no more coarsely than sensors": (
        (
            fit,
            "rounding_steps",
            lambda _seen, _taught, _loggers, vehicles, _day: np.zeros((vehicles, len(SERIES))),
        ),
    ),
    "readings pulled in across untold repairs": ((fit, "number_stretches", _across_untold),),
    "no new baseline after repairs and moves": (
        (compare, "advance_starts", lambda _scene, start, _days: start),
    ),
    "baseline of the newest 120 days only": ((judge, "weigh", _rolling(120)),),
    "no indifference zone": ((scan, "INDIFFERENT", 0.0), (scan, "INDIFFERENT_TRIM", 0.0)),
    "single series instead of patterns": ((compare, "directions", _singles),),
    "no rows that only name causes": ((compare, "directions", _raising),),
    "causes told by the readings that raised the ticket alone": (
        (report, "_with_few_readings", lambda *given: given[-2:]),
    ),
    "single measurements judged by the normal law": ((scan, "ROUGHLY", 1e9),),
    "one kind of evidence": ((levels, "rarity", _one_kind),),
    "unreported loads not doubted": ((judge, "doubt_loads", lambda evidence, *_: evidence),),
    "unreported loads doubted in any weather": ((loads, "COMPRESSOR_WEATHER", (-11.0, -10.0)),),
    "depots believed as registered": ((judge, "elsewhere", lambda *given: (given[3][:0], None)),),
    "switches not listened to": ((judge, "_hear_switches", lambda *_: None),),
    "levels from the table alone": ((compare, "draw", lambda _scene: NOTHING),),
    "limits held at half the noise of a reading, whatever its memory": (
        (limits, "error_of_median", lambda noise, _group, _count: noise.sigma / (2 * limits.CLEARLY)),
    ),
    "no steps among the forecasts": ((forecast, "STEPS", 0.0),),
    "forecasts from readings held against earlier ones only": (
        (report, "told_shapes", lambda _scene, verdict, chosen: watched_shapes(verdict, chosen)),
    ),
}
"""What each line switches off."""


@contextmanager
def without(parts: tuple[Off, ...]) -> Iterator[None]:
    """Switch parts off."""
    with ExitStack() as stack:
        for module, name, instead in parts:
            stack.enter_context(patch.object(module, name, instead))
        yield


def _held(items: list[Judged]) -> str:
    """Count, among forecasts made at the raising and decided, those whose 80 % interval held the day."""
    raised = [item for item in items if item.forecast.age == FORECAST_AGES[0]]
    known = [item.covered for item in raised if item.covered is not None]
    return f"{sum(known)}/{len(known)}"


def _line(name: str, item: Score, judged: list[Judged]) -> list[str]:
    return [
        name,
        f"{100 * item.in_time / item.faults:.1f} %",
        f"{item.warning_all:.2f}",
        f"{item.false_rate:.2f}",
        f"{item.seconds_per_fault:.2f}",
        f"{100 * item.cause_first / max(item.named, 1):.0f} %",
        f"{100 * item.cause_in_three / max(item.named, 1):.0f} %",
        _held(judged),
        _held([one for one in judged if one.truth.shape == "step"]),
    ]


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ablation", description=__doc__)
    parser.add_argument("--seeds", type=read_seeds, default=[7, 8], help="such as 7,8 (default)")
    parser.add_argument("--vehicles", type=int, default=200)
    parser.add_argument("--days", type=int, default=420)
    parser.add_argument("--every", type=int, default=1, help="days between evaluations")
    parser.add_argument("--knob", type=float, default=0.1, help="false tickets per 100 vehicle-months")
    parser.add_argument("--maker", choices=MAKERS, default="own", help="who made the fleets (default own)")
    asked = parser.parse_args()
    fleets = [
        fleet_of(asked.maker, seed, vehicles=asked.vehicles, days=asked.days, per_day=1.6, direct=True)
        for seed in asked.seeds
    ]
    rows = [
        ["switched off", "in time", "warning", "false", "second", "cause first", "in three", "held", "steps"]
    ]
    for name, parts in PARTS.items():
        with without(parts):
            outcomes = [
                fleet.outcome(every=asked.every, wish=Wish(false_tickets=asked.knob)) for fleet in fleets
            ]
        found = list(zip(fleets, outcomes, strict=True))
        judged = [one for fleet, outcome in found for one in fleet.judge(outcome)]
        item = score(pool(tally(fleet.key, outcome.tickets) for fleet, outcome in found))
        rows.append(_line(name, item, judged))
        sys.stderr.write(f"{name}: {rows[-1][1:]}\n")
    sys.stdout.write(grid(rows) + "\n")


if __name__ == "__main__":
    main()
