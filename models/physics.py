"""What air and lead-acid cells do: the sums that a reading is held against.

One idea: the gas law predicts what a sound engine reads. Every function takes numbers or arrays (NaN in,
NaN out) in the units of the catalogue. None of the results is a vehicle's limit; a limit comes from its own
spec sheet.

References
----------
U.S. Standard Atmosphere, 1976: pressure at altitude.
J. B. Heywood, Internal Combustion Engine Fundamentals, 2.10 (from memory).
SAE J1979: definitions of LOAD_ABS (1.184 g/L; air of one cylinder over the displacement of one cylinder).
Battery Council International, as quoted in trade tables: voltage at rest against state of charge.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

GAS_CONSTANT: Final = 287.05
"""Of dry air [J / (kg K)]."""

KELVIN: Final = 273.15
"""0 degC [K]."""

SEA_LEVEL_KPA: Final = 101.325
"""Standard atmosphere 1976 [kPa]."""

SEA_LEVEL_K: Final = 288.15
"""Standard atmosphere 1976 [K]."""

LAPSE_K_PER_M: Final = 0.0065
"""Standard atmosphere 1976, troposphere [K / m]."""

LAPSE_EXPONENT: Final = 5.255876
"""g0 M / (R L) of the standard atmosphere 1976 [1]."""

TROPOPAUSE_M: Final = 11_000.0
"""Highest geopotential altitude of that formula [m]."""

LOAD_AIR_DENSITY: Final = 1.184
"""Air at 25 degC and 101.325 kPa, the denominator of SAE J1979's LOAD_ABS [g / L]."""

REST_CHARGE: Final = ((11.89, 0.0), (12.06, 25.0), (12.24, 50.0), (12.45, 75.0), (12.65, 100.0))
"""Voltage of a rested flooded 12 V battery at 26.7 degC [V] against charge [%]; Battery Council."""

REST_TABLE_SPREAD_V: Final = 0.1
"""By how much published tables differ from each other [V]: no charge is known better than this."""


def standard_pressure(altitude_m: ArrayLike) -> NDArray[np.float64]:
    """Give the standard atmosphere's pressure in the troposphere.

    Parameters
    ----------
    altitude_m : array-like
        Geopotential altitude, up to 11,000 [m].

    Returns
    -------
    float64 array
        Pressure [kPa].

    Raises
    ------
    OutOfRangeError
        Above the troposphere, or below -5,000 m.

    Examples
    --------
    >>> standard_pressure([0.0, 1000.0, 2000.0]).round(4)
    array([101.325 ,  89.8746,  79.4952])
    """
    height = np.asarray(altitude_m, dtype=np.float64)
    if np.any((height > TROPOPAUSE_M) | (height < -5000.0)):
        raise OutOfRangeError("altitude_m", "from -5,000 to 11,000", float(np.nanmax(np.abs(height))))
    return np.asarray(SEA_LEVEL_KPA * (1.0 - LAPSE_K_PER_M * height / SEA_LEVEL_K) ** LAPSE_EXPONENT)


def air_density(pressure_kpa: ArrayLike, temperature_degc: ArrayLike) -> NDArray[np.float64]:
    """Give the density of dry air by the gas law.

    Parameters
    ----------
    pressure_kpa, temperature_degc : array-like
        Pressure [kPa] and temperature [degC].

    Returns
    -------
    float64 array
        [g / L].

    Examples
    --------
    >>> float(air_density(101.325, 25.0).round(4))
    1.1839
    """
    kelvin = np.asarray(temperature_degc, dtype=np.float64) + KELVIN
    return np.asarray(1000.0 * np.asarray(pressure_kpa, dtype=np.float64) / (GAS_CONSTANT * kelvin))


