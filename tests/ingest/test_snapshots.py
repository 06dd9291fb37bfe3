"""Snapshots: what is accepted, what is quarantined or rejected and why, alike in every format."""

import json
from collections.abc import Mapping

import numpy as np
import pytest

from ingest.aliases import AliasTable
from ingest.batch import Arrival
from ingest.formats import read_snapshots
from ingest.parameters import CODES, COLUMN, FUEL_SYSTEM, STATES
from ingest.records import Alias
from ingest.times import read_time

TIME = "2031-03-04T06:12:09-05:00"
NOW = int(read_time("2031-03-04T12:00:00Z").timestamp()) * 1_000_000
GOOD = {"vehicle": "V-0017", "taken_at": TIME, "values": {"RPM": 742}}


def read(*items: Mapping[str, object], aliases: AliasTable | None = None, **more: str) -> Arrival:
    """Read items as one NDJSON body."""
    body = "\n".join(json.dumps(item) for item in items).encode()
    return read_snapshots(body, kind="ndjson", now_us=NOW, aliases=aliases or AliasTable(), **more)  # type: ignore[arg-type]


def values(arrival: Arrival, row: int = 0) -> dict[str, float]:
    """Collect a row's values that are there."""
    found = zip(CODES, arrival.batch.values[row].tolist(), strict=True)
    return {code: value for code, value in found if not np.isnan(value)}


def refused(arrival: Arrival) -> list[tuple[int, str, str]]:
    """List what was refused: place, code, field."""
    return [(found.index, found.code, found.field) for found in (*arrival.rejected, *arrival.quarantined)]


def test_example_of_the_format() -> None:
    """The format's own example arrives whole."""
    arrival = read(
        {
            "vehicle": "V-0017",
            "taken_at": TIME,
            "state": "warm_idle",
            "device": "L-220",
            "id": "x1",
            "odometer_km": 48211,
            "values": {
                "LONGFT1": 3.9,
                "RPM": 742,
                "ECT": {"value": 194, "unit": "degF"},
                "IAC": 34.5,
                "VPWR": 14.2,
            },
            "switches": {"ac": False, "power_steering": True},
        }
    )

    batch = arrival.batch
    assert refused(arrival) == []
    assert (batch.vehicle, batch.device, batch.given_id) == (["V-0017"], ["L-220"], ["x1"])
    assert batch.taken_us[0] == int(read_time(TIME).timestamp()) * 1_000_000
    assert values(arrival) == pytest.approx(
        {"LONGFT1": 3.9, "RPM": 742, "ECT": 90, "IAC": 34.5, "VPWR": 14.2}
    )
    assert STATES[batch.state[0]] == STATES[batch.claim[0]] == "warm_idle"
    assert batch.switches.tolist() == [[0, 1, -1]]
    assert batch.odometer_km.tolist() == [48211]
    assert json.loads(batch.extra[0] or "") == {"ECT": {"value": 194.0, "unit": "degF"}}


def test_flags_and_fuel_system() -> None:
    """Flags are true or false (or 1 or 0), the fuel system a word; null is missing."""
    arrival = read(
        {**GOOD, "values": {"CAM_SYNC": True, "CRANK_SYNC": 0, "FUELSYS1": "OL-Fault", "RPM": None}}
    )

    assert values(arrival) == {"CAM_SYNC": 1, "CRANK_SYNC": 0, "FUELSYS1": FUEL_SYSTEM.index("OL-Fault")}


def test_unknown_names_never_drop_a_snapshot() -> None:
    """Unknown values and keys of any kind are kept as they came and counted."""
    arrival = read(
        {
            **GOOD,
            "firmware": "1.2",
            "values": {
                "RPM": 742,
                "Oil": {"value": 3, "unit": "bar"},
                "Gear": "D",
                "x": [1, {"y": 2}],
                "z": True,
            },
        },
        {**GOOD, "taken_at": "2031-03-04T11:00:00Z", "values": {"Oil": 3}},
    )

    assert len(arrival.batch) == 2
    assert json.loads(arrival.batch.extra[0] or "") == {
        "firmware": "1.2",
        "Oil": {"value": 3.0, "unit": "bar"},
        "Gear": "D",
        "x": [1, {"y": 2}],
        "z": True,
    }
    assert arrival.unknown_names == {"firmware": 1, "Oil": 2, "Gear": 1, "x": 1, "z": 1}


