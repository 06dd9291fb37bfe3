"""From patterns to causes: what is planted clearly must be named first."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.rank import rank_causes
from models.causes.table import UNKNOWN, Directions, directions, patterns, priors
from models.compare import compare
from models.panel import SheetFacts, Wish
from models.series import PLACE, SERIES
from tests.models.fleets import BARE, FEW, SOUND, Town

Floats = NDArray[np.float64]

DESIGNS = {
    "maf, bypass, 1 bank": replace(BARE, air_metering="maf", idle_control="bypass_valve", banks=1),
    "maf, electronic, 2 banks": replace(
        BARE, air_metering="maf", idle_control="electronic_throttle", banks=2
    ),
    "pressure, bypass, 1 bank": replace(BARE, air_metering="speed_density", banks=1),
    "pressure, electronic, 2 banks": replace(
        BARE, air_metering="speed_density", idle_control="electronic_throttle", banks=2
    ),
}
STANDARD_ERRORS = np.array([0.02 * max(20 * series.step, 0.5) for series in SERIES])
"""Error of each shift when the pattern is clear: a fiftieth of a noticeable shift."""


def _reported(sheet: SheetFacts) -> NDArray[np.bool_]:
    """Say which series a vehicle of this design reports."""
    reported = np.ones(len(SERIES), dtype=bool)
    for place, series in enumerate(SERIES):
        if sheet.banks == 1 and series.parameter in ("LONGFT2", "SHRTFT2"):
            reported[place] = False
        if sheet.air_metering == "speed_density" and series.parameter == "MAF":
            reported[place] = False
        if sheet.idle_control == "electronic_throttle" and series.parameter.startswith("IAC"):
            reported[place] = False
        if sheet.idle_control == "bypass_valve" and series.parameter == "TAC_PCT":
            reported[place] = False
    return reported


def _table(sheet: SheetFacts) -> Directions:
    """Give all directions that may name a cause."""
    return directions(sheet, naming=True)


def _ranked(sheet: SheetFacts, shift: Floats) -> list[tuple[str, float]]:
    root = np.where(_reported(sheet), 1 / STANDARD_ERRORS, 0.0)
    share = rank_causes((shift * root)[None], root[None], _table(sheet), priors())[0]
    order = np.argsort(-share)
    return [(CAUSES[place], float(share[place])) for place in order]


def _planted() -> list[tuple[str, str, int]]:
    """List every row that fits each design, signs included."""
    cases = []
    for name, sheet in DESIGNS.items():
        table = _table(sheet)
        cases += [
            (name, CAUSES[cause], row)
            for row, cause in enumerate(table.cause)
            if cause != UNKNOWN and (table.shift[row] != 0)[_reported(sheet)].any()
        ]
    return cases


@pytest.mark.parametrize(
    ("design", "cause"), sorted({(design, cause) for design, cause, _ in _planted()}), ids=str
)
def test_a_clear_pattern_names_its_cause_first(design: str, cause: str) -> None:
    """The most telling pattern of every cause, seen clearly, ranks the cause first on every design."""
    sheet = DESIGNS[design]
    rows = [row for name, code, row in _planted() if (name, code) == (design, cause)]

    best = [_ranked(sheet, _table(sheet).shift[row])[0] for row in rows]

    assert max(share for code, share in best if code == cause) > 0.5


@pytest.mark.parametrize(("design", "cause", "row"), _planted())
def test_every_pattern_names_its_cause_among_the_first_two(design: str, cause: str, row: int) -> None:
    """Rows that another cause nearly shares, such as one bank's lean fuel, still rank theirs second."""
    sheet = DESIGNS[design]

    assert cause in [code for code, _ in _ranked(sheet, _table(sheet).shift[row])[:2]]


@pytest.mark.parametrize("size", [0.3, 1.0, 2.0])
def test_the_size_of_the_fault_does_not_matter(size: float) -> None:
    """A third of the pattern or twice of it names the same cause."""
    sheet = DESIGNS["maf, bypass, 1 bank"]
    table = _table(sheet)
    row = int(np.flatnonzero(table.cause == CAUSES.index("charging_low"))[0])

    assert _ranked(sheet, size * table.shift[row])[0][0] == "charging_low"


def _equal_trims(flow: float) -> dict[str, float]:
    """Eleven per cent lean at every flow, and measured flow against the vehicle's past."""
    flows = ("MAF@warm_idle", "MAF@cruise", "LOAD_ABS@warm_idle", "ln MAF/MAP@warm_idle", "ln MAF/MAP@cruise")
    shift = dict.fromkeys(flows, flow)
    trims = ("LONGFT1@warm_idle", "LONGFT1@cruise", "LONGFT2@warm_idle", "LONGFT2@cruise")
    return {**shift, **dict.fromkeys(trims, 11.0)}


