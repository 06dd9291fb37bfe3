"""A history's files follow the exchange contract, are reproducible and hide the truth."""

import csv
import io
import json

import pytest

from ingest.aliases import AliasTable, read_aliases
from ingest.formats import iter_snapshots
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from service.demo.fleet import History, make_fleet
from service.demo.write import fleet_files

NOW_US = 1_790_000_000_000_000


@pytest.fixture(scope="module")
def history() -> History:
    """Give a small fleet."""
    return make_fleet(11, vehicles=40, days=120)


@pytest.fixture(scope="module")
def files(history: History) -> dict[str, bytes]:
    """Give its files."""
    return fleet_files(history)


def test_same_seed_gives_the_same_bytes(files: dict[str, bytes]) -> None:
    """Two runs with one seed agree byte for byte; another seed does not."""
    again, other = (fleet_files(make_fleet(seed, vehicles=40, days=120)) for seed in (11, 12))

    assert again == files
    assert other["vehicles.csv"] != files["vehicles.csv"]


def test_registers_are_read_without_refusal(files: dict[str, bytes]) -> None:
    """Vehicles, sheets, aliases and work are accepted to the last row."""
    loads = (
        read_vehicles(files["vehicles.csv"], "csv"),
        read_sheets(files["specs.json"], "json"),
        read_aliases(files["aliases.csv"], "csv"),
        read_work(files["work.csv"], "csv"),
    )

    assert [loaded.rejected for loaded in loads] == [(), (), (), ()]
    assert len(loads[0].rows) == 40
    assert all(sheet.source for sheet in loads[1].rows)


def test_snapshots_are_read_and_only_planted_nonsense_is_held_back(
    history: History, files: dict[str, bytes]
) -> None:
    """Every line can be read; what is quarantined is about what was spoilt on purpose."""
    aliases = AliasTable.from_rows(
        read_aliases(files["aliases.csv"], "csv").rows, read_sheets(files["specs.json"], "json").rows
    )
    sheet_of = {v.vehicle: v.spec_sheet for v in read_vehicles(files["vehicles.csv"], "csv").rows}
    kept = held = 0
    for name, body in files.items():
        if name.startswith("snapshots"):
            kind = name.rpartition(".")[2]
            for arrival in iter_snapshots(
                [body], kind=kind, now_us=NOW_US, aliases=aliases, sheet_of=sheet_of
            ):
                assert arrival.rejected == ()
                assert arrival.unknown_names == {} or set(arrival.unknown_names) <= {""}
                kept += len(arrival.batch.vehicle)
                held += len(arrival.quarantined)

    assert kept > 0.98 * len(history.rows)
    assert 0 < held <= history.counts["unbelievable"]


def test_files_hold_no_truth(files: dict[str, bytes]) -> None:
    """Neither onset nor severity nor any word for a planted fault is in what a service may see."""
    for body in files.values():
        assert b"onset" not in body
        assert b"severity" not in body


def test_personal_fields_are_deliberate_dirt_only(history: History, files: dict[str, bytes]) -> None:
    """Driver and position fields are the one placeholder, as often as counted, and nowhere else."""
    found = 0
    for name, body in files.items():
        if name.endswith(".ndjson"):
            for line in body.splitlines():
                item = json.loads(line)
                found += "driver" in item
                assert item.get("driver", "practice driver") == "practice driver"
                assert (item.get("latitude", 0.0), item.get("longitude", 0.0)) == (0.0, 0.0)
        else:
            assert b"driver" not in body

    assert found <= 1.2 * history.counts["personal"] + 3


def test_fahrenheit_aliases_and_repeats_reach_the_files(files: dict[str, bytes]) -> None:
    """Units given, foreign names, missing states and repeated lines are all there."""
    lines = [line for name, body in files.items() if name.endswith(".ndjson") for line in body.splitlines()]
    items = [json.loads(line) for line in lines]
    table = list(csv.reader(io.StringIO(files["snapshots-table.csv"].decode())))

    assert len(set(lines)) < len(lines)
    assert any(isinstance(item["values"].get("ECT"), dict) for item in items)
    assert any("Coolant" in item["values"] for item in items)
    assert any("state" not in item for item in items)
    assert "ECT [degF]" in table[0]
    assert len(table) > 1