def test_unknown_switches_are_kept() -> None:
    """A switch nobody knows is kept beside the values."""
    arrival = read({**GOOD, "switches": {"ac": True, "defroster": True}})

    assert arrival.batch.switches.tolist() == [[1, -1, -1]]
    assert json.loads(arrival.batch.extra[0] or "") == {"switches.defroster": True}


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"vehicle": ""}, "no-vehicle", "vehicle"),
        ({"vehicle": None}, "no-vehicle", "vehicle"),
        ({"vehicle": 17}, "wrong-type", "vehicle"),
        ({"vehicle": "V\n17"}, "bad-name", "vehicle"),
        ({"vehicle": "V\x0017"}, "bad-name", "vehicle"),
        ({"device": "L" * 201}, "bad-name", "device"),
        ({"id": 5}, "wrong-type", "id"),
        ({"taken_at": None}, "no-time", "taken_at"),
        ({"taken_at": "2031-03-04T06:12:09"}, "time-without-offset", "taken_at"),
        ({"taken_at": "soon"}, "bad-time", "taken_at"),
        ({"taken_at": 1930000000}, "wrong-type", "taken_at"),
        ({"values": {}}, "no-values", "values"),
        ({"values": {"RPM": None}}, "no-values", "values"),
        ({"values": [1]}, "wrong-type", "values"),
        ({"values": {"RPM": "742"}}, "bad-value", "RPM"),
        ({"values": {"RPM": True}}, "bad-value", "RPM"),
        ({"values": {"RPM": [1]}}, "bad-value", "RPM"),
        ({"values": {"RPM": {"value": "742", "unit": "1/min"}}}, "bad-value", "RPM"),
        ({"values": {"RPM": {"value": 742}}}, "bad-value", "RPM"),
        ({"values": {"RPM": 10**400}}, "not-finite", "RPM"),
        ({"values": {"RPM": {"value": 10**400, "unit": "1/min"}}}, "bad-value", "RPM"),
        ({"values": {"LONGFT1": "3,9"}}, "decimal-comma", "LONGFT1"),
        ({"values": {"FUELSYS1": 2}}, "bad-value", "FUELSYS1"),
        ({"values": {"FUELSYS1": "closed"}}, "bad-value", "FUELSYS1"),
        ({"values": {"CAM_SYNC": 2}}, "bad-value", "CAM_SYNC"),
        ({"values": {"CAM_SYNC": "yes"}}, "bad-value", "CAM_SYNC"),
        ({"values": {f"x{place}": 1 for place in range(501)}}, "too-many-values", "values"),
        ({"odometer_km": "far"}, "wrong-type", "odometer_km"),
        ({"odometer_km": True}, "wrong-type", "odometer_km"),
        ({"odometer_km": 10**400}, "wrong-type", "odometer_km"),
        ({"switches": [1]}, "wrong-type", "switches"),
        ({"switches": {"ac": 1}}, "wrong-type", "switches.ac"),
        ({"service01": "41 99"}, "service01-pid", "service01"),
    ],
)
def test_rejected(changes: dict[str, object], code: str, field: str) -> None:
    """What cannot be read is rejected with its place, code, field and a payload; its neighbours stay."""
    arrival = read(GOOD, {**GOOD, **changes}, {**GOOD, "vehicle": "V-2"})

    assert refused(arrival) == [(1, code, field)]
    assert len(arrival.rejected) == 1
    assert arrival.rejected[0].detail
    assert json.loads(arrival.rejected[0].payload)
    assert arrival.batch.index.tolist() == [0, 2]


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"taken_at": "2031-03-04T12:05:01Z"}, "future-time", "taken_at"),
        ({"taken_at": "1970-01-01T00:00:00Z"}, "clock-not-set", "taken_at"),
        ({"taken_at": "1980-01-06T00:00:00Z"}, "clock-not-set", "taken_at"),
        ({"taken_at": "2000-01-01T03:00:00-05:00"}, "clock-not-set", "taken_at"),
        ({"taken_at": "2000-01-01T00:00:00+14:00"}, "clock-not-set", "taken_at"),
        ({"state": "idle"}, "unknown-state", "state"),
        ({"values": {"ECT": -41}}, "out-of-range", "ECT"),
        ({"values": {"ECT": {"value": 500, "unit": "degF"}}}, "out-of-range", "ECT"),
        ({"values": {"VPWR": 70}}, "out-of-range", "VPWR"),
        ({"values": {"ECT": {"value": 90, "unit": "kPa"}}}, "wrong-unit", "ECT"),
        ({"values": {"ECT": {"value": 90, "unit": "C"}}}, "unknown-unit", "ECT"),
        ({"values": {"ECT": 90, "ECT [degF]": 90}}, "repeated-parameter", "ECT"),
        ({"odometer_km": -1}, "out-of-range", "odometer_km"),
        ({"odometer_km": 1e12}, "out-of-range", "odometer_km"),
    ],
)
def test_quarantined(changes: dict[str, object], code: str, field: str) -> None:
    """What can be read but not believed is quarantined, with a payload that gives the same again."""
    arrival = read(GOOD, {**GOOD, **changes}, {**GOOD, "vehicle": "V-2"})

    assert refused(arrival) == [(1, code, field)]
    (found,) = arrival.quarantined
    assert found.vehicle == "V-0017"
    assert arrival.batch.index.tolist() == [0, 2]
    again = read_snapshots(found.payload.encode(), kind="json", now_us=NOW, aliases=AliasTable())
    assert [(one.code, one.field, one.payload) for one in again.quarantined] == [(code, field, found.payload)]


