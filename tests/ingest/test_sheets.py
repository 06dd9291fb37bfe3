"""Spec sheets: what they say arrives, what they leave out stays out, wrong ones are refused."""

import json
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import IngestError, UnknownKind, UnreadableBody
from ingest.records import Limit
from ingest.sheets import read_sheets

FULL = {
    "sheet": "HARROW-24",
    "revision": 2,
    "source": "service card 7",
    "fuel": "gasoline",
    "displacement_l": 2.4,
    "cylinders": 4,
    "banks": 1,
    "air_metering": "maf",
    "idle_control": "bypass_valve",
    "limits": [
        {"parameter": "LONGFT1", "state": "warm_idle", "low": -8.0, "high": 8.0, "unit": "%"},
        {"parameter": "ECT", "state": "cruise", "low": 176, "unit": "degF"},
    ],
    "aliases": {"BATTERY VOLTS": "VPWR"},
    "soak_hours": 5,
    "soak_gap_degC": 6,
    "charging": "fixed",
    "oil": "5W-30",
}
TOML = b"""
[[spec_sheets]]
sheet = "HARROW-24"
revision = 2
source = "service card 7"
issued = 2030-01-02
spare = [inf, 1.5]
limits = [{parameter = "LONGFT1", state = "warm_idle", low = -8.0, high = 8.0}]
"""


def read(**changes: object) -> tuple[str, str]:
    """Read the full sheet with changes; gives code and field of its refusal, empty where there is none."""
    loaded = read_sheets(json.dumps({**FULL, **changes}).encode(), "json")
    assert len(loaded.rows) + len(loaded.rejected) == 1
    return (loaded.rejected[0].code, loaded.rejected[0].field) if loaded.rejected else ("", "")


def test_full_sheet() -> None:
    """Every field arrives, limits in default units, further fields kept and counted."""
    loaded = read_sheets(json.dumps({"spec_sheets": [FULL]}).encode(), "json")

    (sheet,) = loaded.rows
    assert sheet.limits[0] == Limit(parameter="LONGFT1", state="warm_idle", low=-8, high=8)
    assert sheet.limits[1].low == pytest.approx(80)
    assert sheet.limits[1].high is None
    assert (sheet.soak_hours, sheet.soak_gap_degc) == (5, 6)
    assert sheet.further == {"oil": "5W-30"}
    assert loaded.unknown_columns == {"oil": 1}


def test_nothing_is_filled_in() -> None:
    """A sheet of three fields says nothing else: no displacement, no limits, no soak."""
    (sheet,) = read_sheets(b'{"sheet": "S", "revision": 1, "source": "card"}', "json").rows

    assert sheet.limits == ()
    assert sheet.displacement_l is None
    assert sheet.soak_hours is None
    assert sheet.charging is None


def test_toml() -> None:
    """TOML says the same; dates and infinite numbers, which JSON has not, are kept as text."""
    (sheet,) = read_sheets(TOML, "toml").rows

    assert sheet.limits == (Limit(parameter="LONGFT1", state="warm_idle", low=-8, high=8),)
    assert sheet.further == {"issued": "2030-01-02", "spare": ["inf", 1.5]}


@pytest.mark.parametrize("field", ["sheet", "revision", "source"])
def test_required_fields(field: str) -> None:
    """Name, revision and a source that a person can look up are required."""
    assert read(**{field: None}) == ("missing-column", field)


