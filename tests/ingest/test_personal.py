"""Driver and position fields never get past the door; engine words do."""

import pytest

from ingest.parameters import CODES, SWITCHES
from ingest.personal import is_personal, mentions_personal, strip_personal


@pytest.mark.parametrize(
    "name",
    [
        "driver",
        "Driver",
        "driver_id",
        "driverName",
        "DRIVER NAME",
        "drivers",
        "lat",
        "Latitude [deg]",
        "gpsLat",
        "GPS_LONGITUDE",
        "lon",
        "lng",
        "long",
        "gps",
        "GPS Speed",
        "geo",
        "geohash",
        "geo_point",
        "position",
        "vehicle_position",
        "location",
        "lastLocation",
        "address",
        "home address",
        "street",
        "coordinates",
        "postcode",
        "email",
        "phone",
        "operator",
        "heading",
    ],
)
def test_personal_names(name: str) -> None:
    """Names of drivers and positions are recognised however they are written."""
    assert is_personal(name)


@pytest.mark.parametrize(
    "name",
    [
        *CODES,
        *SWITCHES,
        "vehicle",
        "taken_at",
        "device",
        "odometer_km",
        "Absolute Throttle Position [%]",
        "Accelerator Pedal Position D [%]",
        "EGR valve position",
        "Driver's demand engine torque",
        "injector driver circuit",
        "Long Term Fuel Trim",
        "altitude_m",
        "wheel bearing temperature",
        "oil temperature",
        "plate voltage",
        "ignition coil driver",
    ],
)
def test_engine_names(name: str) -> None:
    """Names of engine quantities are left alone."""
    assert not is_personal(name)


def test_stripped_at_any_depth() -> None:
    """Nested fields are dropped and counted; the rest stays."""
    item = {"a": {"gps": {"x": 1, "y": 2}, "b": 1}, "list": [{"driver": "somebody", "c": 2}], "lat": 1}

    clean, dropped = strip_personal(item)

    assert clean == {"a": {"b": 1}, "list": [{"c": 2}]}
    assert dropped == 3


def test_bottomless_nesting_is_cut() -> None:
    """What is nested deeper than anybody looks is dropped as a whole."""
    nested: object = {"x": 1}
    for _ in range(100):
        nested = {"x": nested}

    assert strip_personal(nested)[1] == 1


def test_broken_text_is_searched() -> None:
    """Text that cannot be parsed is searched for the words."""
    assert mentions_personal('{"vehicle": "V-1", "lat": 48.1, "lo')
    assert not mentions_personal('{"vehicle": "V-1", "RPM": ')
