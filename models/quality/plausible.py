"""Is the reading plausible: the first question before the engine is blamed.

Three sums need no history. Measured air flow against what pressure, temperature and speed allow; absolute
load against the flow that it is defined by; outside pressure against the atmosphere. What fails says that a
sensor, a scale or the sheet's displacement is wrong, not which of them.

References
----------
SAE J1979: definition of LOAD_ABS. U.S. Standard Atmosphere, 1976. Both in `models.physics`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.findings import Unusable
from models.panel import Daily, Fleet
from models.physics import absolute_load, filling_from_flow, standard_pressure
from models.statistics.grouped import medians_within

WINDOW_DAYS: Final = 28
"""Days whose median is judged; chosen by us."""

LEAST_DAYS: Final = 5
"""Days with the readings that a check needs; chosen by us: no single reading condemns a sensor."""

FILLING: Final = (0.3, 1.3)
"""Volumetric efficiency that no naturally breathing engine leaves [1]; chosen by us, wide: a meter that reads
a fifth low stays inside and remains a fault to be found."""

LOAD_RATIO: Final = (0.7, 1.4)
"""Reported over computed absolute load [1]; chosen by us: a wrong scale or displacement is off by more."""

ALTITUDE_M: Final = (-430.0, 5_100.0)
"""Lowest shore and highest lasting settlement with roads [m]; from memory."""

WEATHER_KPA: Final = 6.0
"""What weather adds to or takes off the standard atmosphere [kPa]; chosen by us from sea-level extremes."""

_ABOUT: Final[dict[str, dict[str, tuple[str, ...]]]] = {
    "flow_against_pressure": {
        "warm_idle": ("MAF@warm_idle", "ln MAF/MAP@warm_idle"),
        "cruise": ("MAF@cruise", "ln MAF/MAP@cruise"),
    },
    "load_against_flow": {"warm_idle": ("LOAD_ABS@warm_idle",)},
    "pressure_range": {"koeo": ("MAP-BARO@koeo",), "koeo_soak": ("MAP-BARO@koeo",)},
}
"""Series that each check speaks about, by state."""

REASONS: Final = tuple(_ABOUT)
"""Reason codes, in the order of the checks."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Checks:
    """The checked quantities of every daily row that has any, by day; n rows.

    Parameters
    ----------
    vehicle, day, state : int64 arrays of shape (n,)
        State is the place in `parameters.STATES`; sorted by day.
    value : float64 array of shape (n, C)
        Filling [1], load ratio [1], outside pressure [kPa], in the order of `REASONS`; NaN where not known.
    """

    vehicle: NDArray[np.int64]
    day: NDArray[np.int64]
    state: NDArray[np.int64]
    value: NDArray[np.float64]


def bands() -> tuple[tuple[float, float], ...]:
    """Give the believable band of each check, in the order of `REASONS`."""
    thick, thin = (float(pressure) for pressure in standard_pressure(ALTITUDE_M))
    return FILLING, LOAD_RATIO, (thin - WEATHER_KPA, thick + WEATHER_KPA)


def read_checks(fleet: Fleet, daily: Daily) -> Checks:
    """Work out the checked quantities, once for all days.

    Parameters
    ----------
    fleet : Fleet
        Flow and load need the displacement on the vehicle's sheet; without one they are not checked.
    daily : Daily

    Returns
    -------
    Checks
    """
    sizes = [sheet.displacement_l or np.nan for sheet in fleet.sheets]
    litres = np.array([*sizes, np.nan])[fleet.sheet][daily.vehicle]
    flow, pressure, air, speed, load, outside = (
        daily.values[:, COLUMN[code]] for code in ("MAF", "MAP", "IAT", "RPM", "LOAD_ABS", "BARO")
    )
    expected = absolute_load(flow, speed, litres)
    value = np.column_stack(
        (
            filling_from_flow(flow, pressure, air, speed, litres),
            np.divide(load, expected, out=np.full(len(load), np.nan), where=expected > 0),
            outside,
        )
    )
    for column, reason in enumerate(REASONS):
        wanted = [STATES.index(state) for state in _ABOUT[reason]]
        value[~np.isin(daily.state, wanted), column] = np.nan
    row = np.flatnonzero(np.isfinite(value).any(axis=1))
    row = row[np.argsort(daily.day[row], kind="stable")]
    return Checks(
        vehicle=daily.vehicle[row].astype(np.int64),
        day=daily.day[row].astype(np.int64),
        state=daily.state[row].astype(np.int64),
        value=value[row],
    )


def implausible(fleet: Fleet, checks: Checks, day: int) -> tuple[Unusable, ...]:
    """Say which series' readings cannot be right, by the medians of the last four weeks.

    Returns
    -------
    tuple of Unusable
        By vehicle and series. Reasons: `flow_against_pressure`, `load_against_flow`, `pressure_range`.
    """
    first, last = np.searchsorted(checks.day, (day - WINDOW_DAYS + 1, day + 1))
    recent = slice(int(first), int(last))
    cell = checks.vehicle[recent] * len(STATES) + checks.state[recent]
    found = set()
    for column, (reason, band) in enumerate(zip(REASONS, bands(), strict=True)):
        value = checks.value[recent, column]
        known = np.isfinite(value)
        cells, middle = medians_within(value[known], cell[known], least=LEAST_DAYS)
        wrong = (middle < band[0]) | (middle > band[1])
        for place in cells[wrong].tolist():
            vehicle, state = fleet.vehicles[place // len(STATES)], STATES[place % len(STATES)]
            found |= {(vehicle, series, reason) for series in _ABOUT[reason][state]}
    return tuple(
        Unusable(vehicle=vehicle, series=series, reason=reason) for vehicle, series, reason in sorted(found)
    )
