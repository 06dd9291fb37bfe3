"""A simulated fleet is reproducible, complete and as noisy as measured engines; no seed is like another."""

from collections import Counter
from datetime import date

import numpy as np
import pytest
from numpy.typing import NDArray

from ingest.parameters import CAUSES, CODES, COLUMN, PARAMETERS
from service.demo.fleet import History, healthy_fleet, make_fleet, practice_fleet
from service.demo.sheets import TYPES


@pytest.fixture(scope="module")
def fleet() -> History:
    """Give one fleet of the usual size."""
    return make_fleet(3)


@pytest.fixture(scope="module")
def sound() -> History:
    """Give one fleet without faults."""
    return healthy_fleet(4, vehicles=100, weeks=52)


def _readings(history: History, code: str, *states: str) -> NDArray[np.float64]:
    column = history.clean[history.rows.among(*states), COLUMN[code]]
    return np.asarray(column[~np.isnan(column)])


def test_size_is_as_asked(fleet: History) -> None:
    """200 vehicles over 420 days send about 1.6 snapshots a vehicle-day, silent spells apart."""
    rate = len(fleet.rows) / (200 * 420)

    assert 1.3 < rate < 1.7
    assert fleet.date_of(fleet.days - 1) == date(2026, 6, 28)


@pytest.mark.parametrize("vehicles", [0, -3])
def test_impossible_sizes_are_refused(vehicles: int) -> None:
    """A fleet needs a vehicle, and the error says what was asked."""
    with pytest.raises(ValueError, match=f"got {vehicles}, 420"):
        make_fleet(1, vehicles=vehicles)


def test_every_cause_occurs_in_a_third_of_the_vehicles(fleet: History) -> None:
    """All causes but `unknown` are planted, alike often, at most one in a vehicle."""
    causes = Counter(fault.cause for fault in fleet.faults)

    assert set(causes) == set(CAUSES) - {"unknown"}
    assert max(causes.values()) - min(causes.values()) <= 1
    assert len({fault.vehicle for fault in fleet.faults}) == len(fleet.faults) == 67


def test_faults_come_fast_slow_and_at_once(fleet: History) -> None:
    """Ramps take days to months, some faults come as steps, some are repaired and some never."""
    ramps = [fault.days_to_one for fault in fleet.faults if fault.shape == "ramp"]

    assert min(ramps) < 40
    assert max(ramps) > 120
    assert 3 <= sum(fault.shape == "step" for fault in fleet.faults) <= 25
    assert 0.3 < np.mean([fault.end_day < fleet.days for fault in fleet.faults]) < 0.9


def test_a_fault_is_one_where_its_driver_complains(fleet: History) -> None:
    """Severity is 0 before the onset and about 1 on the day of the complaint."""
    for fault in fleet.faults:
        severity = fault.severity(fleet.days + 400)

        assert np.all(severity[: fault.onset_day] == 0)
        assert 0.8 < severity[fault.complaint_day] < 1.2


def test_complaints_are_on_record(fleet: History) -> None:
    """Every fault that reaches its complaint within the history has a work record of it."""
    noted = {(job.vehicle, job.day) for job in fleet.jobs if job.kind == "complaint"}

    for fault in fleet.faults:
        assert ((fault.vehicle, fault.complaint_day) in noted) == (fault.complaint_day < fleet.days)


def test_nuisances_are_there_and_counted(fleet: History) -> None:
    """Every nuisance that the seed can bring occurs in a fleet of the usual size."""
    always = set(fleet.counts) - {"blend_changes", "cold_snaps", "personal", "stuck_spells"}

    assert all(fleet.counts[name] > 0 for name in always), fleet.counts


def test_seeds_differ_in_kind() -> None:
    """Strengths of nuisances are drawn per seed, not only their noise."""
    first, second = (make_fleet(seed, vehicles=2, days=90).strengths for seed in (1, 2))

    assert first.coarse != second.coarse
    assert first.noise != second.noise


def test_readings_can_be_encoded(fleet: History) -> None:
    """Before logger and line touch them, readings sit on the standard's steps and within its range."""
    for code in CODES:
        column = fleet.clean[:, COLUMN[code]]
        known = column[~np.isnan(column)]
        parameter = PARAMETERS[code]
        assert len(known), code
        assert known.min() >= parameter.low
        assert known.max() <= parameter.high
        if parameter.step:
            counts = (known - parameter.low) / parameter.step
            assert np.abs(counts - counts.round()).max() < 1e-6, code


