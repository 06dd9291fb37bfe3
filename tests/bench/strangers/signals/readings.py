"""All readings of one vehicle: levels, responses to circumstances, memory from day to day, noise, dirt."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tests.bench.strangers.signals.faults import (
    AIR_OF_THROTTLE,
    COLD,
    CRANK,
    CRUISE,
    KOEO,
    SOAK,
    WARM,
    Fault,
)
from tests.bench.strangers.signals.vehicles import Vehicle
from tests.bench.strangers.signals.world import Depot, Floats, with_memory

Generator = np.random.Generator
Integers = NDArray[np.int64]
Columns = dict[str, Any]
"""Arrays of shape (n,) by name."""

_RATE: Final = np.array([0.22, 0.08, 0.17, 0.20, 0.60, 0.40])
"""Snapshots of each state on a working day."""

_BYTE: Final = 100 / 255

_STEP: Final = {
    "LONGFT": 0.78125, "SHRTFT": 0.78125, "ECT": 1, "IAT": 1, "AAT": 1, "MAP": 1, "BARO": 1, "RPM": 1,
    "VSS": 1, "MAF": 0.01, "TP": _BYTE, "TAC_PCT": _BYTE, "LOAD_PCT": _BYTE, "LOAD_ABS": _BYTE, "IAC": _BYTE,
    "VPWR": 0.02, "O2S": 0.005, "SPARKADV": 0.5, "CRANK_VMIN": 0.05, "INJ_PW": 0.01, "LAMBDA1": 0.001,
    "ALCH_PCT": _BYTE, "FLI": _BYTE, "RUNTM": 1, "WARM_UPS": 1, "CLR_DIST": 1,
}  # fmt: skip
"""Steps of the encoding, by stem."""

_COARSE: Final = {
    "LONGFT": 1.5625, "SHRTFT": 1.5625, "ECT": 2, "IAT": 2, "MAP": 2, "MAF": 0.1, "IAC": 1, "TAC_PCT": 1,
    "VPWR": 0.1, "CRANK_VMIN": 0.1,
}  # fmt: skip
"""Steps of coarse loggers."""

_WILD: Final = {
    "LONGFT": 9, "SHRTFT": 12, "ECT": 20, "IAT": 20, "AAT": 15, "MAP": 12, "BARO": 6, "RPM": 300, "MAF": 2,
    "IAC": 14, "TAC_PCT": 7, "VPWR": 0.9, "CRANK_VMIN": 1.5, "O2S": 0.3, "TP": 8, "LOAD_PCT": 15,
    "LOAD_ABS": 15, "INJ_PW": 1,
}  # fmt: skip
"""Size of a wild reading's error."""

_UNBELIEVABLE: Final = {
    "LONGFT": 250, "SHRTFT": -180, "ECT": 300, "IAT": -90, "VPWR": 90, "RPM": 20000, "MAP": 900, "IAC": 400,
}  # fmt: skip

_POSITIVE: Final = ("MAF", "RPM", "MAP", "TP", "IAC", "TAC_PCT", "VPWR", "CRANK_VMIN", "LOAD_PCT", "O2S")

_HINTS: Final = ((0.9, 0, 0), (1.0, 1.0, 0.85))
"""By cell (cold, warm, cruise): what trim lies higher by [%], and how much of the common part it takes."""


def _stem(name: str) -> str:
    """Give the name without its bank and sensor."""
    if name.startswith(("LONGFT", "SHRTFT")):
        return name[:-1]
    return "O2S" if name.startswith("O2S") else name


def _tails(rng: Generator, count: int, sd: float, df: int = 5) -> Any:
    """Draw reading noise: Student's t scaled to the wanted spread."""
    return rng.standard_t(df, count) * sd * np.sqrt((df - 2) / df)


def _first_order(values: Any, tau: float) -> Any:
    """Follow values with a time constant in days, from nothing."""
    return lfilter([1 - np.exp(-1 / tau)], [1, -np.exp(-1 / tau)], values)


def _mixed(values: Floats, tau: float) -> Any:
    """Let a tank mix: a change at the pump arrives over some refuelings."""
    kept = np.exp(-1 / tau)
    return lfilter([1 - kept], [1, -kept], values - values[0]) + values[0]


