"""Every published scaling of service 01, with worked bytes."""

import pytest

from ingest.errors import BadResponse
from ingest.parameters import PARAMETERS
from ingest.service01 import WIDTHS, decode

# answer in hexadecimal, name, value; scalings as in the public SAE J1699-3 program, bytes computed by hand
WORKED = (
    ("04 3C", "LOAD_PCT", 23.5294),
    ("11 26", "TP", 14.902),
    ("2E 00", "EVAP_PCT", 0.0),
    ("2C 80", "EGR_PCT", 50.196),
    ("2F 80", "FLI", 50.196),
    ("5B 80", "BAT_PWR", 50.196),
    ("45 0D", "TP_R", 5.098),
    ("4C 1E", "TAC_PCT", 11.765),
    ("52 1A", "ALCH_PCT", 10.196),
    ("05 82", "ECT", 90.0),
    ("0F 46", "IAT", 30.0),
    ("46 37", "AAT", 15.0),
    ("5C 87", "EOT", 95.0),
    ("06 7A", "SHRTFT1", -4.6875),
    ("08 80", "SHRTFT2", 0.0),
    ("07 8D", "LONGFT1", 10.15625),
    ("09 A0", "LONGFT2", 25.0),
    ("07 00", "LONGFT1", -100.0),
    ("07 FF", "LONGFT1", 99.21875),
    ("0A 64", "FRP", 300.0),
    ("0B 23", "MAP", 35.0),
    ("0B 80 4F 00 00 00 1A", "MAP", 130.5098),
    ("4F 00 00 00 1A 0B 80", "MAP", 130.5098),
    ("0C 0B B8", "RPM", 750.0),
    ("0C 1A F8", "RPM", 1726.0),
    ("0D 00", "VSS", 0.0),
    ("30 19", "WARM_UPS", 25.0),
    ("33 62", "BARO", 98.0),
    ("0E 94", "SPARKADV", 10.0),
    ("10 01 2C", "MAF", 3.0),
    ("10 40 00 50 50 00 00 00", "MAF", 200.003),
    ("14 5A 83", "O2S11", 0.45),
    ("14 5A 83", "SHRTFT_O2S11", 2.34375),
    ("1E 01", "AUXSTAT", 1.0),
    ("1F 01 2C", "RUNTM", 300.0),
    ("21 00 00", "MIL_DIST", 0.0),
    ("31 12 34", "CLR_DIST", 4660.0),
    ("4D 00 3C", "MIL_TIME", 60.0),
    ("4E 00 3C", "CLR_TIME", 60.0),
    ("24 80 00 60 00", "EQ_RAT11", 1.0),
    ("24 7C 28 60 00", "EQ_RAT11", 0.96997),
    ("24 80 00 60 00", "O2S11_WIDE_V", 3.0),
    ("34 80 00 80 00", "O2S11_MA", 0.0),
    ("34 80 00 7F 80", "O2S11_MA", -0.5),
    ("34 80 00 81 40", "O2S11_MA", 1.25),
    ("3C 11 30", "CATEMP11", 400.0),
    ("42 37 14", "VPWR", 14.1),
    ("43 00 34", "LOAD_ABS", 20.3922),
    ("43 01 40", "LOAD_ABS", 125.490),
    ("44 80 00", "LAMBDA1", 1.0),
    ("44 6E 14", "LAMBDA1", 0.85999),
    ("51 01", "FUEL_TYP", 1.0),
    ("5E 00 14", "FUEL_RATE", 1.0),
)


@pytest.mark.parametrize(("answer", "name", "value"), WORKED)
def test_worked_bytes(answer: str, name: str, value: float) -> None:
    """The published bytes give the published value."""
    assert decode(answer).values[name] == pytest.approx(value, abs=6e-4)


@pytest.mark.parametrize(("answer", "name", "value"), WORKED)
def test_answer_mark_changes_nothing(answer: str, name: str, value: float) -> None:
    """The leading 41 of an answer may be there or not."""
    assert decode("41 " + answer).values[name] == pytest.approx(value, abs=6e-4)


@pytest.mark.parametrize(
    ("bits", "status"),
    [("01", "OL"), ("02", "CL"), ("04", "OL-Drive"), ("08", "OL-Fault"), ("10", "CL-Fault")],
)
def test_fuel_system_bits(bits: str, status: str) -> None:
    """One bit names one fuel system status."""
    assert decode(f"03 {bits} 00").values == {"FUELSYS1": status}


@pytest.mark.parametrize("bits", ["12", "03", "FF", "20"])
def test_fuel_system_doubt_refused(bits: str) -> None:
    """Several bits, or one that is not defined, are refused, not guessed."""
    with pytest.raises(BadResponse) as caught:
        decode(f"03 {bits} 00")

    assert caught.value.code == "fuel-system-bits"


def test_fuel_system_off_gives_nothing() -> None:
    """Status 00 says that no fuel system reports: no value at all."""
    assert decode("03 00 00 0D 00").values == {"VSS": 0.0}


def test_sensor_not_in_trim() -> None:
    """Byte FF of an oxygen sensor is no trim of +99.2 %: the trim is left out and noted."""
    decoded = decode("14 5A FF")

    assert decoded.values == pytest.approx({"O2S11": 0.45})
    assert decoded.notes == ("o2-not-in-trim",)


def test_sensors_of_two_and_four_banks() -> None:
    """Identifier 16 is bank 1 sensor 3, or bank 2 sensor 1 on a vehicle that reports 1D."""
    assert "O2S13" in decode("16 5A 83").values
    assert "O2S21" in decode("16 5A 83 1D 33").values


def test_trims_of_four_banks() -> None:
    """With 1D reported, identifiers 06 to 09 carry two banks each."""
    assert decode("07 80 A0 1D FF").values == {"LONGFT1": 0.0, "LONGFT3": 25.0}
    assert decode("09 A0 80", four_banks=True).values == {"LONGFT2": 25.0, "LONGFT4": 0.0}


def test_every_catalogued_identifier() -> None:
    """Each parameter with an identifier decodes at both ends of its bytes to its stated range."""
    for parameter in PARAMETERS.values():
        if parameter.pid is None or parameter.kind == "code":
            continue
        width = WIDTHS[parameter.pid]
        low = decode(bytes([parameter.pid, *[0] * width])).values[parameter.code]
        high = decode(bytes([parameter.pid, *[0xFF] * width])).values[parameter.code]
        assert low == pytest.approx(parameter.low)
        assert width == parameter.width
        if parameter.code == "MAP":
            assert high == 255
        elif parameter.code == "MAF":
            assert high == pytest.approx(655.35)
        else:
            assert high == pytest.approx(parameter.high, rel=1e-4), parameter.code


def test_rescaled_maxima_are_the_stated_range() -> None:
    """With the largest maxima of 4F and 50, pressure and air flow reach the catalogue's upper ends."""
    assert decode("0B FF 4F 00 00 00 FF").values["MAP"] == PARAMETERS["MAP"].high
    assert decode("10 FF FF 50 FF 00 00 00").values["MAF"] == PARAMETERS["MAF"].high
