"""The table of causes."""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ingest.parameters import CAUSES
from models.causes import table as table_of_causes
from models.causes.table import (
    UNKNOWN,
    Nuisance,
    Pattern,
    bears_on,
    directions,
    groups,
    moved_by_repair,
    nuisances,
    patterns,
    priors,
    typical_shift,
)
from models.findings import GROUPS
from models.series import NAMES, PLACE, SERIES
from tests.models.fleets import SHEET

KNOWN = [code for code in CAUSES if code != "unknown"]


@pytest.mark.parametrize("code", KNOWN)
def test_every_cause_is_described(code: str) -> None:
    """Every cause of the contract but `unknown` has a row, a prior and a group."""
    place = CAUSES.index(code)

    assert any(pattern.cause == place for pattern in patterns())
    assert priors()[place] > 0
    assert groups()[place] in GROUPS


def test_unknown_has_no_group() -> None:
    """`unknown` may be anything."""
    assert groups()[UNKNOWN] == ""


def test_priors_sum_to_one() -> None:
    """The shares before any reading sum to one."""
    assert priors().sum() == pytest.approx(1.0)


def test_rows_are_readable() -> None:
    """Every row says why in a sentence and names followed series with shifts that are not zero."""
    rows: tuple[Pattern | Nuisance, ...] = (*patterns(), *nuisances())
    for row in rows:
        assert row.why.endswith(".")
        assert row.shift
        assert set(row.shift) <= set(NAMES)
        assert all(row.shift.values())


def test_rows_ask_for_fields_that_a_sheet_has() -> None:
    """A condition names a field of a sheet."""
    for pattern in patterns():
        assert all(hasattr(SHEET, key) for key in pattern.when)


@pytest.mark.parametrize(
    ("sheet", "missing"),
    [
        (replace(SHEET, air_metering="speed_density"), "air_meter_low"),
        (replace(SHEET, idle_control="other"), "throttle_deposits"),
    ],
)
def test_the_sheet_rules_causes_out(sheet: object, missing: str) -> None:
    """An engine without an air meter has no weak air meter."""
    assert CAUSES.index(missing) not in directions(sheet).cause  # type: ignore[arg-type]
    assert CAUSES.index(missing) in directions(SHEET).cause


def test_a_field_the_sheet_does_not_give_fits_any() -> None:
    """What the sheet does not say rules nothing out, and no sheet at all neither."""
    silent = replace(SHEET, banks=None, air_metering=None, idle_control=None)

    assert set(directions(silent).cause) == set(directions(None).cause) == set(range(len(CAUSES)))
    np.testing.assert_array_equal(directions(silent).shift, directions(None).shift)


def test_a_vacuum_leak_behind_a_pressure_meter_closes_the_idle_valve() -> None:
    """By engine type the same cause shows otherwise: trims near normal, idle valve down."""
    table = directions(replace(SHEET, air_metering="speed_density"))
    rows = table.shift[table.cause == CAUSES.index("unmetered_air")]

    assert (rows[:, PLACE["IAC@warm_idle"]] < 0).all()
    assert (np.abs(rows[:, PLACE["LONGFT1@warm_idle"]]) < 3).all()


def test_either_sign_makes_two_directions() -> None:
    """A row that may change sign is there with both."""
    table = directions(SHEET)
    rows = table.shift[table.cause == CAUSES.index("coolant_sensor_bias")]

    for row in rows:
        assert any(np.array_equal(other, -row) for other in rows)


def test_rows_that_only_name_stand_beside_rows_that_raise() -> None:
    """A row that raises nothing has another of its cause that does, and what nobody described raises."""
    raising, naming = directions(None), directions(None, naming=True)
    known = {row.tobytes() for row in raising.shift}
    only = np.array([row.tobytes() not in known for row in naming.shift])

    assert only.sum() == len(naming.shift) - len(raising.shift) > 0
    assert not naming.single[only].any()
    assert set(naming.cause[only]) <= set(raising.cause)


