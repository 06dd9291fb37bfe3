"""Every followed series of every vehicle on a day, whether or not anything moved."""

import numpy as np

from models.findings import Trend
from models.judge import Verdict
from models.readings import Chosen, describe, write_readings
from models.scan import LAGS, SHAPES
from models.scene import Scene
from models.series import SERIES

_NAMED = np.array([series.parameter != "" for series in SERIES])


def write_trends(scene: Scene, verdict: Verdict) -> tuple[Trend, ...]:
    """Describe every series with evidence, by vehicle and series.

    The onset is the likeliest ramp of the series alone. Slopes are weighed with "nothing changed" among the
    candidates: the weight of each onset is its own likelihood, so a quiet series shows a slope near zero.
    """
    ramps = verdict.evidence.z[:, :: len(SHAPES), :]
    roots = verdict.evidence.root_information[:, :: len(SHAPES), :]
    vehicle, place = np.nonzero((roots > 0).any(axis=1) & _NAMED)
    if not len(vehicle):
        return ()
    z, root = ramps[vehicle, :, place], roots[vehicle, :, place]
    best = np.where(root > 0, z**2, -1.0).argmax(axis=1)
    row = np.arange(len(vehicle))
    chosen = Chosen(
        vehicle=vehicle,
        series=place,
        template=best * len(SHAPES),
        z=z[row, best],
        root=root[row, best],
    )
    described = describe(scene, verdict, chosen, z**2 / 2.0 - np.log(len(LAGS)))
    readings = write_readings(scene, verdict, chosen, described)
    return tuple(
        Trend(vehicle=scene.fleet.vehicles[number], reading=reading)
        for number, reading in zip(vehicle.tolist(), readings, strict=True)
    )