def test_idle_trim_is_as_noisy_as_measured(sound: History) -> None:
    """Warm idle LONGFT scatters 1.1-2.1 % a recording within a vehicle, lag-1 correlation 0.2-0.55."""
    scatter, together = [], []
    rows = sound.rows
    for vehicle in range(100):
        mine = rows.among("warm_idle") & (rows.vehicle == vehicle)
        trim = sound.clean[mine, COLUMN["LONGFT1"]]
        rest = trim[~np.isnan(trim)] - np.nanmean(trim)
        steps = np.diff(rest)
        scatter.append(np.sqrt(np.mean(steps**2) / 2))
        rest = np.clip(rest, -5, 5)
        together.append(np.mean(rest[1:] * rest[:-1]) / rest.var())

    assert 0.9 < np.median(scatter) < 1.6
    assert 0.2 < np.median(together) < 0.55


def test_voltage_falls_with_warmth_as_measured(sound: History) -> None:
    """Fixed charging at idle loses about 10 mV per degC and scatters 0.09-0.2 V within a vehicle."""
    rows = sound.rows
    fixed = np.array([kind.charging == "fixed" for kind in TYPES])[sound.roster.kind[rows.vehicle]]
    idle = rows.among("warm_idle") & fixed
    warmth, volts = sound.clean[idle, COLUMN["IAT"]], sound.clean[idle, COLUMN["VPWR"]]

    slope, level = np.polyfit(warmth, volts, 1)
    rest = volts - slope * warmth - level

    assert -0.014 < slope < -0.007
    assert 0.09 < rest.std() < 0.2


def test_key_on_readings_agree_after_a_soak(sound: History) -> None:
    """After a soak coolant and intake air agree, and MAP reads the outside pressure."""
    gap = sound.clean[:, COLUMN["ECT"]] - sound.clean[:, COLUMN["IAT"]]
    pressure = sound.clean[:, COLUMN["MAP"]] - sound.clean[:, COLUMN["BARO"]]
    soak = sound.rows.among("koeo_soak")

    assert np.quantile(np.abs(gap[soak]), 0.995) <= 6
    assert np.nanquantile(np.abs(pressure[soak]), 0.99) <= 2
    assert np.all(_readings(sound, "RPM", "koeo_soak", "koeo") == 0)


def test_healthy_readings_lie_within_the_sheets(sound: History) -> None:
    """Less than 2 % of a healthy fleet's readings leave their sheet's bands."""
    outside = total = 0
    kinds = sound.roster.kind[sound.rows.vehicle]
    for place, kind in enumerate(TYPES):
        for code, state, low, high, _ in kind.limits:
            values = sound.clean[sound.rows.among(state) & (kinds == place), COLUMN[code]]
            values = values[~np.isnan(values)]
            total += len(values)
            outside += int((values < (-np.inf if low is None else low)).sum())
            outside += int((values > (np.inf if high is None else high)).sum())

    assert outside / total < 0.02


def test_a_stuck_switch_reads_on_and_costs_air() -> None:
    """A stuck load input reads on in every snapshot and idle air steps up with it."""
    history = make_fleet(3)
    air = {True: "IAC", False: "TAC_PCT"}
    rises = []
    for fault in history.faults:
        if fault.cause != "load_switch_stuck" or history.roster.switchless[fault.vehicle]:
            continue
        mine = history.rows.vehicle == fault.vehicle
        since = (history.rows.day >= fault.onset_day) & (history.rows.day < min(fault.end_day, history.days))
        on = history.sent.switches[mine & since].max(axis=1)
        bypass = TYPES[history.roster.kind[fault.vehicle]].idle_control == "bypass_valve"
        idle = history.clean[:, COLUMN[air[bypass]]]
        warm = mine & history.rows.among("warm_idle")
        rises.append(np.nanmedian(idle[warm & since]) / np.nanmedian(idle[warm & ~since]))
        assert np.all(on == 1)

    assert len(rises) >= 2
    assert min(rises) > 1.05


def test_a_reset_reads_exactly_zero_then_relearns(fleet: History) -> None:
    """After a lost memory LONGFT is 0.00 that day, and counters start anew where they are sent."""
    rows = fleet.rows
    running = rows.among("warm_idle", "cruise")
    seen = 0
    for reset in fleet.resets:
        today = running & (rows.vehicle == reset.vehicle) & (rows.day == reset.day)
        trims = fleet.clean[today, COLUMN["LONGFT1"]]
        seen += len(trims)
        assert np.all(trims == 0)
        assert np.all(fleet.clean[today, COLUMN["CLR_DIST"]] < 300)
        assert np.all(fleet.clean[today, COLUMN["WARM_UPS"]] == 0)

    assert seen > 20


def test_the_practice_fleet_ends_on_the_given_day() -> None:
    """The practice fleet ends when the caller says, so that its newest readings are today's."""
    history = practice_fleet(date(2027, 2, 3), vehicles=12)

    assert history.date_of(history.days - 1) == date(2027, 2, 3)
    assert len(history.roster) == 12