def _relearning(days: int, resets: list[int], tau: float) -> Floats:
    """Give the learned share of the trims by day: 0 at a reset, back with a time constant."""
    share = np.ones(days)
    for day in sorted(resets):
        if 0 <= day < days:
            share[day:] = 1 - np.exp(-np.arange(days - day) / tau)
    return share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """What one vehicle sent; arrays of shape (n,), in the order of time.

    Parameters
    ----------
    t : float array
        Days since the start of the history, local.
    day, state, depot : int array
    columns, switches : dict of str to array
    odometer_km : float array
    """

    t: Floats
    day: Integers
    state: Integers
    depot: Integers
    columns: Columns
    switches: Columns
    odometer_km: Floats


class _Days:
    """The days of one vehicle: where it stands, how it is used."""

    def __init__(self, vehicle: Vehicle, depots: list[Depot], days: int, first_weekday: int) -> None:
        self.count, self.depots = days, depots
        self.depot = np.full(days, vehicle.depot)
        if vehicle.moved is not None:
            self.depot[: vehicle.moved] = vehicle.first_depot
        weekday = (np.arange(days) + first_weekday) % 7
        self.use = np.where(weekday < 5, 1.22, np.where(weekday == 5, 0.7, 0.35)) * vehicle.use
        self.silent = np.zeros(days, bool)
        for first, last in vehicle.gaps:
            self.silent[first:last] = True

    def met(self, key: str) -> Any:
        """Give what its depots had day by day."""
        return np.choose(self.depot, [getattr(depot, key) for depot in self.depots])


class _Moments:
    """When it sends, in which state, and what the moment is like; arrays of shape (n,)."""

    def __init__(self, rng: Generator, vehicle: Vehicle, days: _Days) -> None:
        self.rng = rng
        hit = (rng.random((days.count, 6)) < _RATE * days.use[:, None] * vehicle.gives) & ~days.silent[
            :, None
        ]
        day, state = np.nonzero(hit)
        n = self.count = len(day)
        start = (6.4 + rng.normal(0, 0.6, days.count))[day]
        u = rng.random(n)
        spread = [-0.03 + 0 * u, 1 + 8 * u, -0.004 + 0 * u, 0.012 + 0.045 * u, 0.5 + 8.5 * u, 0.5 + 9 * u]
        hour = start + np.choose(state, spread)
        t = day + hour / 24
        order = np.argsort(t, kind="stable")
        self.day, self.state, self.hour, self.t = day[order], state[order], hour[order], t[order]
        start = start[order]
        self.soak, self.koeo, self.crank, self.cold, self.warm, self.cruise = (
            self.state == one for one in (SOAK, KOEO, CRANK, COLD, WARM, CRUISE)
        )
        since_start = (self.hour - start) * 3600
        warm_s, cruise_s = rng.uniform(420, 5200, n), rng.uniform(400, 5200, n)
        self.runtm = np.select([self.cold, self.warm, self.cruise], [since_start, warm_s, cruise_s], 0.0)
        self.running, self.idle = self.state >= COLD, self.cold | self.warm
        daily = days.met("temperature")[self.day]
        self.air = daily + 5 * np.sin((self.hour - 9.5) / 24 * 2 * np.pi) + rng.normal(0, 0.8, n)
        self.baro = days.met("pressure")[self.day]
        altitudes = [depot.place.altitude_m for depot in days.depots]
        self.altitude_km = np.choose(days.depot, altitudes)[self.day] / 1000
        self.ac = self.running & (rng.random(n) < 1 / (1 + np.exp(-(self.air - 23) / 3)) * 0.8)
        self.steering = self.idle & (rng.random(n) < 0.03)
        automatic = vehicle.own["automatic"]
        self.gear = (self.warm & (rng.random(n) < 0.12 * automatic)) | self.cruise
        drawn = rng.normal(0.3, 0.2, n) + 0.015 * np.clip(8 - self.air, 0, 25) + 0.25 * self.ac
        self.load = self.running * np.clip(drawn, 0, 1)

    def memory(self, days: _Days, phi: float, sd: float) -> Floats:
        """Draw a day's own part, and give it at each moment."""
        return with_memory(self.rng, days.count, phi, sd)[self.day]

    def normal(self, sd: float) -> Floats:
        """Draw normal noise."""
        return self.rng.normal(0, sd, self.count)

    def tails(self, sd: float) -> Any:
        """Draw reading noise."""
        return _tails(self.rng, self.count, sd)