def test_what_nobody_described_moves_one_series() -> None:
    """Directions of `unknown` move one series that may speak alone, each way that is not good news."""
    table = directions(SHEET)
    rows = table.shift[table.cause == UNKNOWN]

    assert ((rows != 0).sum(axis=1) == 1).all()
    assert len(rows) == sum(2 - abs(series.better) for series in SERIES if series.alone)
    np.testing.assert_array_equal(table.single, table.cause == UNKNOWN)


def test_nuisances_excuse_only_what_they_touch() -> None:
    """A nuisance excuses directions of its causes that share a series with it, and no others."""
    table = directions(SHEET)

    for number, nuisance in enumerate(nuisances()):
        shared = ((table.shift != 0) & (table.excuse[number] != 0)).any(axis=1)
        expected = shared & np.isin(table.cause, nuisance.excuses)
        np.testing.assert_array_equal(table.excused[number], expected)


def test_every_series_has_a_typical_size() -> None:
    """The size at which a shift is noticed is the largest that any cause gives, never zero."""
    size = typical_shift()

    assert (size > 0).all()
    assert size[PLACE["LONGFT1@warm_idle"]] == max(
        abs(pattern.shift.get("LONGFT1@warm_idle", 0.0)) for pattern in patterns()
    )
    assert size[PLACE["MAF@cruise"]] == 10.5
    assert size[PLACE["MAP-BARO@koeo"]] == 4.0


def test_a_series_that_no_cause_moves_has_twenty_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a row to say so, a shift of twenty of the sensor's steps is noticed."""
    monkeypatch.setattr(table_of_causes, "patterns", lambda: ())

    size = typical_shift.__wrapped__()

    assert size[PLACE["RPM@warm_idle"]] == 20 * SERIES[PLACE["RPM@warm_idle"]].step


@pytest.mark.parametrize("cause", ["", "unknown"])
def test_an_untold_repair_bears_on_everything(cause: str) -> None:
    """A repair of who knows what may change any series."""
    assert bears_on(cause).all()


def test_a_told_repair_bears_on_its_rows() -> None:
    """A repair changes the series that the rows of its cause name."""
    touched = {NAMES[place] for place in np.flatnonzero(bears_on("thermostat_open"))}

    assert touched == {"ECT@cruise", "ECT@warm_idle"}


@pytest.mark.parametrize(
    ("cause", "moved", "kept"),
    [
        ("exhaust_leak_ahead_of_sensor", {"INJ_PW@warm_idle", "LONGFT2@cruise"}, {"IAC@warm_idle"}),
        ("map_sensor_bias", {"ln MAF/MAP@warm_idle", "ln MAF/MAP@cruise"}, {"VPWR@cruise", "IAC@warm_idle"}),
        ("load_switch_stuck", {"TP@warm_idle", "MAP@warm_idle"}, {"LONGFT1@warm_idle", "ECT@cruise"}),
        ("battery_ageing", {"VPWR@warm_idle", "CRANK_VMIN@crank"}, {"LONGFT1@warm_idle"}),
        ("thermostat_open", {"ECT@cruise"}, {"LONGFT1@warm_idle", "VPWR@cruise"}),
    ],
)
def test_a_repair_moves_what_is_computed_from_its_series(cause: str, moved: set[str], kept: set[str]) -> None:
    """A repair moves its rows and what follows from them, and nothing unrelated."""
    found = {NAMES[place] for place in np.flatnonzero(moved_by_repair(cause))}

    assert moved <= found
    assert not kept & found
    assert (moved_by_repair(cause) | ~bears_on(cause)).all()


def test_repairs_name_causes_and_series_that_exist() -> None:
    """Every cause of a repair's row is one of the table."""
    text = Path(table_of_causes.__file__).with_name("causes.toml").read_text(encoding="utf-8")

    for row in tomllib.loads(text)["repair"]:
        assert set(row["causes"]) <= set(CAUSES)
        assert set(row["moves"]) <= set(NAMES)


def test_a_fresh_battery_is_no_fault() -> None:
    """A single series that moves for the better alone has no direction that way; for the worse it has."""
    table = directions(None)
    for name in ("VPWR@koeo_soak", "CRANK_VMIN@crank"):
        alone = table.shift[table.single][:, PLACE[name]]
        assert alone.min() < 0
        assert alone.max() == 0
