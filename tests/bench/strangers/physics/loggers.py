"""From states of the engine to what loggers read: noise, learned and short trims, wild values, steps."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import Floats, Moment, crank_volts
from tests.bench.strangers.physics.moments import COLD, CRANK, CRUISE, IDLE, KOEO, Integers
from tests.bench.strangers.physics.vehicles import Columns

_BYTE: Final = 100 / 255

_STEP: Final = {
    "LONGFT1": 0.78125, "LONGFT2": 0.78125, "SHRTFT1": 0.78125, "SHRTFT2": 0.78125, "RPM": 0.25, "VSS": 1,
    "ECT": 1, "IAT": 1, "AAT": 1, "MAP": 1, "BARO": 1, "MAF": 0.01, "TP": _BYTE, "TAC_PCT": _BYTE,
    "LOAD_PCT": _BYTE, "LOAD_ABS": _BYTE, "SPARKADV": 0.5, "VPWR": 0.01, "O2S11": 0.005, "O2S12": 0.005,
    "O2S21": 0.005, "O2S22": 0.005, "LAMBDA1": 0.0001, "RUNTM": 1, "CLR_DIST": 1, "WARM_UPS": 1, "FLI": _BYTE,
    "ALCH_PCT": _BYTE, "IAC": _BYTE, "IAC_COUNTS": 1, "INJ_PW": 0.01, "KNOCK_RETARD": 0.5, "CAM_SYNC": 1,
    "CRANK_SYNC": 1, "CRANK_VMIN": 0.05,
}  # fmt: skip
"""Steps of the encoding."""

_COARSE: Final = {"ECT": 5, "IAT": 5, "AAT": 5, "VPWR": 0.1, "MAF": 0.1, "RPM": 25, "IAC": 1, "TAC_PCT": 1}
"""Steps of coarse loggers."""

_WILD: Final = {
    "LONGFT1": 7, "LONGFT2": 7, "SHRTFT1": 9, "SHRTFT2": 9, "VPWR": 0.7, "ECT": 14, "IAT": 12, "MAF": 1.5,
    "MAP": 9, "IAC": 9, "TAC_PCT": 8, "RPM": 120, "CRANK_VMIN": 1.2, "AAT": 10, "BARO": 5,
}  # fmt: skip
"""Size of a wild reading's error."""

_ABSURD: Final[Columns] = {
    "LONGFT1": 99.21875, "ECT": -40, "IAT": -40, "VPWR": 65.535, "RPM": 16383.75, "MAP": 255, "SHRTFT1": -100,
    "MAF": 655.35,
}  # fmt: skip
"""What a dead sensor reads."""

_IMPOSSIBLE: Final[Columns] = {"ECT": 512, "VPWR": -3, "RPM": 20000, "MAP": -20, "IAT": 400, "LONGFT1": 250}
"""What no sensor can read."""

_BOUNDED: Final = (
    "RPM", "MAP", "MAF", "IAC", "TAC_PCT", "TP", "VPWR", "CRANK_VMIN", "LOAD_PCT", "LOAD_ABS", "CLR_DIST",
    "WARM_UPS", "ALCH_PCT", "AAT",
)  # fmt: skip
"""Readings that are cut at the least and the most that their encoding holds."""

_MOST: Final = {"WARM_UPS": 255, "CLR_DIST": 65535, "MAP": 255}


class _Bench:
    """The state of every snapshot and the noise that its readings get."""

    def __init__(self, rng: np.random.Generator, state: Integers) -> None:
        self.rng, self.count = rng, len(state)
        self.off, self.crank, self.running = state <= KOEO, state == CRANK, state >= COLD
        self.warm, self.idle = state >= IDLE, (state == COLD) | (state == IDLE)
        self.cold, self.cruise = state == COLD, state == CRUISE

    def noise(self, sd: float) -> Any:
        return sd * self.rng.standard_normal(self.count)


