"""Operating states: claims held against values, missing ones inferred."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from ingest.parameters import CODES, COLUMN, FUEL_SYSTEM, STATES
from ingest.states import NOTES, judge

WARM = {"RPM": 742, "VSS": 0, "ECT": 90}
DRIVE = {"RPM": 2100, "VSS": 90, "ECT": 90}
OFF = {"RPM": 0, "VSS": 0}


def find(values: dict[str, float], claim: str = "") -> tuple[str, str]:
    """Judge one row; gives the state's name (empty for none) and the note."""
    row = np.full((1, len(CODES)), np.nan)
    for code, value in values.items():
        row[0, COLUMN[code]] = value
    place = STATES.index(claim) if claim else -1
    state, notes = judge(row, np.full((1, 3), -1, np.int8), np.array([place], np.int8))
    return (STATES[state[0]] if state[0] >= 0 else ""), notes[0]


OPEN, CLOSED = float(FUEL_SYSTEM.index("OL-Drive")), float(FUEL_SYSTEM.index("CL"))


@pytest.mark.parametrize(
    ("values", "state", "note"),
    [
        (WARM, "warm_idle", ""),
        ({**WARM, "FUELSYS1": CLOSED}, "warm_idle", ""),
        ({**WARM, "FUELSYS1": OPEN}, "", "open-loop"),
        ({**WARM, "RUNTM": 59}, "", "just-started"),
        ({**WARM, "RUNTM": 60}, "warm_idle", ""),
        ({**WARM, "RPM": 1100}, "warm_idle", ""),
        ({**WARM, "RPM": 1101}, "", "no-state"),
        ({**WARM, "ECT": 70}, "warm_idle", ""),
        ({**WARM, "ECT": 69}, "cold_idle", ""),
        ({**WARM, "ECT": 20, "RPM": 1400}, "cold_idle", ""),
        ({**WARM, "ECT": 20, "RPM": 1401}, "", "no-state"),
        ({**WARM, "ECT": 20, "FUELSYS1": OPEN}, "cold_idle", ""),
        ({**WARM, "VSS": 5}, "", "no-state"),
        ({"RPM": 742, "VSS": 0}, "", "no-state"),
        ({"RPM": 742, "ECT": 90}, "", "no-state"),
        ({"RPM": 742, "VSS": 0, "ECT": -40}, "", "no-state"),
        (DRIVE, "cruise", ""),
        ({**DRIVE, "VSS": 40}, "cruise", ""),
        ({**DRIVE, "VSS": 39}, "", "no-state"),
        ({**DRIVE, "RPM": 900}, "", "no-state"),
        ({**DRIVE, "FUELSYS1": OPEN}, "", "open-loop"),
        ({**DRIVE, "ECT": 45}, "", "not-warm"),
        ({**DRIVE, "ECT": 45, "RUNTM": 600}, "cruise", ""),
        ({"RPM": 2100, "VSS": 90}, "", "not-warm"),
        ({"RPM": 250, "VSS": 0}, "crank", ""),
        ({"RPM": 250}, "crank", ""),
        ({"RPM": 250, "VSS": 30}, "", "no-state"),
        (OFF, "koeo", ""),
        ({**OFF, "VSS": 30}, "", "no-state"),
        ({**OFF, "ECT": 12, "IAT": 15}, "koeo_soak", ""),
        ({**OFF, "ECT": 12, "IAT": 18.1}, "koeo", ""),
        ({**OFF, "ECT": 30, "IAT": 12, "AAT": 11}, "koeo_soak", ""),
        ({**OFF, "ECT": 85, "IAT": 12, "AAT": 11}, "koeo", ""),
        ({**OFF, "IAT": 12, "AAT": 11}, "koeo", ""),
        ({"VSS": 0, "ECT": 90}, "", "no-engine-speed"),
        ({}, "", "no-engine-speed"),
    ],
)
def test_inferred(values: dict[str, float], state: str, note: str) -> None:
    """Without a claim the values alone decide, narrowly."""
    assert find(values) == (state, note)


