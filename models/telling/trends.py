"""Every followed series of every vehicle on a day, whether or not anything moved."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.scan import SHAPES
from models.findings import Trend
from models.series import SERIES
from models.telling.readings import Chosen, describe, watched_shapes, write_readings
from models.verdict.judge import Verdict
from models.verdict.scene import Scene

_NAMED: Final = np.array([series.parameter != "" for series in SERIES])
_AT_ONCE: Final = 20_000
"""Series described at once; chosen by us: their samples then take about 40 MB an array."""


def write_trends(scene: Scene, verdict: Verdict) -> tuple[Trend, ...]:
    """Describe every series with evidence, by vehicle and series.

    The onset is the likeliest ramp of the series alone. Slopes are weighed with "nothing changed" among the
    candidates: the weight of each onset is its own likelihood, so a quiet series shows a slope near zero.
    """
    roots = verdict.evidence.root_information[:, :: len(SHAPES), :]
    vehicle, place = np.nonzero((roots > 0).any(axis=1) & _NAMED)
    return tuple(
        trend
        for part in np.array_split(np.arange(len(vehicle)), len(vehicle) // _AT_ONCE + 1)
        for trend in _describe_part(scene, verdict, vehicle[part], place[part])
    )


def _describe_part(
    scene: Scene, verdict: Verdict, vehicle: NDArray[np.int64], place: NDArray[np.int64]
) -> tuple[Trend, ...]:
    """Describe some series, named by vehicle and place."""
    if not len(vehicle):
        return ()
    z = verdict.evidence.z[vehicle, :: len(SHAPES), place]
    root = verdict.evidence.root_information[vehicle, :: len(SHAPES), place]
    best = np.where(root > 0, z**2, -1.0).argmax(axis=1)
    row = np.arange(len(vehicle))
    chosen = Chosen(
        vehicle=vehicle,
        series=place,
        template=best * len(SHAPES),
        z=z[row, best],
        root=root[row, best],
    )
    quiet = _chance_of_nothing(z**2 / 2.0, root > 0)
    described = describe(scene, verdict, chosen, watched_shapes(verdict, chosen), quiet)
    readings = write_readings(scene, verdict, chosen, described)
    return tuple(
        Trend(vehicle=scene.fleet.vehicles[number], reading=reading)
        for number, reading in zip(vehicle.tolist(), readings, strict=True)
    )


def _chance_of_nothing(nats: NDArray[np.float64], tried: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Weigh "nothing changed" against a change at any of the ages tried, equally likely beforehand."""
    top = nats.max(axis=1)
    weight = np.where(tried, np.exp(nats - top[:, None]), 0.0)
    something = weight.sum(axis=1) / np.maximum(tried.sum(axis=1), 1)
    nothing: NDArray[np.float64] = np.exp(-top) / (np.exp(-top) + something)
    return nothing
