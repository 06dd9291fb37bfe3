"""Vehicle files: good rows in, wrong ones refused by row, doubtful VINs warned of."""

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import IngestError, UnknownKind, UnreadableBody
from ingest.vehicles import read_vehicles

HEADER = "vehicle,vin,spec_sheet,depot,time_zone,in_service_on,odometer_km,notes\n"


def test_csv() -> None:
    """Every column arrives; ids stay text."""
    body = (
        HEADER + '007,,HARROW-24,North,Europe/Berlin,2030-05-06,48211.5,"two\nlines, quoted"\n12E4,,,,,,,\n'
    )

    loaded = read_vehicles(body.encode(), "csv")

    assert loaded.rejected == ()
    first, second = loaded.rows
    assert (first.vehicle, second.vehicle) == ("007", "12E4")
    assert first.in_service_on == date(2030, 5, 6)
    assert first.odometer_km == 48211.5
    assert first.notes == "two\nlines, quoted"
    assert second.in_service_on is None


def test_json_forms_are_equal() -> None:
    """An object, an array and an object that holds the array say the same."""
    item = b'{"vehicle": "V-1", "odometer_km": 5}'

    forms = [item, b"[" + item + b"]", b'{"vehicles": [' + item + b"]}"]

    assert len({read_vehicles(form, "json").rows for form in forms}) == 1


@pytest.mark.parametrize(
    ("row", "code", "column"),
    [
        (",,,,,,,", None, None),
        (",1,,,,,,", "missing-column", "vehicle"),
        ("V-1,,,,Berlin,,,", "unknown-time-zone", "time_zone"),
        ("V-1,,,,../etc,,,", "unknown-time-zone", "time_zone"),
        ("V-1,,,,,06.05.2030,,", "bad-date", "in_service_on"),
        ("V-1,,,,,,far,", "wrong-type", "odometer_km"),
        ("V-1,,,,,,nan,", "wrong-type", "odometer_km"),
        ("V-1,,,,,,-5,", "out-of-range", "odometer_km"),
        ("V-1,,,,,,1_000,", "wrong-type", "odometer_km"),
        ("V-1,,S\x07,,,,,", "bad-name", "spec_sheet"),
        ("V" * 101 + ",,,,,,,", "bad-name", "vehicle"),
        ("V-1,,,", "bad-row", ""),
        ('V-1,,"a"b,,,,,', "bad-row", ""),
    ],
)
def test_wrong_rows(row: str, code: str | None, column: str | None) -> None:
    """A wrong row is refused with its place, code and column; a blank one is no row; good ones stay."""
    loaded = read_vehicles((HEADER + "V-0,,,,,,,\n" + row + "\nV-9,,,,,,,\n").encode(), "csv")

    assert [vehicle.vehicle for vehicle in loaded.rows] == ["V-0", "V-9"]
    found = [(refusal.index, refusal.code, refusal.field) for refusal in loaded.rejected]
    assert found == ([] if code is None else [(1, code, column)])


def test_json_items_that_are_none() -> None:
    """An item that is no object is rejected by its place."""
    loaded = read_vehicles(b'[5, {"vehicle": "V-1"}, {"vehicle": 7}]', "json")

    assert [vehicle.vehicle for vehicle in loaded.rows] == ["V-1"]
    assert [(refusal.index, refusal.code) for refusal in loaded.rejected] == [
        (0, "wrong-type"),
        (2, "wrong-type"),
    ]


def test_json_that_holds_no_list() -> None:
    """A JSON body that holds no items is wrong as a whole."""
    with pytest.raises(UnreadableBody, match="must be an object, an array"):
        read_vehicles(b"5", "json")


def test_repeated_vehicle() -> None:
    """One file cannot say two things of one vehicle."""
    loaded = read_vehicles(b"vehicle,depot\nV-1,North\nV-1,South\n", "csv")

    assert [refusal.code for refusal in loaded.rejected] == ["repeated-item"]
    assert loaded.rejected[0].vehicle == "V-1"


