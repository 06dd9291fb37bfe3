"""How dirty a fleet is: the strength of each nuisance, drawn once per seed.

Seeds differ in kind, not only in noise: one fleet has harsh winters and coarse loggers, another changes its
fuel twice. Ranges are chosen by us around the measured figures named in `engine.py`.
"""

from dataclasses import dataclass, fields

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Strengths:
    """Strength of each nuisance; shares are of vehicles or rows, counts are means.

    Parameters
    ----------
    noise, wander, tails : float
        Factor on recording-to-recording noise; sd of the slow healthy movement of learned trim [%];
        share of wild recordings.
    memory : float
        Day-to-day correlation of the trim's daily movement.
    season, temperature_slope : float
        Factor on the seasonal swing; factor on each type's own trim slope with temperature.
    cold_snaps, fuel_changes, winter_fuel_pct : float
        Snaps a history; blend changes of a depot a history; trim shift of winter fuel [%].
    bad_tanks, resets_recorded, resets_unrecorded, batteries : float
        Events per vehicle-year.
    moved, logger_swaps, coarse, fahrenheit, aliased, stateless, switchless : float
        Share of vehicles.
    gaps, night_work, late, duplicates, wrong_claim, unbelievable, personal : float
        Silent spells per vehicle-year; share of vehicles that work at night; shares of rows.
    visits, failed_repair, repaired : float
        Unrelated workshop visits per vehicle-year; share of repairs that first miss; share of complaints
        that are repaired.
    healthy_complaints : float
        Complaints without a fault, per vehicle-year.
    steps : float
        Share of faults that come at once rather than as a ramp.
    regridded, nameless : float
        Share of logger swaps that round otherwise; share of vehicles whose logger gives no name.
    unwritten : float
        Share of repairs that nobody writes down.
    pace, quick : float
        Factor on the days that faults take; share of ramps that take 10 to 30 of them rather than 30 to 200.
    """

    noise: float
    wander: float
    tails: float
    memory: float
    season: float
    temperature_slope: float
    cold_snaps: float
    fuel_changes: float
    winter_fuel_pct: float
    bad_tanks: float
    resets_recorded: float
    resets_unrecorded: float
    batteries: float
    moved: float
    logger_swaps: float
    coarse: float
    fahrenheit: float
    aliased: float
    stateless: float
    switchless: float
    gaps: float
    night_work: float
    late: float
    duplicates: float
    wrong_claim: float
    unbelievable: float
    personal: float
    visits: float
    failed_repair: float
    repaired: float
    healthy_complaints: float
    steps: float
    regridded: float
    nameless: float
    unwritten: float
    pace: float
    quick: float


_RANGES: dict[str, tuple[float, float]] = {
    "noise": (0.8, 1.2),
    "wander": (0.05, 0.3),
    "tails": (0.004, 0.02),
    "memory": (0.55, 0.75),
    "season": (0.7, 1.25),
    "temperature_slope": (0.4, 1.6),
    "cold_snaps": (1.0, 5.0),
    "fuel_changes": (0.5, 2.5),
    "winter_fuel_pct": (-1.4, 1.4),
    "bad_tanks": (0.05, 0.2),
    "resets_recorded": (0.08, 0.3),
    "resets_unrecorded": (0.05, 0.2),
    "batteries": (0.05, 0.15),
    "moved": (0.02, 0.1),
    "logger_swaps": (0.02, 0.08),
    "coarse": (0.04, 0.2),
    "fahrenheit": (0.08, 0.3),
    "aliased": (0.1, 0.35),
    "stateless": (0.04, 0.2),
    "switchless": (0.05, 0.2),
    "gaps": (0.3, 1.2),
    "night_work": (0.0, 0.15),
    "late": (0.005, 0.04),
    "duplicates": (0.003, 0.02),
    "wrong_claim": (0.001, 0.006),
    "unbelievable": (0.001, 0.006),
    "personal": (0.0, 0.01),
    "visits": (0.3, 1.0),
    "failed_repair": (0.05, 0.15),
    "repaired": (0.5, 0.8),
    "healthy_complaints": (0.03, 0.12),
    "steps": (0.06, 0.16),
    "regridded": (0.2, 0.8),
    "nameless": (0.0, 0.2),
    "unwritten": (0.0, 0.15),
    "pace": (1.0, 1.0),
    "quick": (0.08, 0.08),
}


def draw_strengths(rng: np.random.Generator) -> Strengths:
    """Draw every strength uniformly from its range.

    Returns
    -------
    Strengths
        One fleet's kind.
    """
    names = [item.name for item in fields(Strengths)]
    return Strengths(**{name: float(rng.uniform(*_RANGES[name])) for name in names})