@pytest.mark.parametrize(
    ("limit", "code", "field"),
    [
        ({"parameter": "LONGFT1", "state": "warm_idle", "low": 8, "high": -8}, "low-above-high", "low"),
        ({"parameter": "TRIM", "state": "warm_idle", "low": 8}, "unknown-parameter", "parameter"),
        ({"parameter": "LONGFT1", "state": "idle", "low": 8}, "unknown-word", "state"),
        ({"parameter": "LONGFT1", "state": "warm_idle"}, "missing-column", "low"),
        ({"parameter": "VPWR", "state": "warm_idle", "low": 13, "unit": "kPa"}, "wrong-unit", "unit"),
        ({"parameter": "VPWR", "state": "warm_idle", "low": 13, "unit": "Volt"}, "unknown-unit", "unit"),
        ({"parameter": "VPWR", "state": "warm_idle", "low": 135}, "out-of-range", "low"),
        ({"parameter": "FUELSYS1", "state": "warm_idle", "low": 1}, "limit-not-numeric", "parameter"),
        ({"parameter": "VPWR", "state": "warm_idle", "low": 13, "max": 15}, "unknown-word", "max"),
        ({"parameter": "VPWR", "state": "warm_idle", "low": "thirteen"}, "wrong-type", "low"),
    ],
)
def test_wrong_limits(limit: dict[str, object], code: str, field: str) -> None:
    """A wrong limit refuses the whole sheet and names the limit: half a sheet would look complete."""
    assert read(limits=[limit]) == (code, f"limits[0].{field}")


def test_two_limits_for_one_band() -> None:
    """A parameter has one band in one state."""
    limit = {"parameter": "VPWR", "state": "warm_idle", "low": 13}

    assert read(limits=[limit, limit]) == ("limit-repeated", "limits[1]")


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"air_metering": "guess"}, "unknown-word", "air_metering"),
        ({"idle_control": "foot"}, "unknown-word", "idle_control"),
        ({"charging": "solar"}, "unknown-word", "charging"),
        ({"revision": 1.5}, "wrong-type", "revision"),
        ({"cylinders": 0}, "out-of-range", "cylinders"),
        ({"limits": {"a": 1}}, "wrong-type", "limits"),
        ({"aliases": {"VAC": "MAP"}}, "alias-not-absolute", "aliases"),
        ({"aliases": {"T": 5}}, "wrong-type", "aliases"),
        ({"aliases": ["T"]}, "wrong-type", "aliases"),
        ({"aliases": {"T": "TEMP"}}, "unknown-parameter", "aliases"),
    ],
)
def test_wrong_fields(changes: dict[str, object], code: str, field: str) -> None:
    """Each wrong field refuses the sheet with its own code."""
    assert read(**changes) == (code, field)


def test_revision_conflict() -> None:
    """The same revision with other content is refused; the same content twice is one sheet."""
    body = json.dumps({"spec_sheets": [FULL, FULL, {**FULL, "source": "other"}]}).encode()

    loaded = read_sheets(body, "json")

    assert len(loaded.rows) == 1
    assert [(refusal.index, refusal.code) for refusal in loaded.rejected] == [(2, "sheet-conflict")]


@pytest.mark.parametrize(("kind", "code"), [("toml", "bad-toml"), ("json", "bad-json")])
def test_wrong_files(kind: str, code: str) -> None:
    """A file that is neither says so."""
    with pytest.raises(UnreadableBody) as caught:
        read_sheets(b"= x", kind)

    assert caught.value.code == code


def test_unknown_kind() -> None:
    """Another kind is refused with the list of kinds."""
    with pytest.raises(UnknownKind, match="json, toml"):
        read_sheets(b"", "csv")


def test_one_sheet_as_toml() -> None:
    """A TOML file may hold one sheet without the array."""
    assert read_sheets(b'sheet = "S"\nrevision = 1\nsource = "card"\n', "toml").rows[0].sheet == "S"


@given(st.binary(max_size=300), st.sampled_from(["toml", "json"]))
def test_any_bytes_are_read_or_refused(body: bytes, kind: str) -> None:
    """No file breaks the reader."""
    with suppress(IngestError):  # anything else fails the test
        read_sheets(body, kind)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.sampled_from([*FULL, "limits", "x"]), JSON, max_size=6))
def test_any_sheet_is_read_or_refused(document: dict[str, object]) -> None:
    """Whatever stands in a sheet's fields, the answer is one row or one refusal."""
    loaded = read_sheets(json.dumps([{**FULL, **document}]).encode(), "json")

    assert len(loaded.rows) + len(loaded.rejected) == 1