class _Effects:
    """What a fault does at each moment; nothing for no fault."""

    def __init__(self, rng: Generator, fault: Fault | None, at: _Moments) -> None:
        self.fault, self.state, n = fault, at.state, at.count
        self.stuck = np.zeros(n, bool)
        self.size: Any = np.zeros(n)
        if fault is None:
            return
        self.size = fault.severity(at.t) * fault.circumstance(at.air, at.load)
        if fault.cause == "load_switch_stuck":  # more and more often on, then always
            severity = fault.severity(at.t)
            self.stuck = (rng.random(n) < np.clip(severity, 0, 1)) & (severity > 0)
            self.size = self.stuck.astype(float)

    def on(self, quantity: str) -> Any:
        """Give the effect on a quantity."""
        if self.fault is None or quantity not in self.fault.rows:
            return np.zeros(len(self.state))
        return self.size * self.fault.rows[quantity][self.state]


def _temperatures(vehicle: Vehicle, days: _Days, at: _Moments, effects: _Effects) -> tuple[Any, Any, Any]:
    """Give the true coolant, and the true and the read intake air; the read coolant is the caller's."""
    rng, n, own = at.rng, at.count, vehicle.own
    hot = 90 + own["ect_off"] + 0.05 * (at.air - 15) + at.memory(days, 0.3, 0.6) + at.tails(1.2)
    half_soaked = np.where(rng.random(n) < 0.03, rng.uniform(9, 30, n), 0)
    soaked = at.air + 0.8 + at.normal(1.1) + half_soaked
    cranked = at.air + 1 + at.normal(1.2)
    warming = np.minimum(at.air + 5 + 0.17 * at.runtm + at.normal(2), 58)
    still = hot - rng.uniform(2, 25, n)
    true = np.select([at.soak, at.crank, at.cold, at.koeo], [soaked, cranked, warming, still], hot)
    true = true + effects.on("ectT")
    warmth = np.select([at.cold, at.warm, at.cruise, at.koeo], [2, 12, 7, 14], 0.3)
    warmth = warmth + own["iat_off"] * at.running
    intake = at.air + warmth + at.normal(1) * np.where(at.running, 2.5, 0.8)
    return true, intake, intake + effects.on("iat")


def _breathing(
    vehicle: Vehicle, days: _Days, at: _Moments, effects: _Effects, temperatures: tuple[Any, Any]
) -> Columns:
    """Give speeds, true manifold pressure and metered flow."""
    rng, n, own, sheet = at.rng, at.count, vehicle.own, vehicle.sheet
    coolant, intake = temperatures
    cold = np.clip(70 - coolant, 0, 90) * at.cold
    target = sheet.idle_rpm + own["rpm_off"] + 50 * at.ac - 35 * at.gear + 6 * cold + 15 * at.steering
    vss = np.where(at.cruise, rng.uniform(48, 112, n), 0)
    idling = target + at.tails(9)
    cruising, cranking = 700 + 16.5 * vss + at.normal(90), 210 + 1.2 * (at.air - 15) + at.normal(12)
    rpm = np.select([at.idle, at.cruise, at.crank], [idling, cruising, cranking], 0)
    rpm = rpm + effects.on("rpm") * at.idle
    still = 32.5 + own["map_off"] + at.memory(days, 0.2, 0.45) + 3.3 * at.ac + 2.2 * at.gear + 2 * at.load
    still = still + 1.5 * at.steering + 0.03 * cold + at.tails(0.9)
    pulling = np.clip(57 + 0.12 * (vss - 80) + at.normal(6.5), 38, at.baro - 8)
    pressure = np.where(at.idle, still, pulling)
    pressure = np.where(at.crank, at.baro - rng.uniform(3, 12, n), pressure) + effects.on("mapT")
    pressure = np.where(at.running | at.crank, pressure, at.baro)
    filling = np.where(at.idle, 0.62, 0.78) * (1 + own["ve_off"])
    flow = filling * pressure / (0.28705 * (intake + 273.15)) * sheet.litres * rpm / 120
    gain = (1 + effects.on("maf") / 100) * (1 + own["maf_off"] + at.memory(days, 0.3, 0.008))
    metered = flow * (gain * (1 + at.tails(0.018)))
    nothing = np.abs(at.normal(0.04))
    maf = np.where(at.running, metered, np.where(at.crank, flow * 0.6, nothing))
    return {"cold": cold, "VSS": vss, "RPM": rpm, "pressure": pressure, "MAF": maf}