@pytest.mark.parametrize(
    ("flow", "cause", "other"),
    [(-10.5, "air_meter_low", "fuel_delivery_low"), (0.0, "fuel_delivery_low", "air_meter_low")],
)
def test_equal_trims_are_told_apart_by_measured_airflow(flow: float, cause: str, other: str) -> None:
    """Equal trim at every load is the air meter where measured flow fell with it, else the fuel."""
    shift = np.zeros(len(SERIES))
    for name, size in _equal_trims(flow).items():
        shift[PLACE[name]] = size

    share = dict(_ranked(DESIGNS["maf, electronic, 2 banks"], shift))

    assert share[cause] > 10 * share[other]


@pytest.mark.parametrize("cause", ["map_sensor_bias", "air_meter_low"])
def test_flow_against_pressure_is_the_meter_or_the_pressure_sensor(cause: str) -> None:
    """Flow below what the pressure says: a low meter lifts the trims, a high pressure sensor does not."""
    shift = np.zeros(len(SERIES))
    shift[PLACE["ln MAF/MAP@warm_idle"]], shift[PLACE["ln MAF/MAP@cruise"]] = -11.0, -9.0
    if cause == "air_meter_low":
        for name in ("MAF@warm_idle", "MAF@cruise", "LOAD_ABS@warm_idle", "LONGFT1@warm_idle",
                     "LONGFT2@warm_idle", "LONGFT1@cruise", "LONGFT2@cruise"):  # fmt: skip
            shift[PLACE[name]] = 10.5 if name.startswith("LONGFT") else -10.5
    else:
        shift[PLACE["MAP@warm_idle"]] = 4.0

    assert _ranked(DESIGNS["maf, electronic, 2 banks"], shift)[0][0] == cause


@pytest.mark.parametrize("carried", [True, False])
def test_a_stuck_load_input_is_named_whether_the_load_is_carried_or_not(carried: bool) -> None:
    """Air at idle rises with a load that is there and stays away with one that is only reported."""
    shift = np.zeros(len(SERIES))
    shift[PLACE["ac@warm_idle"]] = 0.8
    shift[PLACE["IAC@warm_idle"]], shift[PLACE["MAF@warm_idle"]] = (6.0, 0.0) if carried else (-5.0, -10.0)

    assert _ranked(DESIGNS["maf, bypass, 1 bank"], shift)[0][0] == "load_switch_stuck"


def test_probabilities_sum_to_one() -> None:
    """Whatever the pattern, the shares of all causes sum to one and none is negative."""
    rng = np.random.default_rng(0)
    z, root = rng.normal(0, 5, (40, len(SERIES))), rng.uniform(0, 3, (40, len(SERIES)))
    silent = rng.random(root.shape) < 0.3
    z[silent] = root[silent] = 0.0

    share = rank_causes(z, root, _table(BARE), priors())

    np.testing.assert_allclose(share.sum(axis=1), 1.0)
    assert (share >= 0).all()


def test_what_the_sheet_rules_out_has_none() -> None:
    """A cause that this engine cannot have gets no share, however well it would fit."""
    sheet = DESIGNS["pressure, bypass, 1 bank"]
    shift = np.zeros(len(SERIES))
    for name, size in _equal_trims(-10.5).items():
        shift[PLACE[name]] = size

    assert dict(_ranked(sheet, shift))["air_meter_low"] == 0.0


def test_a_prior_of_zero_rules_a_cause_out() -> None:
    """A cause that never happens in this fleet is not named."""
    prior = priors().copy()
    place = CAUSES.index("charging_low")
    prior[place] = 0.0
    root = np.ones((1, len(SERIES)))

    assert rank_causes(np.zeros_like(root), root, _table(BARE), prior)[0, place] == 0.0


def test_silence_is_unknown() -> None:
    """Where no series speaks no cause is named."""
    nothing = np.zeros((2, len(SERIES)))

    share = rank_causes(nothing, nothing, _table(BARE), priors())

    np.testing.assert_array_equal(share[:, UNKNOWN], [1.0, 1.0])


def test_nothing_gives_nothing() -> None:
    """No patterns, no shares."""
    assert rank_causes(
        np.empty((0, len(SERIES))), np.empty((0, len(SERIES))), _table(BARE), priors()
    ).shape == (
        0,
        len(CAUSES),
    )


