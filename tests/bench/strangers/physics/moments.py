"""Moments at which an engine is looked at: when, in which state, and all that the engine then depends on."""

from types import SimpleNamespace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import Floats, Moment, run
from tests.bench.strangers.physics.faults import FIXED, PARTS
from tests.bench.strangers.physics.vehicles import Columns

Integers = NDArray[np.int64]

STATES: Final = ("koeo_soak", "koeo", "crank", "cold_idle", "warm_idle", "cruise")
SOAK, KOEO, CRANK, COLD, IDLE, CRUISE = range(6)

_SHARES: Final = (0.13, 0.03, 0.10, 0.10, 0.35, 0.29)
"""Mean shares of snapshots by state."""

_A_DAY: Final = 1.6
"""Snapshots per vehicle-day."""

_OWN: Final = (
    "disp", "cyl", "has_maf", "bypass", "rpm_idle", "tstat", "v_set", "alt_amps", "m_idle", "m_cruise",
    "inj_rate", "ac_kw", "m_fric", "ve_off", "maf_off", "leak0", "amps", "k_th",
)  # fmt: skip
"""Constants of a vehicle that the engine takes as they are."""

_AS_CHANGED: Final = (
    "leak", "leak_side", "purge", "dp_low", "dp_w", "dp_high", "maf_loss", "maf_exp", "reg_shift", "charge_r",
    "alt_cap", "tleak", "ect_ratio", "ect_series", "ect_leak", "iat_ratio", "iat_series", "iat_leak",
)  # fmt: skip
"""Changed quantities that the engine takes as they are."""


def _false_load(x: Moment, own: Columns, parts: Columns, severity: Any, v: Any, uniform: Any) -> Any:
    """Give how much of a load that is not there the computer believes in."""
    now_and_then = parts["load_duty"][v] * (severity > 0) > 0
    duty = np.where(now_and_then, np.minimum(0.2 + 0.8 * severity, 1), 1)
    level = np.where(now_and_then, own["bump"][v], severity) * (parts["load_amount"][v] > 0) * (severity > 0)
    seen = level * duty if uniform is None else level * (uniform < duty)
    return seen * ~(x.ac & (parts["load_which"][v] == 0))  # stuck on adds nothing while it is truly on


def moment(
    own: Columns,
    day: Columns,
    parts: Columns,
    severity: Floats,
    at: tuple[Any, Any],
    clock: tuple[Any, Any, Any, float],
    draw: Columns | None,
    state: Columns,
) -> Moment:
    """Give the engine's arguments at moments.

    Parameters
    ----------
    own, day, parts : dict of str to array
        Constants of vehicles, what changes from day to day, and quantities changed by faults.
    severity : float array of shape (V, days)
    at : (vehicles, days)
        Places, arrays of the moments' shape.
    clock : (idle, hour, swing, phase)
        Whether it idles; local hour, daily swing of the air [degC] and the hour at which it is warmest.
    draw : dict of str to array, or None
        Standard normal numbers by name, and uniform ones; None gives the typical moment of a day.
    state : dict of str to array
        Replaces the typical state: `off`, `cold`, `ac`, speed and the like.
    """
    v, d = at
    idle, hour, swing, phase = clock
    drawn = draw is not None
    zero = np.zeros(len(v))
    noise = {
        name: zero if draw is None else draw[name]
        for name in ("demand", "load", "heat", "air", "purge", "cmd")
    }
    size = severity[v, d]
    fault = {name: parts[name][v] * (size > 0 if name in FIXED else size) for name in PARTS}
    x = SimpleNamespace(
        **{name: own[name][v] for name in _OWN}, **{name: fault[name] for name in _AS_CHANGED}
    )

    def air(lag: float) -> Any:
        return day["t"][v, d] + swing * np.cos(2 * np.pi * (hour - lag - phase) / 24)

    x.idle, x.ta, x.ta_lag, x.ta_ref = idle, air(0), air(1.5), day["t_ref"][v, d]
    x.baro, x.ethanol = day["baro"][v, d], day["eth"][v, d]
    years = d / 365
    x.deposit = np.where(fault["deposit"] > 0, 0, own["wear"][v] * years) + fault["deposit"]
    x.batt_r = own["batt_r"][v] * (1 + own["batt_age"][v] * years + fault["batt_r_up"])
    x.soc = day["soc"][v, d] if "soc" in day else np.full(len(v), 0.93)
    x.ocv = 11.89 + 0.78 * x.soc + own["ocv"][v] + day["ocv"][v, d] * drawn - fault["ocv_down"]
    x.feed = own["feed"][v] + fault["feed_r"]
    x.dp_vac = fault["dp_vac"] > 0
    x.map_off = fault["map_off"] + own["map0"][v]
    x.exh, x.o2_bias = (fault["exh1"], fault["exh2"]), (fault["o2_1"], fault["o2_2"])
    x.inj_off, x.inj_loss = (own["inj1"][v], own["inj2"][v]), (fault["inj_loss1"], fault["inj_loss2"])
    x.o2_lag = (fault["o2_lag1"], fault["o2_lag2"])
    x.reserve = np.maximum(parts["load_amount"][v] - 0.066, 0)
    x.n_mix = np.where(idle, day["mix"][0][v, d], day["mix"][1][v, d]) + day["after"][v, d]
    x.n_demand = 0.7 * day["demand"][v, d] * drawn + 0.7 * noise["demand"]
    x.n_load = 0.6 * day["elec"][v, d] * drawn + 0.7 * noise["load"]
    x.n_heat, x.n_air, x.n_purge = noise["heat"], noise["air"], noise["purge"]
    x.v_cmd = day["volt"][v, d] * drawn + own["commanded"][v] * 0.33 * noise["cmd"]
    x.rpm_cruise, x.road_kw = np.full(len(v), 1900.0), 0.9 + 4.0 + 2.0 * x.disp
    for name in ("off", "cold", "ac", "steer", "gear", "dark"):
        setattr(x, name, np.full(len(v), False))
    x.soak_h, x.run_s = np.full(len(v), 0.0), np.full(len(v), 1500.0)
    for name, values in state.items():
        setattr(x, name, values)
    x.false_load = _false_load(x, own, parts, size, v, None if draw is None else draw["uniform"])
    return x