class _Trims:
    """Fuel trims: the total, of which the learned trim has taken a lagged part."""

    def __init__(
        self, vehicle: Vehicle, days: _Days, at: _Moments, effects: _Effects, coolant_read: Any
    ) -> None:
        self.vehicle, self.days, self.at, self.effects = vehicle, days, at, effects
        rng, own, n = at.rng, vehicle.own, days.count
        self.cell = np.select([at.cold, at.warm], [0, 1], 2)
        self.tau = own["learn_days"]
        self.learned = _relearning(n, vehicle.resets, self.tau)
        self.blend = _mixed(days.met("fuel_trim"), own["tank_days"]) * own["fuel_gain"]
        self.bad = np.zeros(n)
        for first, last, size in vehicle.bad_tanks:
            self.bad[first:last] += size
        self.common = with_memory(rng, n, own["phi"], own["ar_sd"])
        self.common = self.common + np.where(rng.random(n) < 0.012, rng.normal(0, 4, n), 0)
        fault = effects.fault
        self.severity = np.zeros(n) if fault is None else fault.severity(np.arange(n) + 0.5)
        self.closed = at.warm | at.cruise | (at.cold & (coolant_read > 38))

    def bank(self, bank: int) -> tuple[Columns, Any]:
        """Give a bank's columns and its total trim."""
        at, own, fault, days = self.at, self.vehicle.own, self.effects.fault, self.days
        rng, n, phi = at.rng, at.count, own["phi"]
        mine, fuel = self.vehicle.trim_off[bank], self.blend
        level = np.stack(
            [
                mine[c] + _HINTS[0][c] + fuel + self.bad + _HINTS[1][c] * self.common
                + with_memory(rng, days.count, phi, 0.55)
                + own["trim_slope"] * (days.met("temperature") - 13)
                for c in range(3)
            ]
        )  # fmt: skip
        share: Any = 1 if fault is None else fault.share[bank]
        row = np.zeros(6) if fault is None else fault.rows.get("trim", np.zeros(6))
        fuel_lag = _first_order(self.blend + self.bad, self.tau) - self.blend - self.bad
        lagged = np.stack(
            [fuel_lag + _first_order(self.severity * row[c] * share, self.tau) for c in (COLD, WARM, CRUISE)]
        )
        total = level[self.cell, at.day] + self.effects.size * row[at.state] * share
        taken = self.learned[at.day] * (level[self.cell, at.day] + lagged[self.cell, at.day])
        taken = taken + at.normal(1) * np.where(at.cruise, 0.8, 0.35)
        long = np.clip(np.where(self.learned[at.day] < 0.02, 0, taken), -25, 25)
        spread = np.where(at.cruise, 1.25, 1.0) * own["stft_sd"] * (1 + self.effects.on("stft"))
        short = total - long + np.where(at.cold, -1.5, 0) + at.memory(days, 0.17, 0.8) + at.tails(1) * spread
        shown = np.where(self.closed | own["ol_keeps"], long, 0)
        swung = np.where(self.closed, np.clip(short, -30, 30), 0)
        swing = rng.beta(0.7, 0.7, n) * 0.75 + 0.08
        shift = self.effects.on("o2") * share
        still = 0.45 + at.normal(0.02)
        columns: Columns = {
            f"LONGFT{bank + 1}": np.where(at.running, shown, np.nan),
            f"SHRTFT{bank + 1}": np.where(at.running, swung, np.nan),
            f"O2S{bank + 1}1": np.where(self.closed, np.clip(swing + shift, 0.02, 1), still),
        }
        return columns, total


