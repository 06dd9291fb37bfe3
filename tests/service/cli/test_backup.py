"""`forelamp backup` and `restore`, as the runbook says them."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from service.cli.main import KNOWN_ERRORS, app
from service.store import BackupUnusable, RestoreRefused


@pytest.fixture(autouse=True)
def _home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FORELAMP_HOME", str(tmp_path / "home"))
    (tmp_path / "vehicles.csv").write_text("vehicle\nW-1\nW-2\n", "utf-8")
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(app, ["load", "vehicles", "vehicles.csv"]).exit_code == 0


def test_there_and_back(tmp_path: Path) -> None:
    """A backup, a change, a restore: the change is gone, and kept aside."""
    made = CliRunner().invoke(app, ["backup", "--out", "copy"])
    checked = CliRunner().invoke(app, ["backup", "verify", "copy", "--json"])
    (tmp_path / "more.csv").write_text("vehicle\nW-3\n", "utf-8")
    CliRunner().invoke(app, ["load", "vehicles", "more.csv"])
    refused = CliRunner().invoke(app, ["restore", "copy"])
    restored = CliRunner().invoke(app, ["restore", "copy", "--replace"])

    assert made.stdout.startswith("copy\n")
    assert json.loads(checked.stdout)["rows"]["vehicle"] == 2
    assert isinstance(refused.exception, RestoreRefused)
    assert "The store from before is kept" in restored.stdout
    assert "vehicles: 2" in CliRunner().invoke(app, ["status"]).stdout


def test_names_a_folder_by_the_time(tmp_path: Path) -> None:
    """Without a folder a backup goes into the data directory."""
    CliRunner().invoke(app, ["backup"])

    assert len(list((tmp_path / "home" / "backups").glob("*/manifest.json"))) == 1


def test_a_folder_that_is_no_backup(tmp_path: Path) -> None:
    """A folder without a manifest is refused with a sentence, status 2."""
    error = CliRunner().invoke(app, ["backup", "verify", str(tmp_path)]).exception

    assert isinstance(error, BackupUnusable)
    assert isinstance(error, KNOWN_ERRORS)
