"""One engine at one moment: air, fuel, electricity and heat. Everything is an array over moments.

Nothing here knows a fault's name. A fault is a changed physical quantity (a leak area, a resistance, a
pressure), and what the readings then do follows from the balances below. A moment is a namespace of arrays of
one shape; `moments.moment` fills it. Numbers without a source are the author's, chosen to be plausible.
"""

from types import SimpleNamespace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Moment = SimpleNamespace

GAS_CONSTANT: Final = 0.28705
"""Of air [kPa m3 / (kg K)]."""

AFR_GASOLINE, AFR_ETHANOL = 14.64, 9.0
"""Stoichiometric air per fuel by mass."""

DENSITY_GASOLINE, DENSITY_ETHANOL = 745.0, 789.0
"""Of the two parts of a blend [kg / m3]."""

CALIBRATED_ETHANOL: Final = 0.10
"""Share of ethanol by volume that the engine's computer takes for granted."""

GRAMS_PER_KW: Final = 0.94
"""Air that an idling engine burns for one kilowatt of load [g/s]."""


def blend(ethanol: Any) -> tuple[Any, Any]:
    """Give air per fuel and density [kg / m3] of a blend with a share of ethanol by volume."""
    mass = ethanol * DENSITY_ETHANOL / (ethanol * DENSITY_ETHANOL + (1 - ethanol) * DENSITY_GASOLINE)
    afr = AFR_GASOLINE * (1 - mass) + AFR_ETHANOL * mass
    return afr, DENSITY_GASOLINE * (1 - ethanol) + DENSITY_ETHANOL * ethanol


AFR_CALIBRATED, DENSITY_CALIBRATED = blend(CALIBRATED_ETHANOL)


def orifice(ratio: Floats) -> Floats:
    """Give the flow through an orifice against choked flow at the same pressure before it."""
    r = np.clip(ratio, 0.5283, 0.999)
    return np.asarray(np.sqrt((r ** (2 / 1.4) - r ** (2.4 / 1.4)) / 0.0669796))


def element(temperature: Any) -> Any:
    """Give the resistance of a thermistor against that at 25 degC."""
    return np.exp(3450 * (1 / (temperature + 273.15) - 1 / 298.15))


def thermistor(temperature: Floats, ratio: Any, series: Any, leak: Any) -> Floats:
    """Give what the computer reads [degC].

    The element's resistance may be off by a ratio, have a resistance in series, or leak to ground.
    """
    r = element(temperature) * np.maximum(1 + ratio, 0.2) + series
    r = 1 / (1 / r + leak)
    return np.asarray(1 / (np.log(r) / 3450 + 1 / 298.15) - 273.15)


def enrichment(temperature: Floats) -> Floats:
    """Give the factor on fuel that a cold engine gets."""
    return 1 + 0.0025 * np.maximum(86 - temperature, 0)


def heat(x: Moment) -> tuple[Floats, Floats]:
    """Give the true temperatures of coolant and intake air [degC]."""
    at_idle, at_cruise = 4.0, 16.0  # kW into the coolant
    regulated = np.where(x.idle, x.tstat + 4 + 0.08 * (x.ta - 15), x.tstat + 1 + 0.04 * (x.ta - 15))
    # A thermostat that does not close passes x.tleak: the coolant settles where the radiator takes all.
    floor = np.maximum(x.tstat - x.tleak - x.ta_ref, 12)
    conductance = at_cruise / floor  # kW/K at cruise
    open_cruise = x.ta + at_cruise / conductance
    open_idle = 0.5 * open_cruise + 0.5 * (x.ta + at_idle / (0.18 * conductance))
    settled = np.where(x.idle, open_idle, open_cruise)
    warm = np.where(x.tleak > 0, np.minimum(regulated - 0.25 * x.tleak, settled), regulated)
    hot = np.where(x.tleak > 0, np.minimum(x.tstat + 2, open_cruise), x.tstat + 2)
    start = x.ta_lag + (hot - x.ta_lag) * np.exp(-x.soak_h / 2.3)
    under_hood = x.ta + (32 - 0.25 * (x.ta - 15)) * np.exp(-x.soak_h / 1.3)
    warming = warm + (start - warm) * np.exp(-x.run_s / 400)
    running = np.where(x.cold, warming, warm + x.n_heat * np.where(x.idle, 1.8, 1.2))
    coolant = np.where(x.off, start, running)
    rise = np.where(x.cold, 2 + x.run_s / 60, np.where(x.idle, 14 + 4 * x.n_air, 5 + 1.5 * x.n_air))
    intake = np.where(x.off, np.maximum(under_hood, x.ta_lag * 0.4 + x.ta * 0.6), x.ta + rise)
    return coolant, intake