def _idle_air(
    vehicle: Vehicle, days: _Days, at: _Moments, effects: _Effects, pressure: Any, coolant: Any
) -> tuple[Any, Any]:
    """Give idle air (valve or throttle) and the throttle's position."""
    own, throttled = vehicle.own, vehicle.sheet.idle == "electronic_throttle"
    scale = AIR_OF_THROTTLE if throttled else 1.0
    air = 4.5 * at.ac + 2 * at.gear + 3 * at.steering + 2.0 * at.load - 0.05 * (at.air - 15)
    air = air + 0.2 * np.clip(85 - coolant, 0, 90) * at.cold + 2.2 * at.altitude_km
    air = air + own["air_wear"] * at.t / 365 + at.memory(days, 0.3, 0.7) + at.tails(1.1) + effects.on("air")
    air = own["air_level"] + scale * (air - 1.5)
    throttle = np.clip(16 + 0.55 * (pressure - 40) + at.normal(1.2), 8, 60)
    at_cruise = throttle if throttled else 42 + at.normal(4)
    off = np.where(at.cruise, at_cruise, 7 if throttled else 45)
    air = np.where(at.idle, np.clip(air, 1, 95), off)
    at_idle = air + 1 if throttled else 12 + own["tp_off"] + at.normal(0.3)
    return air, np.where(at.idle, at_idle, np.where(at.cruise, throttle + 1, 13))


def _volts(
    vehicle: Vehicle, days: _Days, at: _Moments, effects: _Effects, intake: Any, load: Any
) -> tuple[Any, Any]:
    """Give the module's voltage and the lowest while cranking."""
    rng, n, own = at.rng, at.count, vehicle.own
    running = 14.13 + own["volt_off"] - 0.0100 * (intake - 25) - 0.008 * (load - 30) * at.idle
    running = running + 0.03 * at.cruise - 0.15 * at.load - 0.22 * np.clip(at.runtm, 0, 1500) / 1500
    running = running + at.memory(days, 0.25, 0.06) + at.tails(1) * np.where(at.cruise, 0.06, 0.10)
    if vehicle.sheet.charging == "commanded":
        wander = rng.normal(0.05, 0.2, n)
        dips = np.where(rng.random(n) < 0.15, rng.uniform(0.5, 1.3, n), 0)
        running = np.minimum(running + wander - dips, 14.95)
    rest = (
        own["rest"] - 0.03 * at.t / 365 + 0.0025 * (at.air - 15) + at.memory(days, 0.4, 0.03) + at.tails(0.06)
    )
    crank = own["crank_v"] + 0.022 * np.clip(at.air - 15, -40, 15) + at.memory(days, 0.3, 0.1) + at.tails(0.2)
    still, cranking = rest + rng.uniform(0, 0.12, n), crank + rng.uniform(0.3, 1.1, n)
    volt = np.select([at.soak, at.koeo, at.crank], [rest, still, cranking], running) + effects.on("volt")
    crank = crank + effects.on("crankv")
    for day, gain in vehicle.new_battery:  # lifts the resting and cranking voltages
        after = (at.t >= day) & ~at.running
        volt, crank = volt + gain * after, crank + 3 * gain * after
    return volt, crank


