"""The followed series."""

from dataclasses import replace

import numpy as np
import pytest

from ingest.parameters import CODES, COLUMN, STATES, SWITCHES
from models.panel import Daily, Fleet, SheetFacts
from models.series import COVARIATES, NAMES, PLACE, SERIES, observe
from tests.models.fleets import SHEET, Town


def _row(state: str, **values: float) -> Daily:
    """Make one daily row."""
    known = np.full((1, len(CODES)), np.nan)
    switched = np.full((1, len(SWITCHES)), np.nan)
    for code, value in values.items():
        if code in COLUMN:
            known[0, COLUMN[code]] = value
        else:
            switched[0, SWITCHES.index(code)] = value
    return Daily(
        vehicle=np.zeros(1, np.int32),
        day=np.full(1, 19_000, np.int32),
        state=np.array([STATES.index(state) if state else -1], np.int8),
        readings=np.ones(1, np.int32),
        values=known,
        switched_on=switched,
    )


def _one(sheet: SheetFacts | None = SHEET) -> Fleet:
    return Town(1, 1, sheet=sheet).fleet()


def _read(fleet: Fleet, daily: Daily) -> dict[str, float]:
    seen = observe(fleet, daily)
    return {NAMES[place]: float(value) for place, value in zip(seen.series, seen.value, strict=True)}


def test_names_are_unique_and_say_the_state() -> None:
    """Every series has a name of its own that ends in its first state."""
    assert len(set(NAMES)) == len(SERIES)
    assert all(series.name.endswith(f"@{series.states[0]}") for series in SERIES)


def test_every_series_names_known_things() -> None:
    """States, parameters and covariates of every series exist."""
    for series in SERIES:
        assert set(series.states) <= set(STATES)
        assert series.parameter in CODES or (series.parameter == "" and series.bounded)
        assert set(series.explained_by) <= set(COVARIATES)


@pytest.mark.parametrize("state", [state for state in (*STATES, "") if state not in ("warm_idle", "cruise")])
def test_a_trim_in_another_state_enters_no_trim_series(state: str) -> None:
    """Readings of a wrong state, or of none (open loop), enter no trim series."""
    read = _read(_one(), _row(state, LONGFT1=9.0, LONGFT2=9.0, SHRTFT1=9.0, SHRTFT2=9.0))

    assert not read


def test_states_are_not_joined() -> None:
    """A trim at idle and one at cruise are two series."""
    assert set(_read(_one(), _row("warm_idle", LONGFT1=3.0))) == {"LONGFT1@warm_idle"}
    assert set(_read(_one(), _row("cruise", LONGFT1=3.0))) == {"LONGFT1@cruise"}


def test_pressure_with_the_key_on_joins_both_states() -> None:
    """Manifold and outside pressure agree with the engine off, soaked or not."""
    for state in ("koeo", "koeo_soak"):
        assert _read(_one(), _row(state, MAP=99.0, BARO=98.0)) == {"MAP-BARO@koeo": 1.0}


@pytest.mark.parametrize("sheet", [None, replace(SHEET, soak_hours=None)])
def test_unknown_soak_time_means_check_not_done(sheet: SheetFacts | None) -> None:
    """Without the sheet's soak time no temperatures are compared; the resting voltage still is."""
    row = _row("koeo_soak", ECT=20.0, IAT=18.0, AAT=18.0, VPWR=12.6)

    assert set(_read(_one(sheet), row)) == {"VPWR@koeo_soak"}
    assert set(_read(_one(), row)) == {"VPWR@koeo_soak", "ECT-IAT@koeo_soak", "IAT-AAT@koeo_soak"}


def test_negative_trims_stay_negative() -> None:
    """A learned trim keeps its sign; the swing of the short one has none."""
    read = _read(_one(), _row("warm_idle", LONGFT1=-7.0, SHRTFT1=-2.0))

    assert read == {"LONGFT1@warm_idle": -7.0, "|SHRTFT1|@warm_idle": 2.0}


def test_flow_is_read_on_a_relative_scale() -> None:
    """Ten per cent more measured flow is the same step at any flow."""
    small, large = (_read(_one(), _row("cruise", MAF=flow))["MAF@cruise"] for flow in (10.0, 11.0))
    low, high = (_read(_one(), _row("cruise", MAF=flow))["MAF@cruise"] for flow in (40.0, 44.0))

    assert large - small == pytest.approx(high - low)
    assert high - low == pytest.approx(100 * np.log(1.1))


def test_flow_against_pressure_cancels_breathing() -> None:
    """Twice the pressure with twice the flow is the same share of breathing."""
    one = _read(_one(), _row("warm_idle", MAF=3.0, MAP=30.0, RPM=700.0, IAT=20.0))["ln MAF/MAP@warm_idle"]
    two = _read(_one(), _row("warm_idle", MAF=6.0, MAP=60.0, RPM=700.0, IAT=20.0))["ln MAF/MAP@warm_idle"]

    assert one == pytest.approx(two)


@pytest.mark.parametrize("flow", [0.0, -1.0])
def test_no_logarithm_of_nothing(flow: float) -> None:
    """A flow of zero or less is missing on a relative scale, not an infinity."""
    assert "MAF@warm_idle" not in _read(_one(), _row("warm_idle", MAF=flow, MAP=30.0, RPM=700.0, IAT=20.0))


def test_switches_are_shares() -> None:
    """The share of idles with the air conditioner on is a series."""
    assert _read(_one(), _row("warm_idle", ac=0.25)) == {"ac@warm_idle": 0.25}


def test_outside_air_is_preferred_to_intake_air() -> None:
    """Air temperature is the outside air where the vehicle reports it, else the intake's."""
    place = list(COVARIATES).index("air_temperature")
    both = observe(_one(), _row("warm_idle", LONGFT1=1.0, AAT=10.0, IAT=30.0))
    intake = observe(_one(), _row("warm_idle", LONGFT1=1.0, IAT=30.0))

    assert both.covariates[0, place] == 1.0
    assert intake.covariates[0, place] == 3.0


def test_observations_are_sorted() -> None:
    """Rows come by vehicle, series, day."""
    seen = observe(Town(3, 9).fleet(), Town(3, 9).daily())

    key = (seen.vehicle.astype(np.int64) * len(SERIES) + seen.series) * 100_000 + seen.day
    assert (np.diff(key) > 0).all()
    assert len(seen) == 3 * 9 * 6
    assert PLACE["LONGFT1@warm_idle"] in seen.series


def test_nothing_gives_nothing() -> None:
    """An empty fleet has no observations."""
    empty = Town(0, 0)

    assert len(observe(empty.fleet(), empty.daily())) == 0