def electricity(x: Moment, rpm: Floats, coolant: Floats) -> tuple[Floats, Floats]:
    """Give the voltage at the battery and the generator's current [A]."""
    fan = x.ac | (coolant > x.tstat + 9)
    load = x.amps + 3.5 * x.n_load + 7 * fan + 7 * x.ac + 6 * np.clip((14 - x.ta) / 10, 0, 1) + 6 * x.dark
    load = load + 14 * (x.cold & (x.ta < 4))
    hood = x.ta + np.where(x.cold, 8, np.where(x.idle, 34, 26))
    wanted = x.v_set - 0.0105 * (hood - 45) + x.v_cmd + x.reg_shift
    rest = x.ocv + 0.35
    inner, line = 0.15, 0.004 + x.charge_r
    held = (wanted - line * (load - rest / inner)) / (1 + line / inner)
    able = x.alt_amps * (1 - np.exp(-np.maximum(rpm * 2.6 - 900, 50) / 1250)) * (1 - x.alt_cap)
    starved = rest + np.where(able > load, inner, 0.035) * (able - load)
    volt = np.minimum(held, starved)
    return volt, np.minimum(load + (volt - rest) / inner, able)


def _breathe(x: Moment, need: Floats, rpm: Floats, true_k: Floats) -> tuple[Floats, Floats, Floats]:
    """Give manifold pressure [kPa], air into the cylinders [g/s] and filling for a need of air [g/s]."""
    filling = np.where(x.idle, 0.62, 0.82)
    press = need * 120 * GAS_CONSTANT * true_k / (filling * (1 + x.ve_off) * x.disp * rpm)
    press = np.minimum(press, 0.97 * x.baro)
    air = press * filling * (1 + x.ve_off) * x.disp * rpm / (120 * GAS_CONSTANT * true_k)
    return press, air, filling


def _opening(x: Moment, throttle: Floats, up: Floats) -> Floats:
    """Give the commanded opening of the idle air path for a flow through it [g/s], in points."""
    area = throttle / (x.k_th * up)
    edge = np.where(x.idle | x.bypass, 1.0, 0.25)
    area = area / (1 - np.clip(x.deposit, -0.2, 0.75) * edge)
    wide = np.where(x.bypass | (area < 64), area, 64 + 9 * np.log(np.maximum(area, 1) / 64)) - 8
    return np.asarray(np.clip(wide, 1.5, 100))