def _counters(rng: Generator, vehicle: Vehicle, days: _Days) -> tuple[Any, Any, Any]:
    """Give kilometres driven, and kilometres and warm-ups since the memory was cleared, by day."""
    first = vehicle.own["clr0"]
    driven = np.where(days.silent, 0, days.use) * rng.uniform(0.5, 1.5, days.count)
    km = vehicle.own["km_day"] * np.cumsum(driven)
    starts = np.cumsum(np.where(days.silent, 0, 1 + (rng.random(days.count) < 0.4)))
    since = np.zeros(days.count, int)
    for day in sorted(vehicle.resets):
        since[max(day, 0) :] = max(day, 0)
    distance = km - km[since] * (since > 0) + first * (since == 0)
    warm_ups = starts - starts[since] * (since > 0) + (first // 25) * (since == 0)
    return km, distance, warm_ups


def _spoil(rng: Generator, vehicle: Vehicle, columns: Columns, count: int) -> None:
    """Add wild and unbelievable readings, round to the logger's steps, and leave holes, in place."""
    for name, column in columns.items():
        stem, values = _stem(name), column
        if stem in _WILD:
            wild = rng.random(count) < vehicle.own["wild"]
            jump = rng.choice([-1, 1], count) * _WILD[stem] * rng.uniform(0.4, 1.6, count)
            values = np.where(wild, np.where(rng.random(count) < 0.1, 0 * values, values + jump), values)
        step = _COARSE.get(stem, _STEP[stem]) if vehicle.kind == "coarse" else _STEP[stem]
        values = np.round(np.round(values / step) * step, 4) + 0.0
        if stem in _POSITIVE:
            values = np.maximum(values, 0)
        if stem in _UNBELIEVABLE:
            values = np.where(rng.random(count) < 0.0004, _UNBELIEVABLE[stem], values)
        columns[name] = np.where(rng.random(count) < 0.012, np.nan, values)


def take_readings(
    rng: Generator, vehicle: Vehicle, fault: Fault | None, depots: list[Depot], days: tuple[int, int]
) -> Taken:
    """Take all readings of one vehicle; `days` are their count and the weekday of the first."""
    calendar = _Days(vehicle, depots, *days)
    at = _Moments(rng, vehicle, calendar)
    effects = _Effects(rng, fault, at)
    n, sheet, own = at.count, vehicle.sheet, vehicle.own
    coolant, intake, intake_read = _temperatures(vehicle, calendar, at, effects)
    coolant_read = coolant + effects.on("ect")
    flow = _breathing(vehicle, calendar, at, effects, (coolant, intake))
    pressure, rpm, maf = flow["pressure"], flow["RPM"], flow["MAF"]
    trims = _Trims(vehicle, calendar, at, effects, coolant_read)
    columns: Columns = {}
    first_total: Any = None
    for bank in range(sheet.banks):
        found, total = trims.bank(bank)
        columns |= found
        first_total = total if first_total is None else first_total
    air, tp = _idle_air(vehicle, calendar, at, effects, pressure, coolant)
    if sheet.metering == "speed_density":
        believed = pressure + effects.on("map")
    else:
        believed = pressure * (1 + effects.on("maf") / 100)
    load = np.where(at.running, 100 * believed / at.baro * 0.9 + at.normal(1.2), 0)
    volt, crank = _volts(vehicle, calendar, at, effects, intake, load)
    km, distance, warm_ups = _counters(rng, vehicle, calendar)
    absolute = 12000 * maf / (np.maximum(rpm, 1) * 1.184 * sheet.litres)
    columns |= {
        "RPM": rpm,
        "VSS": np.where(at.running, flow["VSS"], 0),
        "ECT": coolant_read,
        "IAT": intake_read,
        "AAT": at.air + 1 + at.normal(1),
        "MAP": pressure + effects.on("map"),
        "BARO": at.baro + at.normal(0.3),
        "MAF": maf,
        "TP": tp,
        "IAC": air,
        "TAC_PCT": air,
        "LOAD_PCT": load,
        "LOAD_ABS": np.where(at.running, absolute, 0),
        "VPWR": volt,
        "CRANK_VMIN": np.where(at.crank, crank, np.full(n, np.nan)),
        "RUNTM": at.runtm,
        "CLR_DIST": np.minimum(distance[at.day], 65535),
        "WARM_UPS": np.minimum(warm_ups[at.day], 255),
        "O2S12": np.where(trims.closed, 0.65 + at.tails(0.05), 0.45),
    }
    spark_idle, spark_cruise = 10 + at.normal(1.8), 28 + at.normal(4)
    columns["SPARKADV"] = np.select([at.idle, at.cruise], [spark_idle, spark_cruise], 8)
    injected = 2.5 * pressure / 33 * (1 + first_total / 100) * (1 + at.normal(0.02))
    columns["INJ_PW"] = np.where(at.running, injected, 0)
    columns["LAMBDA1"] = np.where(trims.closed, 1 + at.normal(0.006), 0.93)
    columns["FLI"] = (60 + 35 * np.sin(at.t * 0.9 + own["ve_off"] * 200)) % 100
    ethanol = _mixed(calendar.met("ethanol"), own["tank_days"])[at.day]
    columns["ALCH_PCT"] = np.clip(ethanol + at.normal(0.8), 0, 100)
    columns = {name: columns[name] for name in vehicle.reports if name in columns}
    _spoil(rng, vehicle, columns, n)
    switches = {
        "ac": at.ac,
        "power_steering": at.steering,
        "in_gear": (at.gear & at.idle) | at.cruise,
    }
    shown = vehicle.stuck_input
    if shown in switches:
        switches[shown] = switches[shown] | effects.stuck
    return Taken(
        t=at.t,
        day=at.day,
        state=at.state,
        depot=calendar.depot[at.day],
        columns=columns,
        switches={name: switches[name] for name in sheet.switches},
        odometer_km=own["odo0"] + km[at.day],
    )
