"""Daily summaries."""

import numpy as np
import pytest

from ingest.parameters import COLUMN, STATES, SWITCHES
from models.panel import Daily, Readings
from models.summarise import summarise
from tests.models.fleets import FIRST_DAY, snapshots

UNTOLD = np.array([np.nan, np.nan])
FIVE_HOURS = np.array([5.0, 5.0])


def _assert_equal(one: Daily, other: Daily) -> None:
    for name in ("vehicle", "day", "state", "readings", "values", "switched_on"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def _part(readings: Readings, keep: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Readings:
    return Readings(
        vehicle=readings.vehicle[keep],
        taken_us=readings.taken_us[keep],
        day=readings.day[keep],
        state=readings.state[keep],
        values=readings.values[keep],
        switches=readings.switches[keep],
    )


@pytest.mark.parametrize(("voltages", "middle"), [((14.0,), 14.0), ((14.0, 14.4), 14.2), ((14, 2, 14.6), 14)])
def test_median_of_a_day(voltages: tuple[float, ...], middle: float) -> None:
    """A row holds the median of the day's readings in one state."""
    rows = [(0, 8.0 + at, "warm_idle", {"VPWR": volts}) for at, volts in enumerate(voltages)]

    table = summarise(snapshots(rows), UNTOLD)

    assert table.readings.tolist() == [len(voltages)]
    assert table.values[0, COLUMN["VPWR"]] == pytest.approx(middle)


def test_states_and_days_are_never_averaged_together() -> None:
    """Each vehicle, day and state has a row of its own, in this order."""
    rows = [(0, 8.0, "cruise", {"VPWR": 13.0}), (0, 9.0, "warm_idle", {"VPWR": 14.0})]
    rows += [(0, 33.0, "warm_idle", {"VPWR": 15.0}), (1, 9.0, "warm_idle", {"VPWR": 16.0})]

    table = summarise(snapshots(rows), UNTOLD)

    idle, cruise = STATES.index("warm_idle"), STATES.index("cruise")
    assert table.state.tolist() == [idle, cruise, idle, idle]
    assert (table.day - FIRST_DAY).tolist() == [0, 0, 1, 0]
    assert table.values[:, COLUMN["VPWR"]].tolist() == [14.0, 13.0, 15.0, 16.0]


def test_local_days_need_not_follow_the_clock() -> None:
    """A vehicle moved to another zone may report an earlier local day later; rows are sorted all the same."""
    readings = snapshots([(0, 30.0, "warm_idle", {"VPWR": 14.0}), (0, 31.0, "warm_idle", {"VPWR": 13.0})])
    readings.day[:] = FIRST_DAY + 1, FIRST_DAY

    table = summarise(readings, UNTOLD)

    assert (table.day - FIRST_DAY).tolist() == [0, 1]
    assert table.values[:, COLUMN["VPWR"]].tolist() == [13.0, 14.0]


def test_missing_values_leave_the_median_alone() -> None:
    """A parameter that two of three readings carry has the median of the two."""
    rows = [(0, 8.0, "warm_idle", {"VPWR": 14.0, "IAC": 30.0}), (0, 9.0, "warm_idle", {"VPWR": 14.2})]
    rows += [(0, 10.0, "warm_idle", {"VPWR": 14.1, "IAC": 32.0})]

    table = summarise(snapshots(rows), UNTOLD)

    assert table.values[0, COLUMN["IAC"]] == 31.0
    assert np.isnan(table.values[0, COLUMN["RPM"]])


@pytest.mark.parametrize(("code", "stuck"), [("ECT", -40.0), ("VPWR", 0.0), ("LONGFT1", 99.21875)])
def test_a_sensor_at_its_end_is_missing(code: str, stuck: float) -> None:
    """A value at which a broken wire reads counts as missing, not as a measurement."""
    rows = [(0, 8.0, "warm_idle", {code: stuck}), (0, 9.0, "warm_idle", {code: stuck})]

    assert np.isnan(summarise(snapshots(rows), UNTOLD).values[0, COLUMN[code]])
    assert summarise(snapshots([*rows, (0, 9.5, "warm_idle", {code: 5.0})]), UNTOLD).values[
        0, COLUMN[code]
    ] == pytest.approx(5.0)


def test_rows_of_no_state_keep_their_counters_only() -> None:
    """A reading of no state still tells how far it is since memory was cleared, and nothing else."""
    table = summarise(snapshots([(0, 8.0, "", {"CLR_DIST": 120.0, "LONGFT1": 7.0, "FUELSYS1": 0.0})]), UNTOLD)

    assert table.state.tolist() == [-1]
    assert table.values[0, COLUMN["CLR_DIST"]] == 120.0
    assert np.isnan(table.values[0, [COLUMN["LONGFT1"], COLUMN["FUELSYS1"]]]).all()


def test_codes_are_not_averaged() -> None:
    """A status number has no median."""
    rows = [(0, 8.0, "warm_idle", {"FUELSYS1": 1.0}), (0, 9.0, "warm_idle", {"FUELSYS1": 3.0})]

    assert np.isnan(summarise(snapshots(rows), UNTOLD).values[0, COLUMN["FUELSYS1"]])


@pytest.mark.parametrize(("parked_h", "state"), [(4.9, "koeo"), (5.1, "koeo_soak")])
def test_a_short_soak_is_demoted(parked_h: float, state: str) -> None:
    """A claimed soak is plain key-on when the engine ran less than the sheet's soak time before."""
    rows = [(0, 8.0, "warm_idle", {"RPM": 700.0}), (0, 8.0 + parked_h, "koeo_soak", {"ECT": 20.0})]

    assert STATES.index(state) in summarise(snapshots(rows), FIVE_HOURS).state.tolist()


def test_a_soak_over_midnight_is_judged_by_the_day_before() -> None:
    """A run late in the evening refutes a soak early in the morning."""
    rows = [(0, 22.0, "warm_idle", {"RPM": 700.0}), (0, 25.0, "koeo_soak", {"ECT": 60.0})]

    assert STATES.index("koeo_soak") not in summarise(snapshots(rows), FIVE_HOURS).state.tolist()


@pytest.mark.parametrize(
    ("vehicle", "rpm", "hours"),
    [(1, 700.0, 5.0), (0, 0.0, 5.0), (0, 700.0, np.nan)],
    ids=["another vehicle ran", "the engine stood", "the sheet does not say"],
)
def test_a_soak_that_nothing_refutes_stands(vehicle: int, rpm: float, hours: float) -> None:
    """Only the same vehicle's running engine, held against a known soak time, refutes a soak."""
    rows = [(0, 8.0, "koeo", {"RPM": rpm if vehicle == 0 else 0.0}), (0, 9.0, "koeo_soak", {"ECT": 20.0})]
    if vehicle:
        rows = [(0, 8.0, "warm_idle", {"RPM": rpm}), (1, 9.0, "koeo_soak", {"ECT": 20.0})]

    assert STATES.index("koeo_soak") in summarise(snapshots(rows), np.full(2, hours)).state.tolist()


def test_share_of_readings_with_a_switch_on() -> None:
    """A switch is the share of the readings that reported it, and missing where none did."""
    readings = snapshots([(0, 8.0 + at, "warm_idle", {}) for at in range(4)], switches={"in_gear": 0})
    readings.switches[:, SWITCHES.index("ac")] = 1, 1, 0, -1

    table = summarise(readings, UNTOLD)

    assert table.switched_on[0, SWITCHES.index("ac")] == pytest.approx(2 / 3)
    assert table.switched_on[0, SWITCHES.index("in_gear")] == 0.0
    assert np.isnan(table.switched_on[0, SWITCHES.index("power_steering")])


def _busy_fortnight(seed: int) -> Readings:
    rng = np.random.default_rng(seed)
    rows = []
    for vehicle in range(2):
        for hour in np.sort(rng.uniform(0, 14 * 24, 120)):
            state = str(rng.choice([*STATES, ""]))
            rpm = 0.0 if state.startswith("koeo") else 700.0
            rows.append((vehicle, float(hour), state, {"RPM": rpm, "VPWR": rng.normal(14, 0.1)}))
    return snapshots(rows)


def test_day_by_day_equals_at_once() -> None:
    """Folding each day with the day before it in hand gives the same rows as folding everything."""
    readings = _busy_fortnight(3)
    whole = summarise(readings, FIVE_HOURS)
    soaks = whole.state == STATES.index("koeo_soak")

    days = []
    for day in range(FIRST_DAY, FIRST_DAY + 14):
        folded = summarise(_part(readings, (readings.day >= day - 1) & (readings.day <= day)), FIVE_HOURS)
        days.append((folded, folded.day == day))

    assert soaks.any()
    order = np.lexsort(
        [np.concatenate([getattr(table, name)[mine] for table, mine in days]) for name in ("day", "vehicle")]
    )
    for name in ("vehicle", "day", "state", "readings", "values"):
        joined = np.concatenate([getattr(table, name)[mine] for table, mine in days])[order]
        np.testing.assert_array_equal(joined, getattr(whole, name))


def test_a_late_day_does_not_change_the_others() -> None:
    """Readings that arrive after later ones change the rows of their own day and the soak of the next."""
    readings = _busy_fortnight(4)
    late = readings.day == FIRST_DAY + 5

    before, after = summarise(_part(readings, ~late), UNTOLD), summarise(readings, UNTOLD)

    kept = after.day != FIRST_DAY + 5
    assert len(after) > len(before)
    np.testing.assert_array_equal(after.values[kept], before.values)


def test_nothing_gives_nothing() -> None:
    """No readings, no rows."""
    assert len(summarise(snapshots([]), UNTOLD)) == 0


def test_input_is_left_as_it_was() -> None:
    """Folding changes no array it was given."""
    readings = snapshots([(0, 8.0, "koeo_soak", {"ECT": -40.0}), (0, 9.0, "", {"VPWR": 0.0})])
    values, state = readings.values.copy(), readings.state.copy()

    first = summarise(readings, FIVE_HOURS)

    np.testing.assert_array_equal(readings.values, values)
    np.testing.assert_array_equal(readings.state, state)
    _assert_equal(first, summarise(readings, FIVE_HOURS))