def run(x: Moment) -> dict[str, Any]:
    """Run an engine; give what is true and what the computer reads and commands, by name."""
    coolant, intake = heat(x)
    ect = thermistor(coolant, x.ect_ratio, x.ect_series, x.ect_leak)
    iat = thermistor(intake, x.iat_ratio, x.iat_series, x.iat_leak)

    # Idle speed is wanted from what the computer believes.
    steering = 25 * x.steer * (x.false_load == 0)
    target = x.rpm_idle + 4.5 * np.clip(72 - ect, 0, 90) + 30 * x.ac + 55 * x.false_load + steering
    rpm = np.where(x.idle, target - 30 * x.gear, x.rpm_cruise)
    volt, amps = electricity(x, rpm, coolant)

    # Air the engine needs: friction, generator, compressor; at cruise the road as well.
    road = np.where(x.idle, 0.25 * x.gear, x.road_kw)
    kw = volt * amps / 1000 / 0.6 + x.ac * x.ac_kw + 0.35 * x.steer + road
    friction = x.m_fric * x.disp * (rpm / 700) ** 0.85 * (1 + 0.006 * np.clip(85 - coolant, 0, 100))
    need = friction * (1 + 0.02 * x.n_demand) + GRAMS_PER_KW * kw
    need = need * (1 + x.reserve * x.false_load * x.idle)
    w = np.where(x.idle, 0.65, 0.85)
    true_k, read_k = w * intake + (1 - w) * coolant + 273.15, w * iat + (1 - w) * ect + 273.15
    press, air, filling = _breathe(x, need, rpm, true_k)

    # Where it comes in: throttle (metered), leak and purge line (not metered).
    up = x.baro / 100 * np.sqrt(298 / (x.ta + 273.15)) * orifice(press / x.baro)
    leak = np.minimum((x.leak + x.leak0 * x.idle) * up, 0.8 * air)
    vapour = x.purge * up * np.clip(np.exp(0.025 * (x.ta - 18)) * np.exp(0.2 * x.n_purge), 0.35, 1.9)
    throttle = np.maximum(air - leak - 3 * vapour, 0.05)
    opening = _opening(x, throttle, up)

    # What the computer believes flows.
    relative = np.clip(throttle / x.m_cruise, 0.05, 3)
    maf = throttle * (1 + x.maf_off) * (1 - x.maf_loss * relative**x.maf_exp)
    map_read = press + x.map_off
    by_density = filling * np.maximum(map_read, 5) * x.disp * rpm / (120 * GAS_CONSTANT * read_k)
    believed = np.where(x.has_maf, maf, by_density)
    base = believed / AFR_CALIBRATED * enrichment(ect)

    # Fuel: what each bank needs against what base schedule, pressure, injectors and density deliver.
    afr, density = blend(x.ethanol)
    density = density * (1 - 0.00095 * (0.6 * (x.ta - 15)))
    low = np.clip(1 - x.dp_low * (x.dp_w + (1 - x.dp_w) * air / x.m_cruise), 0.3, 1)
    high = 1 + x.dp_high * np.where(x.dp_vac, (x.baro - press) / 62, 1)
    deliver = np.sqrt(low * high * density / DENSITY_CALIBRATED)
    trims = []
    for bank, side in ((0, 1), (1, -1)):
        mine = air - leak + leak * (1 + side * x.leak_side)  # per bank, doubled
        false_lean = x.exh[bank] * (air / x.m_idle) ** -0.55
        wanted = mine / afr * enrichment(coolant) * (1 + false_lean) * (1 + x.o2_bias[bank])
        wanted = wanted * (1 + x.n_mix) - vapour
        given = base * deliver * (1 + x.inj_off[bank]) * (1 - x.inj_loss[bank])
        trims.append(100 * (wanted / given - 1))
    dead_ms = np.clip(0.9 - 0.12 * (volt - 13.5), 0.5, 2)
    inj_ms = base * (1 + trims[0] / 100) / x.cyl / (rpm / 120) / x.inj_rate * 1000 + dead_ms
    return {
        "coolant": coolant,
        "ect": ect,
        "iat": iat,
        "rpm": rpm,
        "volt": volt,
        "air": air,
        "map": map_read,
        "maf": np.maximum(maf, 0),
        "believed": believed,
        "opening": opening,
        "trims": trims,
        "inj_ms": inj_ms,
    }


def crank_volts(x: Moment, coolant: Floats) -> Any:
    """Give the lowest voltage while cranking, at the battery."""
    cold = np.maximum(25 - coolant, -30)
    amps = (140 + 14 * x.disp) * (1 + np.where(cold > 0, 0.011, 0.002) * cold)
    resistance = x.batt_r * (1 + 0.008 * cold) * (1 + 0.8 * np.maximum(0.9 - x.soc, 0))
    return x.ocv - amps * resistance