def speed_density_flow(
    map_kpa: ArrayLike, iat_degc: ArrayLike, rpm: ArrayLike, displacement_l: ArrayLike, filling: ArrayLike
) -> NDArray[np.float64]:
    """Predict the air that a four-stroke engine draws from manifold pressure, temperature and speed.

    Parameters
    ----------
    map_kpa, iat_degc, rpm : array-like
        Manifold absolute pressure [kPa], intake air temperature [degC], engine speed [1/min].
    displacement_l : array-like
        Of the whole engine [L].
    filling : array-like
        Volumetric efficiency [1].

    Returns
    -------
    float64 array
        Air flow [g/s].

    Examples
    --------
    >>> float(speed_density_flow(35.0, 30.0, 750.0, 2.0, 0.60).round(5))
    3.01658
    """
    swept = np.asarray(displacement_l, dtype=np.float64) * np.asarray(rpm, dtype=np.float64) / 120.0
    return np.asarray(np.asarray(filling, dtype=np.float64) * air_density(map_kpa, iat_degc) * swept)


def filling_from_flow(
    maf: ArrayLike, map_kpa: ArrayLike, iat_degc: ArrayLike, rpm: ArrayLike, displacement_l: ArrayLike
) -> NDArray[np.float64]:
    """Give the volumetric efficiency that a measured air flow implies; an air meter that reads low lowers it.

    Parameters
    ----------
    maf : array-like
        Measured air flow [g/s].
    map_kpa, iat_degc, rpm, displacement_l : array-like
        As for `speed_density_flow`.

    Returns
    -------
    float64 array
        [1]; NaN where the engine stands or there is no pressure.

    Examples
    --------
    >>> float(filling_from_flow(3.0, 35.0, 30.0, 750.0, 2.0).round(6))
    0.596703
    """
    full = speed_density_flow(map_kpa, iat_degc, rpm, displacement_l, 1.0)
    return _ratio(maf, full)


def absolute_load(maf: ArrayLike, rpm: ArrayLike, displacement_l: ArrayLike) -> NDArray[np.float64]:
    """Give LOAD_ABS of SAE J1979 from total air flow and total displacement of a four-stroke engine.

    The standard divides the air of one cylinder by the displacement of one cylinder; total over total is
    the same. Mixing the two is wrong by a factor of the number of cylinders.

    Parameters
    ----------
    maf, rpm : array-like
        Air flow [g/s] and engine speed [1/min].
    displacement_l : array-like
        Of the whole engine [L].

    Returns
    -------
    float64 array
        [%]; NaN where the engine stands.

    Examples
    --------
    >>> float(absolute_load(3.0, 750.0, 2.0).round(4))
    20.2703
    """
    swept = np.asarray(rpm, dtype=np.float64) * LOAD_AIR_DENSITY * np.asarray(displacement_l, np.float64)
    return 100.0 * _ratio(120.0 * np.asarray(maf, dtype=np.float64), swept)


def resting_charge(
    voltage_v: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Read the charge of a rested, flooded 12 V battery as a band.

    Holds after 6 to 24 hours without charge or load. Published tables differ by up to 0.1 V, so the middle is
    worth little without its band.

    Parameters
    ----------
    voltage_v : array-like
        At rest, near 27 degC [V].

    Returns
    -------
    low, middle, high : float64 array
        Charge [%], held inside 0..100; middle by linear interpolation in the Battery Council's table.

    Examples
    --------
    >>> [float(part.round(1)) for part in resting_charge(12.35)]
    [51.2, 63.1, 75.0]
    """
    volts, charge = (np.array(column) for column in zip(*REST_CHARGE, strict=True))
    at = np.asarray(voltage_v, dtype=np.float64)
    away = REST_TABLE_SPREAD_V
    low, centre, high = (np.interp(at + shift, volts, charge) for shift in (-away, 0.0, away))
    return np.asarray(low), np.asarray(centre), np.asarray(high)


def _ratio(top: ArrayLike, bottom: NDArray[np.float64]) -> NDArray[np.float64]:
    """Divide; NaN where the divisor is zero, negative or missing."""
    usable = bottom > 0.0
    return np.where(usable, np.asarray(top, dtype=np.float64) / np.where(usable, bottom, 1.0), np.nan)
