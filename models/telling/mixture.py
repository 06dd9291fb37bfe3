"""What another fuel does to fuel trim: the size of the shift.

One idea: trim is the fuel added over the fuel planned, so a mass balance predicts it. Every function takes
numbers or arrays, NaN in, NaN out.

References
----------
J. B. Heywood, Internal Combustion Engine Fundamentals, eq. 3.6 and table D.4 (from memory): stoichiometry.
"""

from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

GASOLINE_AIR_FUEL: Final = 14.7
"""Stoichiometric air to fuel of gasoline [1]; the trade's figure, J1979's own example uses 14.64."""

ETHANOL_AIR_FUEL: Final = 9.0
"""Stoichiometric air to fuel of ethanol [1]; Heywood table D.4 (from memory), 9.002 computed."""

GASOLINE_DENSITY: Final = 745.0
"""Of gasoline [g / L]; a convention, real fuel is 720-775."""

ETHANOL_DENSITY: Final = 789.0
"""Of ethanol at 20 degC [g / L]."""

Metering = Literal["mass", "orifice", "volume"]


def blend_stoichiometry(ethanol_share: ArrayLike) -> NDArray[np.float64]:
    """Give the stoichiometric air to fuel ratio of gasoline with ethanol, weighted by mass.

    Parameters
    ----------
    ethanol_share : array-like
        Share of ethanol by volume, from 0 to 1.

    Returns
    -------
    float64 array
        Mass of air over mass of fuel [1].

    Raises
    ------
    OutOfRangeError
        For a share outside 0..1.

    Examples
    --------
    >>> blend_stoichiometry([0.0, 0.10, 0.85]).round(3)
    array([14.7  , 14.1  ,  9.814])
    """
    share = _demand_shares(ethanol_share, "ethanol_share")
    weight = share * ETHANOL_DENSITY / blend_density(share)
    return np.asarray(weight * ETHANOL_AIR_FUEL + (1.0 - weight) * GASOLINE_AIR_FUEL)


def blend_density(ethanol_share: ArrayLike) -> NDArray[np.float64]:
    """Give the density of gasoline with ethanol, volumes taken as additive.

    Parameters
    ----------
    ethanol_share : array-like
        Share of ethanol by volume, from 0 to 1.

    Returns
    -------
    float64 array
        [g / L].

    Examples
    --------
    >>> float(blend_density(0.10))
    749.4
    """
    share = _demand_shares(ethanol_share, "ethanol_share")
    return np.asarray(share * ETHANOL_DENSITY + (1.0 - share) * GASOLINE_DENSITY)


def blend_trim_shift(
    from_share: ArrayLike, to_share: ArrayLike, metering: Metering = "orifice"
) -> NDArray[np.float64]:
    """Predict the shift of fuel trim when the whole fleet's fuel changes its share of ethanol.

    Parameters
    ----------
    from_share, to_share : array-like
        Share of ethanol by volume before and after, from 0 to 1.
    metering : {"mass", "orifice", "volume"}
        What an unchanged injector command keeps: the fuel's mass; the pressure drop over an orifice
        (mass flow goes with the root of density); the fuel's volume.

    Returns
    -------
    float64 array
        Shift in trim [%], the same on every vehicle and at every load.

    Raises
    ------
    OutOfRangeError
        For a share outside 0..1 or another metering.

    Examples
    --------
    >>> [float(blend_trim_shift(0.0, 0.1, way).round(2)) for way in ("mass", "orifice", "volume")]
    [4.26, 3.95, 3.64]
    """
    powers = {"mass": 0.0, "orifice": 0.5, "volume": 1.0}
    if metering not in powers:
        raise OutOfRangeError("metering", f"one of {', '.join(powers)}", metering)
    richer = blend_stoichiometry(from_share) / blend_stoichiometry(to_share)
    denser = blend_density(from_share) / blend_density(to_share)
    return np.asarray(100.0 * (richer * denser ** powers[metering] - 1.0))


def _demand_shares(values: ArrayLike, name: str) -> NDArray[np.float64]:
    """Refuse numbers outside 0..1."""
    shares = np.asarray(values, dtype=np.float64)
    wrong = (shares < 0.0) | (shares > 1.0)
    if np.any(wrong):
        raise OutOfRangeError(name, "from 0 to 1", float(np.atleast_1d(shares)[np.atleast_1d(wrong)][0]))
    return shares