@pytest.mark.parametrize(
    ("claim", "values", "state", "note"),
    [
        ("warm_idle", WARM, "warm_idle", ""),
        ("warm_idle", {"RPM": 742}, "warm_idle", ""),
        ("warm_idle", {"LONGFT1": 3.9}, "warm_idle", ""),
        ("warm_idle", {**WARM, "RPM": 1700}, "warm_idle", ""),
        ("warm_idle", {**WARM, "RPM": 2100}, "", "state-claim-refuted"),
        ("warm_idle", {**WARM, "RPM": 0}, "", "state-claim-refuted"),
        ("warm_idle", {**WARM, "VSS": 20}, "", "state-claim-refuted"),
        ("warm_idle", {**WARM, "ECT": 60}, "warm_idle", "cool-for-warm"),
        ("warm_idle", {**WARM, "ECT": 49}, "", "state-claim-refuted"),
        ("warm_idle", {**WARM, "ECT": 30, "RUNTM": 900}, "warm_idle", "cool-for-warm"),
        ("warm_idle", {**WARM, "ECT": -40}, "warm_idle", ""),
        ("warm_idle", {**WARM, "FUELSYS1": OPEN}, "", "open-loop"),
        ("warm_idle", {**WARM, "RUNTM": 10}, "", "just-started"),
        ("cold_idle", {**WARM, "ECT": 20}, "cold_idle", ""),
        ("cold_idle", WARM, "", "state-claim-refuted"),
        ("cold_idle", {**WARM, "ECT": 20, "FUELSYS1": OPEN}, "cold_idle", ""),
        ("cruise", {**DRIVE, "VSS": 20}, "cruise", ""),
        ("cruise", {**DRIVE, "VSS": 19}, "", "state-claim-refuted"),
        ("cruise", {**DRIVE, "ECT": 55}, "cruise", ""),
        ("cruise", {**DRIVE, "RPM": 700}, "", "state-claim-refuted"),
        ("cruise", {**DRIVE, "FUELSYS1": OPEN}, "", "open-loop"),
        ("koeo", OFF, "koeo", ""),
        ("koeo", {**OFF, "ECT": 12, "IAT": 12}, "koeo", ""),
        ("koeo", {"VPWR": 12.4}, "koeo", ""),
        ("koeo", {"RUNTM": 30}, "", "state-claim-refuted"),
        ("koeo", {"MAF": 5.1}, "", "state-claim-refuted"),
        ("koeo", {"FUELSYS1": CLOSED}, "", "state-claim-refuted"),
        ("koeo", {**OFF, "RUNTM": 30}, "koeo", ""),
        ("koeo", WARM, "", "state-claim-refuted"),
        ("koeo_soak", {**OFF, "ECT": 40, "IAT": 12}, "koeo_soak", ""),
        ("koeo_soak", {"VSS": 30}, "", "state-claim-refuted"),
        ("crank", {"RPM": 210}, "crank", ""),
        ("crank", {"RPM": 210, "VSS": 5}, "", "state-claim-refuted"),
        ("crank", {"RPM": 740}, "", "state-claim-refuted"),
        ("crank", {"RPM": 740, "CRANK_VMIN": 10.1}, "crank", ""),
        ("crank", {"RPM": 0}, "", "state-claim-refuted"),
        ("crank", {"CRANK_VMIN": 10.1}, "crank", ""),
    ],
)
def test_claimed(claim: str, values: dict[str, float], state: str, note: str) -> None:
    """A claim is believed unless a value contradicts it."""
    assert find(values, claim) == (state, note)


def test_biased_coolant_sensor_does_not_hide_itself() -> None:
    """A claimed warm idle keeps its state with the coolant reading 25 degC low, so the bias can be seen."""
    assert find({**WARM, "ECT": 90 - 25}, "warm_idle")[0] == "warm_idle"


ROWS = st.integers(0, 20)


@given(st.data())
def test_any_values_are_judged(data: st.DataObject) -> None:
    """Whatever the values, each row gets a known state and note, alone or among others alike."""
    count = data.draw(ROWS)
    numbers = st.sampled_from([np.nan, -40.0, 0.0, 1.0, 20.0, 45.0, 70.0, 300.0, 742.0, 1500.0])
    values = data.draw(arrays.arrays(np.float64, (count, len(CODES)), elements=numbers))
    claim = data.draw(arrays.arrays(np.int8, count, elements=st.integers(-1, len(STATES) - 1)))
    switches = np.full((count, 3), -1, np.int8)

    state, notes = judge(values, switches, claim)

    assert set(notes) <= set(NOTES)
    assert np.all((state >= -1) & (state < len(STATES)))
    for row in range(count):
        alone, note = judge(values[row : row + 1], switches[:1], claim[row : row + 1])
        assert (alone[0], note[0]) == (state[row], notes[row])
        assert claim[row] == -1 or state[row] in (claim[row], -1)
