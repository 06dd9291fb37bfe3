"""Alias tables: narrower scope wins, nothing is guessed, wrong rows are refused."""

from contextlib import suppress
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.aliases import AliasTable, read_aliases, split_unit
from ingest.errors import BadAlias, IngestError
from ingest.records import Alias, SpecSheet


def make(
    name: str,
    parameter: str,
    scope: Literal["device", "sheet", "fleet"] = "fleet",
    owner: str = "",
    unit: str = "",
) -> Alias:
    """Make one alias row."""
    return Alias(scope=scope, scope_id=owner, name=name, parameter=parameter, unit=unit)


TABLE = AliasTable.from_rows(
    [
        make("Temp 1", "IAT"),
        make("Temp 1", "AAT", "sheet", "HARROW-24"),
        make("Temp 1", "ECT", "device", "L-220", "degF"),
        make("Engine RPM [RPM]", "RPM", unit="1/min"),
        make("Coolant", "ECT"),
    ]
)


def test_narrower_scope_wins() -> None:
    """A device's alias beats its sheet's, and that beats the fleet's."""
    assert TABLE.resolve("Temp 1", device="L-220", sheet="HARROW-24") == ("ECT", "degF")
    assert TABLE.resolve("Temp 1", device="L-1", sheet="HARROW-24") == ("AAT", "")
    assert TABLE.resolve("Temp 1", device="L-1", sheet="OTHER") == ("IAT", "")


def test_unknown_name_stays_unknown() -> None:
    """No name is guessed, not even by its letters' case."""
    assert TABLE.resolve("coolant") is None
    assert TABLE.resolve("rpm") is None


def test_codes_need_no_alias() -> None:
    """A parameter's own code is always known."""
    assert TABLE.resolve("LONGFT1") == ("LONGFT1", "")


def test_whole_header_first() -> None:
    """A header whose bracket is no accepted unit is known by its whole text."""
    assert TABLE.read_header("Engine RPM [RPM]") == ("RPM", "1/min")


def test_bracket_names_the_unit() -> None:
    """Otherwise name and unit are read apart."""
    assert TABLE.read_header("Coolant [degF]") == ("ECT", "degF")
    assert TABLE.read_header("ECT [K]") == ("ECT", "K")
    assert TABLE.read_header("Oil [degC]") is None


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("ECT [degF]", ("ECT", "degF")),
        ("ECT[degF]", ("ECT", "degF")),
        ("[degF]", ("[degF]", "")),
        ("a [b] [c]", ("a [b]", "c")),
        ("ECT", ("ECT", "")),
        ("ECT []", ("ECT", "")),
    ],
)
def test_splitting(text: str, parts: tuple[str, str]) -> None:
    """Only a bracket at the end is a unit."""
    assert split_unit(text) == parts


def test_sheet_brings_its_own() -> None:
    """A spec sheet's aliases count for its vehicles; a row of the alias file beats them."""
    sheet = SpecSheet(
        sheet="HARROW-24", revision=1, source="card", aliases={"BATTERY VOLTS": "VPWR", "T": "ECT"}
    )

    table = AliasTable.from_rows([make("T", "IAT", "sheet", "HARROW-24")], [sheet])

    assert table.resolve("BATTERY VOLTS", sheet="HARROW-24") == ("VPWR", "")
    assert table.resolve("BATTERY VOLTS") is None
    assert table.resolve("T", sheet="HARROW-24") == ("IAT", "")


@pytest.mark.parametrize(
    ("alias", "code"),
    [
        (make("Oil", "OILT"), "unknown-parameter"),
        (make("ECT", "IAT"), "alias-is-code"),
        (make("", "IAT"), "missing-column"),
        (make("T", "IAT", "device"), "alias-scope"),
        (make("T", "IAT", "fleet", "L-1"), "alias-scope"),
        (make("T", "IAT", unit="kPa"), "wrong-unit"),
        (make("T", "IAT", unit="Celsius"), "unknown-unit"),
        (make("Manifold Vacuum", "BARO", unit="inHg"), "alias-not-absolute"),
        (make("Vacuum (gauge)", "MAP"), "alias-not-absolute"),
        (make("BoostPressure", "MAP"), "alias-not-absolute"),
        (make("Latitude", "IAT"), "alias-personal"),
    ],
)
def test_wrong_aliases_refused(alias: Alias, code: str) -> None:
    """Each kind of wrong row has its own code."""
    with pytest.raises(BadAlias) as caught:
        AliasTable.from_rows([alias])

    assert caught.value.code == code


def test_same_name_twice_refused() -> None:
    """One scope cannot give a name two meanings."""
    with pytest.raises(BadAlias, match="stands twice"):
        AliasTable.from_rows([make("T", "IAT"), make("T", "ECT")])


def test_file_keeps_good_rows() -> None:
    """A file's wrong rows are refused by row, the others are read; unknown columns are counted."""
    body = (
        b"scope,scope_id,name,parameter,unit,why\n"
        b"fleet,,Coolant,ECT,degF,logger\n"
        b"fleet,,Coolant,IAT,,\n"
        b"truck,,Oil,ECT,,\n"
        b'sheet,HARROW-24,"Temp, intake",IAT,,\n'
    )

    loaded = read_aliases(body, "csv")

    assert [alias.name for alias in loaded.rows] == ["Coolant", "Temp, intake"]
    assert [(refusal.index, refusal.code) for refusal in loaded.rejected] == [
        (1, "alias-repeated"),
        (2, "unknown-word"),
    ]
    assert loaded.unknown_columns == {"why": 4}


def test_json_file() -> None:
    """The same rows as JSON."""
    loaded = read_aliases(b'{"aliases": [{"scope": "fleet", "name": "T", "parameter": "ECT"}]}', "json")

    assert loaded.rows == (make("T", "ECT"),)


@given(st.binary(max_size=300), st.sampled_from(["csv", "json"]))
def test_any_bytes_are_read_or_refused(body: bytes, kind: str) -> None:
    """No file breaks the reader; what it cannot read is one of this room's errors."""
    with suppress(IngestError):  # anything else fails the test
        read_aliases(body, kind)
