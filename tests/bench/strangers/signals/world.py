"""Depots with weather and fuel, spec sheets, and the aliases of sheets and loggers."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]


class Place(NamedTuple):
    """Where a depot lies: yearly mean and half swing [degC], ethanol sold at the start [%]."""

    name: str
    zone: str
    altitude_m: int
    mean: float
    swing: float
    ethanol: float


PLACES: Final = (
    Place("Fallow Lane", "America/Chicago", 260, 9.0, 14.0, 10.0),
    Place("Millpond", "America/New_York", 15, 17.0, 10.0, 8.0),
    Place("High Bench", "America/Denver", 1580, 9.5, 12.5, 6.0),
    Place("Saltmarsh", "America/Los_Angeles", 640, 15.0, 7.0, 10.0),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Depot:
    """A depot's days; float arrays of shape (days,).

    Parameters
    ----------
    place : Place
    temperature, pressure : float array
        Daily mean [degC], [kPa].
    ethanol, fuel_trim : float array
        Share sold [%]; what the fuel sold moves trims by [%].
    """

    place: Place
    temperature: Floats
    pressure: Floats
    ethanol: Floats
    fuel_trim: Floats


def with_memory(rng: np.random.Generator, count: int, phi: float, sd: float) -> Floats:
    """Draw stationary noise with a correlation from one step to the next."""
    drawn = rng.standard_normal(count) * sd * np.sqrt(1 - phi**2)
    drawn[0] = rng.standard_normal() * sd
    return np.asarray(lfilter([1.0], [1.0, -phi], drawn))


def make_depots(rng: np.random.Generator, start: date, days: int) -> list[Depot]:
    """Draw the weather and the fuel of every depot."""
    day_of_year = start.timetuple().tm_yday + np.arange(days)
    cold = np.cos(2 * np.pi * (day_of_year - 20) / 365)
    depots = []
    for place in PLACES:
        temperature = place.mean - place.swing * cold + with_memory(rng, days, 0.75, 3.2)
        for day in np.flatnonzero((cold > 0.5) & (rng.random(days) < 0.02)):  # cold snaps
            temperature[day : day + rng.integers(3, 8)] -= rng.uniform(8, 13)
        standard = 101.3 * (1 - place.altitude_m / 44329) ** 5.2559
        pressure = standard + with_memory(rng, days, 0.8, 0.7)
        share = np.full(days, place.ethanol)
        up = 1 if place.ethanol < 9 or rng.random() < 0.5 else -1
        # Changes of the blend move trims by two to four percent, there and back.
        for day in np.sort(rng.integers(40, days - 10, rng.integers(1, 3))):
            share[day:] = np.maximum(share[day:] + up * rng.uniform(5, 9.5), 0)
            up = -up
        turn = np.cos(2 * np.pi * (day_of_year - 10 - rng.integers(-8, 9)) / 365)
        winter = 1.0 * np.clip(turn * 4, -1, 1)
        depots.append(
            Depot(
                place=place,
                temperature=temperature,
                pressure=pressure,
                ethanol=share,
                fuel_trim=0.42 * (share - place.ethanol) + winter * 0.6,
            )
        )
    return depots


COMMON: Final = (
    "SHRTFT1", "LONGFT1", "RPM", "VSS", "ECT", "IAT", "VPWR", "FUELSYS1", "RUNTM", "WARM_UPS", "CLR_DIST",
    "O2S11", "O2S12",
)  # fmt: skip
"""Parameters that vehicles of every sheet report."""

OPTIONAL: Final = (
    "O2S12", "TP", "LOAD_PCT", "AAT", "BARO", "SPARKADV", "FLI", "LAMBDA1", "INJ_PW", "LOAD_ABS", "RUNTM",
    "WARM_UPS", "CLR_DIST",
)  # fmt: skip
"""Parameters that some vehicles of a sheet leave out."""

RARELY: Final = ("IAC", "MAP", "O2S11", "CRANK_VMIN", "FUELSYS1", "IAT")
"""Parameters that few vehicles leave out."""

LOGGER_NAMES: Final[Mapping[str, tuple[str, str | None]]] = {
    "LONGFT1": ("FT Long B1", None), "SHRTFT1": ("FT Short B1", None), "ECT": ("Coolant", "degF"),
    "IAT": ("Intake Air", "degF"), "VPWR": ("Module mV", "mV"), "MAF": ("Air flow lb/min", "lb/min"),
    "VSS": ("Speed", "mph"),
}  # fmt: skip
"""Names and units of loggers with their own vocabulary, told device by device."""

Limit = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A fictional spec sheet.

    Parameters
    ----------
    name : str
    revision : int
    litres : float
    cylinders, banks : int
    metering, idle, charging : str
        As on the sheet.
    reports : tuple of str
        Parameters that its vehicles report.
    limits : tuple of dict
        Rows of limits.
    aliases : mapping of str to str
        The sheet's own names.
    switches : tuple of str
        Switches that its vehicles report.
    idle_rpm : int
    soak : mapping of str to int
        Soak figures; empty where the sheet has none.
    """

    name: str
    revision: int
    litres: float
    cylinders: int
    banks: int
    metering: str
    idle: str
    charging: str
    reports: tuple[str, ...]
    limits: tuple[Limit, ...]
    aliases: Mapping[str, str]
    switches: tuple[str, ...]
    idle_rpm: int
    soak: Mapping[str, int]

    def entry(self) -> dict[str, Any]:
        """Give the sheet as the contract's file has it."""
        return {
            "sheet": self.name,
            "revision": self.revision,
            "source": f"Fictional service manual for {self.name}, volume 2, table {self.revision + 3}",
            "fuel": "gasoline",
            "displacement_l": self.litres,
            "cylinders": self.cylinders,
            "banks": self.banks,
            "air_metering": self.metering,
            "idle_control": self.idle,
            "limits": list(self.limits),
            "aliases": dict(self.aliases),
            "charging": self.charging,
            **self.soak,
        }