def _air(b: _Bench, own: Columns, v: Integers, x: Moment, engine: Columns, speed: Floats) -> Columns:
    """Read speeds, temperatures, pressures and airflow."""
    z, out = b.noise, {}
    # Both kinds of noise are drawn for every snapshot, in the order in which they stand.
    cranking, jitter = 190 + z(25), np.where(b.idle, z(9), z(6))
    out["RPM"] = np.where(b.off, 0, np.where(b.crank, cranking, engine["rpm"] + jitter))
    out["VSS"] = speed
    out["ECT"] = engine["ect"] + own["ect0"][v] + z(0.5)
    out["IAT"] = engine["iat"] + own["iat0"][v] + z(0.7)
    out["AAT"] = x.ta + np.where(b.warm, 2, 0.5) + z(1.2)
    out["BARO"] = x.baro + np.where(own["has_maf"][v], 0, x.map_off) + z(0.3)
    resting, cranking = x.baro + x.map_off + z(0.4), x.baro * 0.93 + x.map_off + z(2)
    jitter = np.where(b.idle, z(1.1), z(2.2))
    out["MAP"] = np.where(b.off, resting, np.where(b.crank, cranking, engine["map"] + jitter))
    flow = engine["maf"] * (1 + z(0.022))
    out["MAF"] = np.where(b.off, 0.05, np.where(b.crank, np.nan, flow))
    return out


def _volts(b: _Bench, crank_day: Floats, x: Moment, engine: Columns) -> Columns:
    """Read voltages at the module: battery or generator less the drop on its feed."""
    z = b.noise
    rest = x.ocv + 0.35 * np.exp(-x.soak_h / 2.0) - 0.075
    resting, cranking, charging = rest + z(0.05), rest - 0.9 + z(0.2), engine["volt"] + z(0.055)
    at = np.where(b.off, resting, np.where(b.crank, cranking, charging))
    amps = np.where(b.off, 8, np.where(b.crank, 11, 14))
    lowest = crank_volts(x, engine["coolant"]) + crank_day - x.feed * 11 + z(0.14)
    return {"VPWR": at - x.feed * amps, "CRANK_VMIN": np.where(b.crank, lowest, np.nan)}


def _trims(b: _Bench, bank: int, learned: Floats, x: Moment, trim: Floats) -> Columns:
    """Read a bank's trims and sensors; the short trim is what the learned one leaves, and a swing."""
    z = b.noise
    long = np.clip(learned, -25, 25)
    warming, cruising, idling = 1.6 + z(0.6), z(0.75), z(0.3)
    moved = long + np.where(b.cold, warming, np.where(b.cruise, cruising, idling))
    shown = np.where(long == 0, 0, moved)
    total = trim + np.where(b.cold, -1.0 + z(2.8), 0)
    swing = np.where(b.cruise, 1.5, 1.2) * (1 + x.o2_lag[bank])
    short = 100 * ((1 + total / 100) / (1 + shown / 100) - 1) + z(1) * swing
    open_loop = b.cold & (x.run_s < 40)
    short = np.where(open_loop, 0, np.clip(short, -30, 30))
    slow = np.minimum(x.o2_lag[bank] / 2.5, 1)
    wave = 0.36 * (1 - 0.35 * slow) * np.sin(b.rng.uniform(0, 6.28, b.count))
    volts = 0.45 + wave + 0.06 * np.sign(x.o2_bias[bank]) * slow + z(0.02)
    ahead = np.where(b.running & ~open_loop, volts, 0.45 + z(0.01)).clip(0, 1.275)
    behind = 0.68 + 0.12 * np.clip(x.exh[bank] * 7, 0, 1) + z(0.05)
    return {
        f"LONGFT{bank + 1}": np.where(b.running, shown, np.nan),
        f"SHRTFT{bank + 1}": np.where(b.running, short, np.nan),
        f"O2S{bank + 1}1": ahead,
        f"O2S{bank + 1}2": np.where(b.warm, behind, 0.45 + z(0.02)).clip(0, 1.275),
    }


