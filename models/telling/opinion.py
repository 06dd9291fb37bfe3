"""A second opinion, on Mondays: vehicles that are an odd mixture though no single direction speaks.

Every vehicle's shifts of the last four weeks, a few of them and in standard errors, are held against those of
its own spec sheet. A cheap screen decides who is worth asking about; only then are a forest and a robust
distance taught by sound vehicles of the sheet, now and in the months before, and asked. The opinion watches:
it never makes a ticket, it names no cause, and it says nothing of a vehicle that already has a finding.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.table import UNKNOWN
from models.evidence.scan import TEMPLATES
from models.findings import Finding, SeriesReading
from models.series import PLACE
from models.statistics.outlier import OutlierView, second_opinion
from models.telling.readings import Chosen, describe, told_shapes, write_readings
from models.verdict.judge import Verdict
from models.verdict.scene import Scene

ASKED_EVERY: Final = 7
ASKED_ON: Final = 4
"""Asked on days with this remainder: 1970-01-05, day 4, was a Monday. The week's page is made then."""

WINDOW_DAYS: Final = 28
"""Days whose mean is held against all days before; chosen by us."""

EARLIER: Final = (28, 56, 84, 112)
"""How many days ago sound vehicles are looked at again, to have enough of them to compare with."""

LEAST_RECENT: Final = 5
LEAST_BEFORE: Final = 20
"""Readings in the window and before it without which a shift is not known; chosen by us."""

FEATURES: Final = (
    "LONGFT1@warm_idle",
    "LONGFT1@cruise",
    "IAC@warm_idle",
    "TAC_PCT@warm_idle",
    "VPWR@warm_idle",
    "VPWR@cruise",
    "CRANK_VMIN@crank",
    "ECT@cruise",
)
"""Series whose shift is a feature; few, as many channels dilute one."""

SCREEN: Final = 7.0
"""Length of the features' vector from the sheet's middle, in robust spreads, from which a vehicle is worth
asking about; chosen by us: sound simulated vehicles stay below it, so the forest's time is rarely spent."""

LEVEL: Final = 0.0125
"""Share of sound rows that may be as strange as a vehicle that is watched; chosen by us: it takes eighty rows
to say so, which a sheet of forty vehicles has with its past."""

TREES: Final = 60
"""Trees of the forest; chosen by us: a third of the usual number, as the screen has looked before."""

RULE: Final = "outlier"
HELD_BACK: Final = "second_opinion_only"
SEED: Final = 1

_PLACES: Final = [PLACE[name] for name in FEATURES]
_TEMPLATE: Final = TEMPLATES.index((25, "step"))


def is_asked(day: int) -> bool:
    """Say whether the second opinion is asked for on a day: on Mondays.

    Examples
    --------
    >>> is_asked(4), is_asked(20_004)
    (True, False)
    """
    return day % ASKED_EVERY == ASKED_ON


