"""What the fuel trim must correct, and how much of it the engine computer has learned.

Positive trim adds fuel: the mixture was lean. Correction terms come from mass balance (unmetered air over
metered air), from the square root of pressure across the injectors (Bernoulli) and from the gain of the air
meter (1 / gain - 1 at every flow).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.demo.faults import Effects
from service.demo.nuisances import Circumstances
from service.demo.roster import Roster, constant
from service.demo.sheets import TYPES
from service.demo.strengths import Strengths
from service.demo.town import Climate

Floats = NDArray[np.float64]

IDLE_KPA: Final = 31.0
CRUISE_KPA: Final = 55.0
"""Manifold pressures at which the trims are reckoned [kPa]; chosen by us (measured idles: 26-35 kPa)."""

CRUISE_AIR: Final = 4.2
"""Cruise airflow relative to warm idle airflow [1]; chosen by us (3 g/s against 12 g/s on two litres)."""

_RATIO: Final = np.array([0.528, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0])
_FLOW: Final = np.array([1.0, 0.9886, 0.9322, 0.8188, 0.6171, 0.4493, 0.0])
"""Subsonic flow through an orifice relative to choked flow, by pressure ratio (isentropic, ratio 1.4)."""

_WARM_K: Final = 305.0
_SENSED_LEAK: Final = 0.06
"""Share of a leak that a pressure-sensing engine still has to correct; engineering reasoning, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trims:
    """Trims by day; float arrays of shape (V, days, 2, 2): idle and cruise, bank 1 and 2 [%].

    Parameters
    ----------
    needed : float array
        Correction that the mixture needs.
    learned : float array
        What long-term trim holds of it.
    trust : float array of shape (V, days)
        0 right after a memory reset, 1 when fully relearned.
    """

    needed: Floats
    learned: Floats
    trust: Floats


def leak_flow(leak: Floats, pressure_kpa: Floats, manifold_kpa: float) -> Floats:
    """Give the leak's flow as a share of warm idle airflow, at a manifold pressure.

    `leak` is the share at sea level with choked flow; `pressure_kpa` is the outside pressure. Same shapes.
    """
    ratio = manifold_kpa / pressure_kpa
    return np.asarray(leak * pressure_kpa / 101.325 * np.interp(ratio, _RATIO, _FLOW), dtype=np.float64)


def _air_error(roster: Roster, effects: Effects, pressure: Floats) -> Floats:
    """Give fuel missing because air is misread, as a ratio of fuel wanted to fuel given; (V, days, 2)."""
    metered = np.array([kind.air_metering == "maf" for kind in TYPES])[roster.kind]
    error = np.ones((*effects.leak.shape, 2))
    for cell, (manifold, air) in enumerate(((IDLE_KPA, 1.0), (CRUISE_KPA, CRUISE_AIR))):
        flow = leak_flow(effects.leak, pressure, manifold) / air
        by_meter = 1 / (1 - flow) / effects.meter
        sensed = manifold / (manifold + effects.map_kpa) * (1 + effects.iat_c / _WARM_K)
        by_pressure = (1 + _SENSED_LEAK * flow) * sensed
        error[:, :, cell] = np.where(metered[:, None], by_meter, by_pressure)
    return error


def needed_trim(
    roster: Roster, effects: Effects, circumstances: Circumstances, climate: Climate, slope: float
) -> Floats:
    """Reckon the correction that each vehicle's mixture needs.

    Parameters
    ----------
    slope : float
        Factor on each type's own slope of trim with air temperature.

    Returns
    -------
    float array of shape (V, days, 2, 2)
        Idle and cruise, bank 1 and 2 [%].
    """
    days = effects.leak.shape[1]
    place = (roster.depot, np.arange(days)[None, :])
    own = np.stack(
        [
            constant("trim_idle")[roster.kind] + roster.trim_idle,
            constant("trim_cruise")[roster.kind] + roster.trim_cruise,
        ],
        axis=1,
    )
    weather = (slope * constant("trim_slope")[roster.kind] + roster.trim_slope)[:, None] * (
        climate.mean_c[place] - 12
    )
    healthy = own[:, None, :] + (weather + circumstances.fuel_pct)[:, :, None]
    fuel = 1 / np.sqrt(effects.pressure)
    air = _air_error(roster, effects, climate.pressure_kpa[place])
    common = (1 + healthy / 100) * air * fuel
    # A coolant sensor that reads cold keeps a little warm-up enrichment in.
    common = common - np.minimum(effects.ect_c, 0)[:, :, None] * -0.0006 - effects.purge
    banked = common[:, :, :, None] * (1 + effects.lean)
    banked[:, :, :, 1] += roster.bank_gap[:, None, None] / 100
    return np.asarray((banked - 1) * 100, dtype=np.float64)


def _wandering(rng: np.random.Generator, vehicles: int, days: int, phi: float) -> Floats:
    shocks = rng.normal(0, np.sqrt(1 - phi**2), (vehicles, days))
    shocks[:, 0] = rng.normal(0, 1, vehicles)
    for day in range(1, days):
        shocks[:, day] += phi * shocks[:, day - 1]
    return shocks


def make_trims(
    rng: np.random.Generator,
    roster: Roster,
    needed: Floats,
    reset: NDArray[np.bool_],
    strengths: Strengths,
) -> Trims:
    """Let every vehicle learn its trim day by day.

    Parameters
    ----------
    needed : float array of shape (V, days, 2, 2)
        From `needed_trim` [%].
    reset : bool array of shape (V, days)
        Days that start with an empty memory.

    Returns
    -------
    Trims
        With healthy day-to-day and slow movements added.
    """
    vehicles, days = reset.shape
    # sd 1.1 a day beside 0.75 a recording gives the measured 1.36 % and lag-1 correlation 0.3-0.5.
    daily = 1.1 * roster.noise[:, None] * _wandering(rng, vehicles, days, strengths.memory)
    slow = strengths.wander * _wandering(rng, vehicles, days, 0.985)
    own = 0.5 * roster.noise[:, None] * _wandering(rng, vehicles, days, strengths.memory)
    needed = needed + (daily + slow)[:, :, None, None]
    needed[:, :, 1, :] += own[:, :, None]
    learned = np.empty_like(needed)
    trust = np.ones((vehicles, days))
    held, sure = needed[:, 0].copy(), np.ones(vehicles)
    for day in range(days):
        held = held + roster.learning[:, None, None] * (needed[:, day] - held)
        sure = sure + roster.learning * (1 - sure)
        held[reset[:, day]] = 0.0
        sure[reset[:, day]] = 0.0
        learned[:, day], trust[:, day] = held, sure
    return Trims(needed=needed, learned=learned, trust=trust)