def test_vin_warns_and_is_kept() -> None:
    """A VIN that looks mistyped is kept as it came, with a warning that names the expected digit."""
    body = b"vehicle,vin\nV-1,1m8gdm9a1kp042788\nV-2,123\nV-3,1M8GDM9AXKP042788\n"

    loaded = read_vehicles(body, "csv")

    assert [vehicle.vin for vehicle in loaded.rows] == ["1M8GDM9A1KP042788", "123", "1M8GDM9AXKP042788"]
    assert [(warning.index, warning.code) for warning in loaded.warnings] == [
        (0, "vin-digit"),
        (1, "vin-shape"),
    ]
    assert "give X" in loaded.warnings[0].detail


def test_personal_columns_dropped() -> None:
    """Driver and position columns leave no trace but their count, in rejected rows too."""
    body = b"vehicle,driver,latitude,colour\nV-1,somebody,48.1,red\n,somebody,48.1,red\n"

    loaded = read_vehicles(body, "csv")

    assert loaded.personal_fields == 4
    assert loaded.unknown_columns == {"colour": 2}
    assert "somebody" not in repr(loaded)
    assert "48.1" not in repr(loaded)


def test_mark_is_taken_off() -> None:
    """A byte-order mark does not become part of the first column's name."""
    assert read_vehicles(b"\xef\xbb\xbfvehicle\nV-1\n", "csv").rows[0].vehicle == "V-1"


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", "empty-body"),
        (b"vehicle;depot\nV-1;North\n", "csv-separator"),
        (b"vehicle\tdepot\nV-1\tNorth\n", "csv-separator"),
        (b"vehicle,vehicle\nV-1,V-2\n", "repeated-column"),
        (b"vehicle,\nV-1,V-2\n", "repeated-column"),
        (b"vehicle\n\xff\n", "bad-encoding"),
        (b"\xff\xfev\x00", "bad-encoding"),
        (b'"vehicle\n', "bad-csv"),
    ],
)
def test_wrong_files(body: bytes, code: str) -> None:
    """A file that is wrong as a whole says so with its own code."""
    with pytest.raises(UnreadableBody) as caught:
        read_vehicles(body, "csv")

    assert caught.value.code == code


def test_unknown_kind() -> None:
    """Another kind is refused with the list of kinds."""
    with pytest.raises(UnknownKind, match="csv, json"):
        read_vehicles(b"", "xml")


@given(st.binary(max_size=300), st.sampled_from(["csv", "json"]))
def test_any_bytes_are_read_or_refused(body: bytes, kind: str) -> None:
    """No file breaks the reader."""
    with suppress(IngestError):  # anything else fails the test
        read_vehicles(body, kind)


CELLS = st.lists(
    st.sampled_from(["", "V-1", "V-2", "x", "1", "2030-01-01", "-5", "Europe/Berlin"]), max_size=8
)


@given(st.lists(CELLS, max_size=6))
def test_no_row_is_lost(rows: list[list[str]]) -> None:
    """Every row that is not blank is either read or refused, whatever it holds."""
    text = HEADER + "\n".join(",".join(row) for row in rows)

    loaded = read_vehicles(text.encode(), "csv")

    assert len(loaded.rows) + len(loaded.rejected) == sum(any(row) for row in rows)


def test_a_fleet_may_refuse_mistyped_vins() -> None:
    """Asked to, a wrong check digit and a wrong shape refuse their rows; right and missing ones pass."""
    body = b"vehicle,vin\nA,11111111211111111\nB,123\nC,11111111111111111\nD,\n"

    loaded = read_vehicles(body, "csv", strict_vin=True)

    assert [(one.index, one.code, one.field) for one in loaded.rejected] == [
        (0, "vin-digit", "vin"),
        (1, "vin-shape", "vin"),
    ]
    assert [one.vehicle for one in loaded.rows] == ["C", "D"]
    assert loaded.warnings == ()