def _limit(parameter: str, state: str, low: float | None, high: float | None, unit: str) -> Limit:
    row = {"parameter": parameter, "state": state, "low": low, "high": high, "unit": unit}
    return {key: value for key, value in row.items() if value is not None}


def _trims(most: float, banks: int, cruise: float | None = None) -> tuple[Limit, ...]:
    at_cruise = cruise or most
    rows = []
    for bank in range(1, banks + 1):
        rows.append(_limit(f"LONGFT{bank}", "warm_idle", -most, most, "%"))
        rows.append(_limit(f"LONGFT{bank}", "cruise", -at_cruise, at_cruise, "%"))
    return tuple(rows)


_FIXED: Final = (_limit("VPWR", "warm_idle", 13.3, 14.7, "V"), _limit("VPWR", "cruise", 13.3, 14.7, "V"))
_COMMANDED: Final = (_limit("VPWR", "warm_idle", 12.4, 15.0, "V"), _limit("VPWR", "cruise", 12.4, 15.1, "V"))
_REST: Final = _limit("VPWR", "koeo_soak", 12.25, 12.95, "V")
_WARM: Final = (_limit("ECT", "warm_idle", 80, 103, "degC"), _limit("ECT", "cruise", 80, 103, "degC"))
_CRANK: Final = _limit("CRANK_VMIN", "crank", 9.0, None, "V")
_THROTTLE: Final = _limit("TAC_PCT", "warm_idle", 9.5, 20.5, "%")
_PRESSURE: Final = _limit("MAP", "warm_idle", 26, 42, "kPa")
_SOAK: Final = {"soak_hours": 5, "soak_gap_degC": 6}


def _reports(extra: str) -> tuple[str, ...]:
    return (*COMMON, *extra.split())


SHEETS: Final = (
    Sheet(
        name="ALDER-16", revision=2, litres=1.6, cylinders=4, banks=1, metering="maf", idle="bypass_valve",
        charging="fixed", reports=_reports("MAF TP LOAD_PCT IAC CRANK_VMIN SPARKADV"),
        limits=(
            *_trims(9.5, 1), *_FIXED, _REST, *_WARM, _limit("IAC", "warm_idle", 21, 44.5, "%"), _CRANK,
            _limit("MAF", "warm_idle", 1.5, 3.6, "g/s"),
        ),
        aliases={"BATTERY VOLTS": "VPWR", "IDLE AIR": "IAC"}, switches=("ac", "power_steering", "in_gear"),
        idle_rpm=740, soak=_SOAK,
    ),
    Sheet(
        name="BRACKEN-35", revision=4, litres=3.5, cylinders=6, banks=2, metering="maf",
        idle="electronic_throttle", charging="commanded",
        reports=_reports(
            "LONGFT2 SHRTFT2 AAT MAP BARO MAF TP TAC_PCT LOAD_PCT LOAD_ABS O2S21 SPARKADV CRANK_VMIN FLI"
        ),
        limits=(
            *_trims(9.5, 2), *_COMMANDED, _REST, *_WARM, _THROTTLE, _CRANK, _PRESSURE,
            _limit("MAF", "warm_idle", 3.2, 7.0, "g/s"),
        ),
        aliases={"SYS VOLT": "VPWR"}, switches=("ac", "power_steering", "in_gear"), idle_rpm=660, soak=_SOAK,
    ),
    Sheet(
        name="COLTSFOOT-24", revision=1, litres=2.4, cylinders=4, banks=1, metering="speed_density",
        idle="bypass_valve", charging="fixed", reports=_reports("MAP IAC TP LOAD_PCT INJ_PW CRANK_VMIN"),
        limits=(
            *_trims(9, 1, 9.5), *_FIXED, _REST, *_WARM, _limit("IAC", "warm_idle", 21, 45, "%"),
            _limit("MAP", "warm_idle", 26, 41, "kPa"), _limit("CRANK_VMIN", "crank", 8.9, None, "V"),
        ),
        aliases={"IAC %": "IAC", "MANIFOLD": "MAP"}, switches=("ac", "power_steering"), idle_rpm=720,
        soak={"soak_hours": 6, "soak_gap_degC": 7},
    ),
    Sheet(
        name="DOGWOOD-20", revision=3, litres=2.0, cylinders=4, banks=1, metering="speed_density",
        idle="electronic_throttle", charging="commanded",
        reports=_reports("MAP BARO AAT TAC_PCT TP LOAD_PCT LAMBDA1 ALCH_PCT INJ_PW CRANK_VMIN"),
        limits=(*_trims(9.5, 1), *_COMMANDED, _REST, *_WARM, _THROTTLE, _CRANK, _PRESSURE),
        aliases={}, switches=("ac", "in_gear"), idle_rpm=690, soak=_SOAK,
    ),
    # The sheet with gaps: no limits for idle air, cranking and rest, no soak figures.
    Sheet(
        name="ELDER-50", revision=2, litres=5.0, cylinders=8, banks=2, metering="maf", idle="bypass_valve",
        charging="fixed", reports=_reports("LONGFT2 SHRTFT2 MAF MAP IAC LOAD_PCT O2S21"),
        limits=(
            *(row for row in _trims(9.5, 2) if row["state"] == "warm_idle"), _FIXED[0], _WARM[0],
        ),
        aliases={"BAT": "VPWR"}, switches=(), idle_rpm=640, soak={},
    ),
)  # fmt: skip