@pytest.mark.parametrize("taken_at", ["2031-03-04T12:05:00Z", "1996-01-01T00:00:00Z", "2000-01-03T00:00:00Z"])
def test_times_at_the_edge_are_believed(taken_at: str) -> None:
    """Five minutes ahead, the first day of the epoch and the days after the reset day are believed."""
    assert refused(read({**GOOD, "taken_at": taken_at})) == []


def test_released_items_are_read_with_the_reason_waived() -> None:
    """A released snapshot goes in; a value that cannot be believed stays beside the columns."""
    item = {**GOOD, "values": {"RPM": 742, "ECT": 500, "VPWR": {"value": 14, "unit": "kPa"}}}
    body = json.dumps(item).encode()

    arrival = read_snapshots(
        body,
        kind="json",
        now_us=NOW,
        aliases=AliasTable(),
        waive=frozenset(("out-of-range", "wrong-unit")),
    )

    assert values(arrival) == {"RPM": 742}
    assert json.loads(arrival.batch.extra[0] or "") == {"ECT": 500, "VPWR": {"value": 14, "unit": "kPa"}}


def test_rounded_end_values_are_believed() -> None:
    """A sender may round the last digit of an end value up."""
    assert refused(read({**GOOD, "values": {"LONGFT1": 99.22, "O2S11": 1.277}})) == []


def test_sensor_ends_are_kept_and_noted() -> None:
    """A reading at the sensor's end is stored and counted: it speaks of wiring."""
    arrival = read({**GOOD, "values": {"ECT": -40, "VPWR": 0, "LONGFT1": 99.2, "IAT": 20}})

    assert arrival.notes["at-sensor-end"] == 3
    assert values(arrival)["ECT"] == -40


def test_repeats_in_one_body() -> None:
    """The same again counts as a duplicate; the same identity with other content is quarantined."""
    arrival = read(GOOD, GOOD, {**GOOD, "values": {"RPM": 800}}, {**GOOD, "device": "L-2"})

    assert arrival.batch.index.tolist() == [0, 3]
    assert arrival.notes["duplicate-in-batch"] == 1
    assert refused(arrival) == [(2, "conflicting-repeat", "")]


def test_given_id_is_the_identity() -> None:
    """With an id, two snapshots of one moment are two; one id with two contents is a conflict."""
    arrival = read(
        {**GOOD, "id": "a"},
        {**GOOD, "id": "b"},
        {**GOOD, "id": "a", "vehicle": "V-2"},
    )

    assert arrival.batch.index.tolist() == [0, 1]
    assert refused(arrival) == [(2, "conflicting-repeat", "")]


def test_refused_item_is_no_repeat() -> None:
    """A believable snapshot is not held to repeat one that was refused."""
    arrival = read({**GOOD, "values": {"ECT": 500}}, GOOD)

    assert arrival.batch.index.tolist() == [1]


def test_two_names_of_one_parameter_that_agree() -> None:
    """Two names may say the same."""
    assert values(read({**GOOD, "values": {"ECT": 90, "ECT [K]": 363.15}})) == {"ECT": pytest.approx(90)}


def test_aliases_by_scope() -> None:
    """The alias of the device, of the vehicle's sheet or of the fleet explains the name, in that order."""
    table = AliasTable.from_rows(
        [
            Alias(scope="device", scope_id="L-1", name="T", parameter="ECT", unit="degF"),
            Alias(scope="sheet", scope_id="S", name="T", parameter="IAT"),
            Alias(scope="fleet", scope_id="", name="T", parameter="AAT"),
        ]
    )
    items = [
        {"vehicle": vehicle, "taken_at": TIME, "device": device, "values": {"T": 50}}
        for vehicle, device in (("V-1", "L-1"), ("V-1", "L-2"), ("V-2", "L-2"))
    ]
    body = json.dumps(items).encode()

    arrival = read_snapshots(body, kind="json", now_us=NOW, aliases=table, sheet_of={"V-1": "S"})

    assert [values(arrival, row) for row in range(3)] == [
        {"ECT": pytest.approx(10)},
        {"IAT": 50},
        {"AAT": 50},
    ]