def test_one_moved_series_that_nobody_described_is_unknown() -> None:
    """A measured flow at cruise that moves with every trim at rest fits no row."""
    shift = np.zeros(len(SERIES))
    shift[PLACE["IAT-AAT@cruise"]] = 9.0

    assert _ranked(DESIGNS["maf, bypass, 1 bank"], shift)[0][0] == "unknown"


def test_rows_for_one_cause_are_alternatives() -> None:
    """A cause with several rows is not punished for the rows that do not fit."""
    counted = [pattern for pattern in patterns() if pattern.cause == CAUSES.index("load_switch_stuck")]
    shift = np.zeros(len(SERIES))
    shift[PLACE["in_gear@warm_idle"]] = 0.8

    assert len(counted) > 1
    assert _ranked(DESIGNS["maf, bypass, 1 bank"], shift)[0][0] == "load_switch_stuck"


def _biased_sensor() -> Town:
    """Give a fleet in which one coolant sensor reads ever warmer and, as it does, the mixture turns lean."""
    town = Town(16, 150, channels=SOUND, sheet=BARE)
    growing = 12.0 * np.clip((np.arange(150) - 90) / 40, 0, 1)
    for state in ("koeo_soak", "warm_idle", "cruise"):
        town.at("ECT", state)[3] += growing
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[3] += 0.15 * growing
    return town


def test_a_biased_temperature_sensor_is_a_sensor_finding() -> None:
    """A coolant sensor that drifts gives one finding about temperature, not one about trim."""
    town = _biased_sensor()

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [(item.vehicle, item.group) for item in said.findings] == [("V-0003", "temperature")]
    assert said.findings[0].causes[0][0] == "coolant_sensor_bias"
    assert said.findings[0].lead.parameter in ("ECT", "IAT")


@pytest.mark.parametrize(
    ("shifts", "cause"),
    [
        ({("IAC", "warm_idle"): 8.0}, "throttle_deposits"),
        (
            {("LONGFT1", "warm_idle"): 9.0, ("LONGFT1", "cruise"): 2.3, ("IAC", "warm_idle"): -4.0},
            "unmetered_air",
        ),
        ({("VPWR", "warm_idle"): -0.6, ("VPWR", "cruise"): -0.6}, "charging_low"),
        ({("LONGFT1", "warm_idle"): 4.0, ("LONGFT1", "cruise"): 9.0}, "fuel_delivery_low"),
        ({("LONGFT1", "warm_idle"): -8.0, ("LONGFT1", "cruise"): -2.4}, "purge_flow_stuck"),
        ({("CRANK_VMIN", "crank"): -1.2, ("VPWR", "koeo_soak"): -0.3}, "battery_ageing"),
        ({("ECT", "cruise"): -10.0, ("ECT", "warm_idle"): -5.0}, "thermostat_open"),
    ],
)
def test_planted_faults_are_named(shifts: dict[tuple[str, str], float], cause: str) -> None:
    """A fault that grows over six weeks in a small fleet is found with its cause among the first three."""
    channels = SOUND if not {code for code, _ in shifts} <= {row[0] for row in FEW} else (*FEW, SOUND[6])
    town = Town(16, 150, channels=channels, sheet=BARE)
    for (code, state), size in shifts.items():
        town.at(code, state)[3] += size * np.clip((np.arange(150) - 95) / 42, 0, 1)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [item.vehicle for item in said.findings] == ["V-0003"]
    assert cause in [code for code, _ in said.findings[0].causes[:3]]


def test_a_row_is_silent_without_the_series_it_needs() -> None:
    """Idle air below normal is no load that stays away from an input which nobody reports."""
    sheet = DESIGNS["pressure, electronic, 2 banks"]
    shift = np.zeros(len(SERIES))
    for name, size in (("TAC_PCT", -2.0), ("TP", -1.6), ("MAP", -4.0), ("LOAD_ABS", -11.0)):
        shift[PLACE[f"{name}@warm_idle"]] = size
    root = np.where(_reported(sheet), 1 / STANDARD_ERRORS, 0.0)
    stuck = CAUSES.index("load_switch_stuck")

    def share(root: Floats, *, on: float) -> float:
        z = shift * root
        z[PLACE["ac@warm_idle"]] = on * root[PLACE["ac@warm_idle"]]
        return float(rank_causes(z[None], root[None], _table(sheet), priors())[0, stuck])

    blind = root.copy()
    for name in ("ac", "power_steering", "in_gear"):
        blind[PLACE[f"{name}@warm_idle"]] = 0.0

    assert share(root, on=0.8) > 0.9
    assert share(blind, on=0.0) < 0.1
