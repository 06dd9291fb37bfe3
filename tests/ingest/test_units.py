"""Units: conversion of values and of differences, and what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import UnknownUnit, WrongUnit
from ingest.parameters import PARAMETERS
from ingest.units import (
    UNITS,
    convert,
    convert_difference,
    express,
    express_difference,
    list_allowed,
)


@pytest.mark.parametrize(
    ("code", "value", "unit", "expected"),
    [
        ("ECT", 194, "degF", 90),
        ("ECT", 363.15, "K", 90),
        ("ECT", -40, "degF", -40),
        ("VSS", 60, "mph", 96.56064),
        ("MAP", 29.921, "inHg", 101.324),
        ("MAP", 14.6959, "psi", 101.325),
        ("MAP", 1013.25, "mbar", 101.325),
        ("BARO", 1.01325, "bar", 101.325),
        ("MAF", 1, "lb/min", 7.559873),
        ("VPWR", 14100, "mV", 14.1),
        ("INJ_PW", 0.0035, "s", 3.5),
        ("CLR_DIST", 100, "mi", 160.9344),
        ("RPM", 742, "", 742),
        ("IAC_COUNTS", 30, "1", 30),
    ],
)
def test_conversions(code: str, value: float, unit: str, expected: float) -> None:
    """Every accepted unit arrives in the default one."""
    assert convert(float(value), unit, PARAMETERS[code]) == pytest.approx(expected, abs=2e-3)


def test_difference_does_not_shift() -> None:
    """A difference of 15 degC is 27 degF, not 59."""
    assert express_difference(15.0, "degF", PARAMETERS["ECT"]) == pytest.approx(27)
    assert convert_difference(27.0, "degF", PARAMETERS["ECT"]) == pytest.approx(15)
    assert convert_difference(15.0, "K", PARAMETERS["ECT"]) == pytest.approx(15)


def test_arrays_keep_missing_values() -> None:
    """A missing reading stays missing, and the input stays as it was."""
    given_values = np.array([194.0, np.nan])

    converted = convert(given_values, "degF", PARAMETERS["ECT"])

    np.testing.assert_allclose(converted, [90.0, np.nan])
    np.testing.assert_array_equal(given_values, [194.0, np.nan])


def test_unknown_unit_lists_allowed() -> None:
    """A unit nobody agreed on is refused, and the message says what may be used."""
    with pytest.raises(UnknownUnit, match="ECT may be given in degC, degF, K"):
        convert(90.0, "Celsius", PARAMETERS["ECT"])


def test_wrong_unit_lists_allowed() -> None:
    """A unit of another quantity is refused, and the message says what may be used."""
    with pytest.raises(WrongUnit, match="VPWR may be given in V, mV"):
        convert(90.0, "degC", PARAMETERS["VPWR"])


def test_flags_take_no_unit() -> None:
    """A flag has no unit."""
    with pytest.raises(WrongUnit, match="takes no unit"):
        convert(1.0, "V", PARAMETERS["CAM_SYNC"])


def test_default_unit_of_every_parameter_is_accepted() -> None:
    """Every quantity's default unit is in the list of accepted units."""
    for parameter in PARAMETERS.values():
        if parameter.kind in ("level", "count"):
            assert parameter.unit in UNITS
            assert list_allowed(parameter)[0] == parameter.unit


@given(
    st.sampled_from([code for code, parameter in PARAMETERS.items() if list_allowed(parameter)]),
    st.floats(-1e5, 1e5),
    st.data(),
)
def test_there_and_back(code: str, value: float, data: st.DataObject) -> None:
    """Converting and expressing undo each other, for every parameter and unit."""
    parameter = PARAMETERS[code]
    unit = data.draw(st.sampled_from(list_allowed(parameter)))

    there = convert(value, unit, parameter)

    assert express(there, unit, parameter) == pytest.approx(value, abs=1e-6)