def test_defaults_for_a_whole_file() -> None:
    """Vehicle and device of the whole file fill in what items leave out, and no more."""
    arrival = read(
        {"taken_at": TIME, "values": {"RPM": 742}}, GOOD, aliases=AliasTable(), vehicle="V-1", device="L-9"
    )

    assert arrival.batch.vehicle == ["V-1", "V-0017"]
    assert arrival.batch.device == ["L-9", "L-9"]
    assert arrival.notes["other-vehicle-named"] == 1


def test_raw_answers_beside_values() -> None:
    """A raw service 01 answer gives values; one that contradicts a given value is quarantined."""
    raw = {**GOOD, "values": None, "service01": "41 0C 0B B8 03 02 00 14 5A FF"}

    arrival = read(raw, {**raw, "vehicle": "V-2", "values": {"RPM": 751}})

    assert values(arrival) == {"RPM": 750, "FUELSYS1": 1, "O2S11": pytest.approx(0.45)}
    assert refused(arrival) == [(1, "repeated-parameter", "RPM")]
    assert arrival.notes["o2-not-in-trim"] == 2


def test_states_are_noted() -> None:
    """Rows without a state say why, and the reasons are counted."""
    arrival = read(
        {**GOOD, "state": "cruise"}, {**GOOD, "vehicle": "V-2", "values": {"RPM": 742, "VSS": 0, "ECT": 90}}
    )

    assert arrival.batch.state.tolist() == [-1, STATES.index("warm_idle")]
    assert arrival.batch.claim.tolist() == [STATES.index("cruise"), -1]
    assert arrival.batch.state_note == ["state-claim-refuted", ""]
    assert arrival.notes == {"state-claim-refuted": 1}


def test_leap_second_is_noted() -> None:
    """A snapshot taken in a leap second is accepted and counted."""
    assert read({**GOOD, "taken_at": "2016-12-31T23:59:60Z"}).notes["leap-second"] == 1


PERSON = "Somebody-Anybody"
PLACE = 48.137154


def test_personal_fields_leave_no_trace() -> None:
    """Driver and position fields are counted and gone: from values, keys, nests, and refusals."""
    arrival = read(
        {**GOOD, "driver": PERSON, "position": {"x": PLACE, "y": 1}},
        {
            **GOOD,
            "vehicle": "V-2",
            "values": {"RPM": 742, "lat": PLACE, "gps": {"lon": PLACE}, "trip": {"driverName": PERSON}},
        },
        {**GOOD, "vehicle": "V-3", "driver": PERSON, "values": {"RPM": "x"}},
        {**GOOD, "vehicle": "V-4", "values": {"latitude": PLACE, "ECT": 500}},
        {**GOOD, "vehicle": "V-5", "odometer_km": "far", "location": [PLACE]},
        {**GOOD, "vehicle": "V-6", "values": {"lon": PLACE}},
    )

    assert arrival.personal_fields == 2 + 3 + 1 + 1 + 1 + 1
    assert len(arrival.batch) == 2
    assert PERSON not in repr(arrival)
    assert "48.13" not in repr(arrival)
    assert set(arrival.unknown_names) == {"trip"}


def test_broken_line_with_personal_field_is_withheld() -> None:
    """A line that cannot be parsed is not shown when it may name a driver or a place."""
    body = b'{"vehicle": "V-1", "driver": "Somebody-Anybody", \n{"vehicle": "V-1", "RPM": \n'

    arrival = read_snapshots(body, kind="ndjson", now_us=NOW, aliases=AliasTable())

    first, second = arrival.rejected
    assert first.payload == ""
    assert "driver or position" in first.detail
    assert second.payload == '{"vehicle": "V-1", "RPM": '
    assert arrival.personal_fields == 1


def test_columns_are_in_catalogue_order() -> None:
    """A value stands in its parameter's column and nowhere else."""
    arrival = read({**GOOD, "values": {"VPWR": 14.2}})

    assert np.flatnonzero(~np.isnan(arrival.batch.values[0])).tolist() == [COLUMN["VPWR"]]
