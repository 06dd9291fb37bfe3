"""Accepted units, their conversion to a parameter's default unit, and differences.

References
----------
Inch of mercury (conventional), pound per square inch and mile: NIST Special Publication 811, appendix B.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.errors import UnknownUnit, WrongUnit
from ingest.parameters import Parameter

Number = TypeVar("Number", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True)
class Unit:
    """An accepted unit: base = value * factor + shift, in the base unit of its quantity."""

    quantity: str
    factor: float
    shift: float = 0.0


_FAHRENHEIT = 5 / 9
_ZERO_CELSIUS_K = 273.15
_INCH_MERCURY_KPA = 3.386389
_PSI_KPA = 6.894757293168
_MILE_KM = 1.609344
_POUND_PER_MINUTE_G_S = 453.59237 / 60

UNITS: Final[Mapping[str, Unit]] = {
    "%": Unit("share", 1),
    "1/min": Unit("engine speed", 1),
    "km/h": Unit("speed", 1),
    "mph": Unit("speed", _MILE_KM),
    "degC": Unit("temperature", 1),
    "degF": Unit("temperature", _FAHRENHEIT, -32 * _FAHRENHEIT),
    "K": Unit("temperature", 1, -_ZERO_CELSIUS_K),
    "kPa": Unit("pressure", 1),
    "psi": Unit("pressure", _PSI_KPA),
    "inHg": Unit("pressure", _INCH_MERCURY_KPA),
    "mbar": Unit("pressure", 0.1),
    "bar": Unit("pressure", 100),
    "g/s": Unit("mass flow", 1),
    "lb/min": Unit("mass flow", _POUND_PER_MINUTE_G_S),
    "V": Unit("voltage", 1),
    "mV": Unit("voltage", 0.001),
    "ms": Unit("time", 0.001),
    "s": Unit("time", 1),
    "km": Unit("distance", 1),
    "mi": Unit("distance", _MILE_KM),
    "deg": Unit("angle", 1),
    "1": Unit("number", 1),
}
"""Every accepted unit; nothing else is read, so that no unit is guessed."""


def list_allowed(parameter: Parameter) -> tuple[str, ...]:
    """List the units in which a parameter may be given, the default one first.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> list_allowed(PARAMETERS["ECT"])
    ('degC', 'degF', 'K')
    >>> list_allowed(PARAMETERS["FUELSYS1"])
    ()
    """
    default = UNITS.get(parameter.unit)
    if default is None:
        return ()
    others = (name for name, unit in UNITS.items() if unit.quantity == default.quantity)
    return (parameter.unit, *(name for name in others if name != parameter.unit))


def find_line(unit: str, parameter: Parameter) -> tuple[float, float]:
    """Find factor and shift that bring a value in `unit` into the parameter's default unit.

    Parameters
    ----------
    unit : str
        Accepted unit; empty means the default one.
    parameter : Parameter
        What is measured.

    Returns
    -------
    tuple of float
        (factor, shift): default = value * factor + shift.

    Raises
    ------
    UnknownUnit
        The unit is not in `UNITS`.
    WrongUnit
        The unit measures something else, or the parameter takes none.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> find_line("mV", PARAMETERS["VPWR"])
    (0.001, 0.0)
    """
    if unit in ("", parameter.unit):
        return 1.0, 0.0
    given, default = UNITS.get(unit), UNITS.get(parameter.unit)
    if given is None:
        raise UnknownUnit(unit, parameter.code, list_allowed(parameter))
    if default is None or given.quantity != default.quantity:
        raise WrongUnit(unit, parameter.code, list_allowed(parameter))
    return given.factor / default.factor, (given.shift - default.shift) / default.factor


def convert(values: Number, unit: str, parameter: Parameter) -> Number:
    """Convert readings to the parameter's default unit.

    Parameters
    ----------
    values : float or float64 array of any shape
        Readings in `unit`; NaN stays NaN.
    unit : str
        Accepted unit; empty means the default one.
    parameter : Parameter
        What is measured.

    Returns
    -------
    float or float64 array
        Readings in ``parameter.unit``.

    Raises
    ------
    UnknownUnit, WrongUnit
        The unit is not accepted, or not for this parameter; the message lists what is.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> round(convert(194.0, "degF", PARAMETERS["ECT"]), 9)
    90.0
    >>> round(convert(0.0042, "s", PARAMETERS["INJ_PW"]), 9)
    4.2
    """
    factor, shift = find_line(unit, parameter)
    return values * factor + shift


def convert_difference(values: Number, unit: str, parameter: Parameter) -> Number:
    """Convert differences of readings, which scale but do not shift, to the default unit.

    Parameters
    ----------
    values : float or float64 array of any shape
        Differences in `unit`; NaN stays NaN.
    unit : str
        Accepted unit; empty means the default one.
    parameter : Parameter
        What is measured.

    Returns
    -------
    float or float64 array
        Differences in ``parameter.unit``.

    Raises
    ------
    UnknownUnit, WrongUnit
        As for `convert`.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> round(convert_difference(27.0, "degF", PARAMETERS["ECT"]), 9)
    15.0
    """
    factor, _ = find_line(unit, parameter)
    return values * factor


def express(values: Number, unit: str, parameter: Parameter) -> Number:
    """Express readings held in the default unit in another accepted one, for showing.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> round(express(90.0, "degF", PARAMETERS["ECT"]), 9)
    194.0
    """
    factor, shift = find_line(unit, parameter)
    return (values - shift) / factor


def express_difference(values: Number, unit: str, parameter: Parameter) -> Number:
    """Express differences held in the default unit in another accepted one, for showing.

    Examples
    --------
    >>> from ingest.parameters import PARAMETERS
    >>> round(express_difference(15.0, "degF", PARAMETERS["ECT"]), 9)
    27.0
    """
    factor, _ = find_line(unit, parameter)
    return values / factor
