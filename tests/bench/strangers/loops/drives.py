"""The drives of a vehicle: when, how long, in what weather, on what fuel, with what loads switched on."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.life import Life
from tests.bench.strangers.loops.places import Climate, Floats

TANK_MIN = 420.0
"""Engine minutes on a full tank; chosen by us, 45 l at about 6 l an hour of mixed town driving."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drives:
    """A vehicle's drives in order; arrays of shape (drives,).

    Parameters
    ----------
    day : array of int
        Day of the history.
    hour, minutes, soak_h : array
        Local time of the start [h], length [min], and time since the engine last ran [h].
    air_c, baro_kpa : array
        Weather at the start [degC, kPa].
    alcohol, quality : array
        Share of alcohol in the tank [1]; what the fuel's own make-up adds to the trim [%].
    winter : array
        Share of winter fuel in the tank [1].
    level : array
        Contents of the tank over its size [1].
    aircon, lights, fan : array
        Share of the time with the compressor on, with lights on, and the fan's part of its full speed [1].
    odometer_km : array
        At the start [km].
    """

    day: NDArray[np.int64]
    hour: Floats
    minutes: Floats
    soak_h: Floats
    air_c: Floats
    baro_kpa: Floats
    alcohol: Floats
    quality: Floats
    winter: Floats
    level: Floats
    aircon: Floats
    lights: Floats
    fan: Floats
    odometer_km: Floats


def _draw_times(
    rng: np.random.Generator, vehicle: Vehicle, life: Life
) -> tuple[NDArray[np.int64], Floats, Floats]:
    days = np.flatnonzero(life.used)
    counts = 1 + rng.poisson(vehicle.drives_a_day - 1.0, len(days))
    day = np.repeat(days, counts).astype(np.int64)
    hour = rng.beta(1.6, 1.9, len(day)) * 13.0 + 6.0
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    hour[starts] = rng.normal(7.2, 0.8, len(days)).clip(5.0, 9.5)
    order = np.lexsort((hour, day))
    minutes = np.minimum(rng.lognormal(np.log(23.0), 0.55, len(day)), 110.0)
    return day, hour[order], minutes


def _burn(
    rng: np.random.Generator, drives: tuple[NDArray[np.int64], Floats], sold: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Follow the tank: it is filled when nearly empty and mixes what was left with what is sold."""
    day, minutes = drives
    found = np.empty((4, len(day)))
    level, alcohol, winter, quality = rng.uniform(0.2, 1.0), sold[0][0], sold[1][0], 0.0
    for index, (today, length) in enumerate(zip(day.tolist(), minutes.tolist(), strict=True)):
        if level < 0.22:
            left = level
            bad = rng.normal(0.0, 3.0) if rng.random() < 0.003 else 0.0
            alcohol = left * alcohol + (1.0 - left) * sold[0][today]
            winter = left * winter + (1.0 - left) * sold[1][today]
            quality = left * quality + (1.0 - left) * (rng.normal(0.0, 0.18) + bad)
            level = rng.uniform(0.8, 1.0)
        found[:, index] = alcohol, winter, quality, level
        level = max(level - length / TANK_MIN, 0.05)
    return found[0], found[1], found[2], found[3]


def _at_home(vehicle: Vehicle, climates: Sequence[Climate], days: int, name: str) -> Floats:
    here: Floats = np.array(getattr(climates[vehicle.depot], name))
    if vehicle.moved is not None:
        here[: vehicle.moved] = getattr(climates[vehicle.earlier], name)[: vehicle.moved]
    return here[:days]


def drive(rng: np.random.Generator, vehicle: Vehicle, life: Life, climates: Sequence[Climate]) -> Drives:
    """Draw all drives of a vehicle."""
    days = len(life.used)
    local = Climate(
        **{
            name: _at_home(vehicle, climates, days, name)
            for name in ("mean_c", "half_c", "baro_kpa", "alcohol", "winter")
        }
    )
    day, hour, minutes = _draw_times(rng, vehicle, life)
    stop = day * 24.0 + hour + minutes / 60.0
    # Two draws may overlap; the later drive then follows at once.
    soak = np.maximum(np.concatenate([[14.0], (day * 24.0 + hour)[1:] - stop[:-1]]), 0.05)
    air = local.air_c(day, hour) + rng.normal(0.0, 0.8, len(day))
    alcohol, winter, quality, level = _burn(rng, (day, minutes), (local.alcohol, local.winter))
    dark = (hour < 7.5) | (hour > 18.2)
    speed = rng.uniform(22.0, 55.0, len(day))
    return Drives(
        day=day,
        hour=hour,
        minutes=minutes,
        soak_h=soak,
        air_c=air,
        baro_kpa=local.baro_kpa[day],
        alcohol=alcohol,
        quality=quality,
        winter=winter,
        level=level,
        aircon=1.0 / (1.0 + np.exp(-(air - 21.0) / 2.2)),
        lights=np.where(dark, 0.9, 0.2),
        fan=np.clip(np.abs(air - 17.0) / 22.0, 0.0, 1.0),
        odometer_km=vehicle.odometer_km + np.cumsum(minutes / 60.0 * speed),
    )