def second_opinions(scene: Scene, verdict: Verdict, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Ask the second opinion.

    Parameters
    ----------
    scene : Scene
    verdict : Verdict
        Of the day.
    findings : tuple of Finding
        Of the day; their vehicles are neither asked about nor learned from.

    Returns
    -------
    tuple of Finding
        By vehicle; none on other days than Mondays.
    """
    if not is_asked(verdict.day):
        return ()
    found = {one.vehicle for one in findings}
    quiet = np.array([vehicle not in found for vehicle in scene.fleet.vehicles], dtype=bool)
    features = shifts(scene, verdict, 0)
    odd = quiet & (_length(features, scene.material.group, quiet) >= SCREEN)
    earlier = [shifts(scene, verdict, ago) for ago in EARLIER] if odd.any() else []
    written: list[Finding] = []
    for group in np.unique(scene.material.group[odd]).tolist():
        mine = scene.material.group == group
        asked, sound = np.flatnonzero(mine & odd), np.flatnonzero(mine & quiet & ~odd)
        reference = np.concatenate((features[sound], *(past[sound] for past in earlier)))
        view = second_opinion(features[asked], FEATURES, SEED, reference=reference, level=LEVEL, trees=TREES)
        written += [
            _finding(scene, verdict, int(vehicle), view, row)
            for row, vehicle in enumerate(asked)
            if view.score[row] > view.threshold and view.leading[row]
        ]
    return tuple(sorted(written, key=lambda one: one.vehicle))


def shifts(scene: Scene, verdict: Verdict, ago: int) -> NDArray[np.float64]:
    """Give each vehicle's shift of four weeks against all days before in its running segment.

    Parameters
    ----------
    ago : int
        Days before the verdict's at which the window ends.

    Returns
    -------
    float64 array of shape (V, F)
        In standard errors, in the order of `FEATURES`; NaN where too few readings say.
    """
    history, noise = scene.fit.history, scene.fit.noise
    end = verdict.day - ago + 1
    now = history.before(end)
    origin = np.minimum(history.before(verdict.start), now)
    split = np.maximum(history.before(end - WINDOW_DAYS), origin)
    recent, before = history.sums(split, now), history.sums(origin, split)
    known = (recent.count >= LEAST_RECENT) & (before.count >= LEAST_BEFORE)
    group = scene.material.group
    count = np.maximum(recent.count, 1.0), np.maximum(before.count, 1.0)
    variance = noise.sigma**2 * sum(noise.inflate(group, size) / size for size in count)
    away = recent.value / count[0] - before.value / count[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        z = np.where(known & (variance > 0), away / np.sqrt(variance), np.nan)
    return np.asarray(z[:, _PLACES])


def _length(
    features: NDArray[np.float64], group: NDArray[np.int32], quiet: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Give each vehicle's distance from the middle of its sheet's quiet vehicles, in their spreads."""
    length = np.zeros(len(features))
    for number in np.unique(group).tolist():
        mine = group == number
        rows = features[mine & quiet]
        enough = np.isfinite(rows).sum(axis=0) >= len(rows) / 2
        if len(rows) < LEAST_BEFORE or not enough.any():
            continue
        rows, own = rows[:, enough], features[mine][:, enough]
        centre = np.nanmedian(rows, axis=0)
        spread = np.maximum(1.4826 * np.nanmedian(np.abs(rows - centre), axis=0), 1.0)
        length[mine] = np.sqrt(np.nansum(((own - centre) / spread) ** 2, axis=1))
    return length


def _finding(scene: Scene, verdict: Verdict, vehicle: int, view: OutlierView, row: int) -> Finding:
    readings = _readings(scene, verdict, vehicle, [name for name, _ in view.leading[row]])
    return Finding(
        vehicle=scene.fleet.vehicles[vehicle],
        group="unknown",
        tier="watch",
        rule=RULE,
        method=f"second opinion 1 ({view.method})",
        score=round(float(verdict.score[vehicle]), 4),
        ticket_level=round(scene.levels.ticket, 4),
        watch_level=round(scene.levels.watch, 4),
        onset_day=verdict.day - WINDOW_DAYS,
        causes=((CAUSES[UNKNOWN], 1.0), *((code, 0.0) for code in CAUSES if code != CAUSES[UNKNOWN])),
        lead=readings[0],
        series=readings,
        probability_30d=0.0,
        probability_crossing=0.0,
        probability_fault=0.0,
        held_back=HELD_BACK,
        notes=(
            *(f"odd:{name}:{100.0 * share:.0f}" for name, share in view.leading[row]),
            f"splits:{view.splits[row]:.1f}:{view.usual_splits:.1f}",
        ),
    )


def _readings(scene: Scene, verdict: Verdict, vehicle: int, names: list[str]) -> tuple[SeriesReading, ...]:
    place = np.array([PLACE[name] for name in names], dtype=np.int64)
    chosen = Chosen(
        vehicle=np.full(len(place), vehicle, np.int64),
        series=place,
        template=np.full(len(place), _TEMPLATE, np.int64),
        z=verdict.evidence.z[vehicle, _TEMPLATE, place],
        root=verdict.evidence.root_information[vehicle, _TEMPLATE, place],
    )
    described = describe(scene, verdict, chosen, told_shapes(scene, verdict, chosen))
    return write_readings(scene, verdict, chosen, described)