def learn(
    own: Columns, day: Columns, parts: Columns, severity: Floats, resets: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Let trims be learned and the battery be charged, day by day, at a typical moment of each day.

    Returns
    -------
    float arrays of shapes (cell, bank, V, days) and (V, days)
        Learned trims [%] at idle and cruise; charge of the battery.
    """
    count, days = severity.shape
    v, d = (part.ravel() for part in np.meshgrid(np.arange(count), np.arange(days), indexing="ij"))
    found: list[list[Floats]] = []
    volt: Any = 0
    for idle in (True, False):
        x = moment(
            own, day, parts, severity, (v, d), (np.full(count * days, idle), 13.0, 3.0, 15.0), None, {}
        )
        result = run(x)
        found.append([trim.reshape(count, days) for trim in result["trims"]])
        volt = volt + result["volt"].reshape(count, days) / 2
    daily = np.clip(np.array(found), -26, 26)
    learned = daily.copy()
    for place in range(1, days):
        old = learned[..., place - 1]
        learned[..., place] = np.where(resets[:, place], 0, old + 0.45 * (daily[..., place] - old))
    goal = np.interp(volt, [12.3, 12.8, 13.2, 13.6, 14.1, 15], [0.3, 0.6, 0.84, 0.92, 0.965, 0.99])
    goal = goal - parts["leak_amps"][:, None] * severity
    charge = goal.copy()
    for place in range(1, days):
        charge[:, place] = charge[:, place - 1] + (goal[:, place] - charge[:, place - 1]) / 7
    return learned, charge


def draw_times(
    rng: np.random.Generator, own: Columns, day: Columns
) -> tuple[Integers, Integers, Integers, Floats]:
    """Draw when snapshots are taken and in which state, sorted by vehicle and day.

    Returns
    -------
    arrays of shape (n,)
        Vehicle, day, state, local hour.
    """
    count, days = day["use"].shape
    rate = _A_DAY * own["use"] / own["use"].mean() / day["use"].mean()
    taken = rng.poisson(rate[:, None] * day["use"])
    v = np.repeat(np.arange(count), taken.sum(1))
    d = np.repeat(np.tile(np.arange(days), count), taken.ravel())
    n = len(v)
    shares = np.array([rng.dirichlet(np.array(_SHARES) * 25) for _ in range(count)])
    state = (rng.random(n)[:, None] > np.cumsum(shares, 1)[v]).sum(1).clip(0, 5)
    morning = rng.normal(6.6, 0.8, n)
    daytime = rng.uniform(7.5, 18.5, n)
    early = np.isin(state, (SOAK, COLD)) | ((state == CRANK) & (rng.random(n) < 0.7))
    return v, d, state, np.where(early, morning, daytime).clip(3, 22)


def draw_state(
    rng: np.random.Generator, own: Columns, warmth: Floats, times: tuple[Integers, Integers, Floats]
) -> tuple[Columns, Floats]:
    """Draw what vehicles are doing at their snapshots.

    Parameters
    ----------
    own : dict of str to array
        Constants of vehicles.
    warmth : float array of shape (n,)
        Outside air [degC].
    times : (vehicle, state, hour)
        Arrays of shape (n,).

    Returns
    -------
    dict of str to array of shape (n,), float array of shape (n,)
        What `moment` takes as its state; speed [km/h].
    """
    v, state, hour = times
    n = len(v)
    idle, running = (state == IDLE) | (state == COLD), state >= COLD
    ac = (rng.random(n) < np.clip((warmth - 17) / 14, 0, 0.85)) & (state >= IDLE)
    steer = idle & (rng.random(n) < 0.04)
    gear = (state == IDLE) & (rng.random(n) < 0.12)
    speed = np.where(state == CRUISE, rng.normal(72, 13, n).clip(42, 110), 0.0)
    cold_s = rng.uniform(15, 150, n)
    run_s = np.where(state == COLD, cold_s, np.where(running, 420 + rng.exponential(1100, n), 0))
    long, short = rng.uniform(6, 15, n), rng.uniform(0.2, 2.5, n)
    soak = np.where((state == SOAK) | (state == COLD), long, short)
    soak = np.where((state == CRANK) & (hour < 9), rng.uniform(6, 15, n), soak)
    metres = speed / 3.6
    force = 200 * (1 + 0.1 * own["disp"][v]) + 0.42 * metres**2
    road_kw = force * metres / 1000 * np.exp(0.15 * rng.standard_normal(n)) + 0.3
    doing: Columns = {
        "off": ~running, "cold": state == COLD, "soak_h": soak, "run_s": run_s, "ac": ac, "steer": steer,
        "gear": gear, "dark": (hour < 7.2) | (hour > 18),
        "rpm_cruise": 24 * np.maximum(speed, 42) + 150 + 40 * rng.standard_normal(n), "road_kw": road_kw,
    }  # fmt: skip
    return doing, speed