def _openings(b: _Bench, own: Columns, v: Integers, x: Moment, engine: Columns) -> Columns:
    """Read idle air, throttle, loads, spark and injection."""
    z, out = b.noise, {}
    opening = engine["opening"] + z(0.55)
    out["IAC"] = np.where(b.cruise, np.nan, np.where(b.off | b.crank, 62, opening))
    out["IAC_COUNTS"] = out["IAC"] * 1.6
    out["TAC_PCT"] = np.where(b.off, 16, np.where(b.crank, 40, opening))
    pedal = np.where(b.cruise, 13 + 1.1 * (engine["air"] / x.m_cruise) * 9, 12.4)
    out["TP"] = np.where(own["bypass"][v], pedal, 3 + 0.75 * out["TAC_PCT"]) + z(0.4)
    turning = np.maximum(engine["rpm"], 1)
    peak = 0.82 * x.disp * turning / 120 * 1.184 * (x.baro / 101.3) * np.sqrt(298 / (x.ta + 273))
    load = np.minimum(100 * engine["believed"] / peak + z(0.7), 100)
    out["LOAD_PCT"] = np.where(b.running, load, 0)
    absolute = 100 * engine["believed"] * 120 / (turning * 1.184 * x.disp) + z(0.5)
    out["LOAD_ABS"] = np.where(b.running, absolute, 0)
    at_idle = 13 - 7 * np.minimum(x.false_load + 0.6 * x.ac, 1) + z(1.6)
    spark = np.where(b.idle, at_idle, 29 + z(3))
    out["SPARKADV"] = np.where(b.off, 0, np.where(b.crank, 8, spark))
    out["KNOCK_RETARD"] = np.where(b.cruise, np.maximum(z(0.8) - 0.6, 0), 0)
    out["INJ_PW"] = np.where(b.running, engine["inj_ms"] * (1 + z(0.01)), np.nan)
    out["RUNTM"] = np.where(b.running, x.run_s, 0)
    out["FLI"] = b.rng.uniform(12, 96, b.count)
    out["ALCH_PCT"] = 100 * x.ethanol + z(1.5)
    synced = np.where(b.running, 1, np.where(b.crank, b.rng.random(b.count) < 0.7, 0)).astype(float)
    out["CAM_SYNC"] = out["CRANK_SYNC"] = synced
    return out


def read(
    rng: np.random.Generator,
    own: Columns,
    crank_day: Floats,
    learned: Floats,
    at: tuple[Integers, Integers, Integers],
    engine: tuple[Moment, Columns],
    speed: Floats,
) -> Columns:
    """Read every parameter.

    Parameters
    ----------
    own : dict of str to array
        Constants of vehicles.
    crank_day : float array of shape (V, days)
        The day's own part of the cranking voltage.
    learned : float array of shape (cell, bank, V, days)
        Learned trims.
    at : (vehicle, day, state)
        Arrays of shape (n,).
    engine : (Moment, dict)
        What the engine was given and what it made of it.
    speed : float array of shape (n,)

    Returns
    -------
    dict of str to float array of shape (n,)
        NaN where a state has none.
    """
    v, d, state = at
    x, result = engine
    bench = _Bench(rng, state)
    out = _air(bench, own, v, x, result, speed) | _volts(bench, crank_day[v, d], x, result)
    cell = np.where(state == CRUISE, 1, 0)
    for bank in (0, 1):
        out |= _trims(bench, bank, learned[cell, bank, v, d], x, result["trims"][bank])
    open_loop = bench.cold & (x.run_s < 40)
    out["FUELSYS1"] = np.where(~bench.running | open_loop, 0, 1)
    out["LAMBDA1"] = np.where(bench.running, np.where(open_loop, 0.93, 1.0), np.nan)
    return out | _openings(bench, own, v, x, result)


def spoil(
    rng: np.random.Generator, values: Columns, state: Integers, coarse: NDArray[np.bool_]
) -> dict[str, Any]:
    """Add wild and absurd readings, in place, and round to each logger's steps.

    Parameters
    ----------
    values : dict of str to float array of shape (n,)
        Changed in place and given back.
    state : int array of shape (n,)
    coarse : bool array of shape (n,)
        Where the logger is a coarse one.
    """
    n = len(state)
    for name, size in _WILD.items():
        bad = rng.random(n) < 0.013
        bad &= (state >= COLD) | (name not in ("RPM", "MAF"))
        bad &= ~((name == "LONGFT1") & (values[name] == 0))
        values[name] = np.where(bad, values[name] + size * rng.standard_t(3, n), values[name])
    for name, column in list(values.items()):
        step = _STEP.get(name)
        if step is not None:
            values[name] = np.round(np.round(column / step) * step, 4)
        step = _COARSE.get(name)
        if step is not None:
            rough = np.round(np.round(column / step) * step, 3)
            values[name] = np.where(coarse, rough, values[name])
    for name in _BOUNDED:
        values[name] = np.clip(values[name], -40 if name == "AAT" else 0, _MOST.get(name, 1e9))
    dead = rng.random(n) < 0.003
    _overwrite(rng, values, dead, _ABSURD)
    _overwrite(rng, values, rng.random(n) < 0.0015, _IMPOSSIBLE)
    return values


def _overwrite(rng: np.random.Generator, values: Columns, where: NDArray[np.bool_], instead: Columns) -> None:
    for place in np.flatnonzero(where):
        name = list(instead)[rng.integers(len(instead))]
        values[name][place] = instead[name]
