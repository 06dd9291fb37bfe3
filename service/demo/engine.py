"""What the engine's parameters read, row by row, given the vehicle, the weather and what is physically wrong.

References
----------
Speed-density and VE after Heywood, Internal Combustion Engine Fundamentals, section 2.10 (from memory).
LOAD_ABS and LOAD_PCT after the SAE J1979 definitions. Noise of trim, airflow and voltage after measurements
on public recordings of single cars: warm idle learned trim sd 1.36 %, lag-1 correlation 0.3-0.5, cruise sd
1.75 %, short trim sd 2.3 % a snapshot, voltage sd 0.15 V with -10.5 mV/degC. Fleet spreads are assumptions.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, FUEL_SYSTEM, PARAMETERS
from service.demo.faults import Effects
from service.demo.nuisances import Circumstances
from service.demo.roster import Roster, constant
from service.demo.sheets import TYPES
from service.demo.timetable import Rows
from service.demo.town import Climate
from service.demo.trims import IDLE_KPA, Trims, leak_flow

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

IDLE_AIR_G_S_L: Final = 1.28
"""Warm idle airflow per litre at 700 1/min [g/s/l]; gives 31 kPa, within the measured 26-35 kPa."""

R_AIR: Final = 0.28705
"""Gas constant of air [kJ/(kg K)]."""

OPEN_LOOP_S: Final = 40.0
"""Time from start to closed loop [s]; measured 36-42 s on one car."""


@dataclass(slots=True, kw_only=True, eq=False)
class Bench:
    """All that the reading of one fleet needs, gathered to one value per row.

    `values` is filled column by column, shape (n, P), in the order of `parameters.CODES`.
    """

    rng: np.random.Generator
    roster: Roster
    rows: Rows
    effects: Effects
    circumstances: Circumstances
    climate: Climate
    trims: Trims
    values: Floats
    felt: dict[str, Floats] = field(default_factory=dict)

    def own(self, column: Floats) -> Floats:
        """Spread a per-vehicle array to rows."""
        return column[self.rows.vehicle]

    def kind(self, name: str) -> Floats:
        """Spread a numeric field of the types to rows."""
        return constant(name)[self.roster.kind[self.rows.vehicle]]

    def today(self, grid: Floats) -> Floats:
        """Spread a vehicle-by-day array to rows."""
        return np.asarray(grid[self.rows.vehicle, self.rows.day])

    def where(self, name: str, value: object) -> Flags:
        """Mark the rows whose type has this field value."""
        fits = np.array([getattr(kind, name) == value for kind in TYPES])
        return np.asarray(fits[self.roster.kind[self.rows.vehicle]])

    def chance(self, sd: float = 1.0) -> Floats:
        """Draw normal noise, one value per row."""
        return self.rng.normal(0, sd, len(self.rows))

    def set(self, code: str, among: Flags, value: Floats) -> None:
        """Write readings of one parameter on the marked rows."""
        self.values[among, COLUMN[code]] = value[among]


def read_engine(
    rng: np.random.Generator,
    roster: Roster,
    rows: Rows,
    climate: Climate,
    *,
    effects: Effects,
    circumstances: Circumstances,
    trims: Trims,
    tails: float,
) -> Floats:
    """Read every parameter of every snapshot, before the logger touches it.

    Returns
    -------
    float array of shape (n, P)
        In default units and the order of `parameters.CODES`; NaN where the type or state has none.
    """
    bench = Bench(
        rng=rng, roster=roster, rows=rows, effects=effects, circumstances=circumstances, climate=climate,
        trims=trims, values=np.full((len(rows), len(CODES)), np.nan),
    )  # fmt: skip
    _temperatures(bench)
    _air(bench)
    _idle_control(bench)
    _fuel(bench, tails)
    _electrics(bench)
    _counters(bench)
    return bench.values


def _temperatures(bench: Bench) -> None:
    rows, effects = bench.rows, bench.effects
    soak, crank, cold = rows.among("koeo_soak"), rows.among("crank"), rows.among("cold_idle")
    idle, cruise, koeo = rows.among("warm_idle"), rows.among("cruise"), rows.among("koeo")
    air = rows.air_c
    opened = bench.today(effects.thermostat)
    lost = opened * np.clip(15 + 0.35 * (15 - air), 4, 35)
    hot = 90.5 + bench.own(bench.roster.ect_set_c)
    rest = air + 1.2 + np.abs(bench.chance(0.8))
    engine = np.select(
        [soak | crank, cold, idle, cruise],
        [
            rest,
            rest + 9 + rows.run_s * 0.06 + bench.chance(1.5),
            hot + 1.5 + bench.chance(1.4) - 0.45 * lost,
            hot - 1 - 0.04 * np.maximum(8 - air, 0) + bench.chance(1.2) - lost,
        ],
        hot - 12 + bench.chance(5) - 0.5 * lost,
    )
    sun = np.where(bench.rng.random(len(rows)) < 0.04, bench.rng.uniform(1, 4, len(rows)), 0)
    intake = np.select(
        [soak | crank, cold, idle, cruise],
        [air + 0.8 + sun + bench.chance(0.8), air + 2 + bench.chance(1), air + 15 + bench.chance(4),
         air + 6 + bench.chance(2)],
        air + 24 + bench.chance(6),
    )  # fmt: skip
    everywhere = soak | crank | cold | idle | cruise | koeo
    bench.felt["engine"], bench.felt["intake"] = engine, intake
    bench.set("ECT", everywhere, engine + bench.own(bench.roster.ect_offset_c) + bench.today(effects.ect_c))
    bench.set("IAT", everywhere, intake + bench.own(bench.roster.iat_offset_c) + bench.today(effects.iat_c))
    reads_air = bench.own(bench.roster.reads_air.astype(float)) > 0
    bench.set("AAT", reads_air, air + 0.5 + bench.chance(0.8))


def _idle_load(bench: Bench) -> Floats:
    """Give airflow relative to idle without load; a stuck input raises it as the true load would."""
    rows = bench.rows
    stuck = bench.effects.switch[rows.vehicle, rows.day]
    ac, steering = rows.ac | (stuck == 1), rows.steering | (stuck == 2)
    idling = rows.among("warm_idle", "cold_idle")
    bench.felt["ac"], bench.felt["steering"] = ac.astype(float), steering.astype(float)
    electric = np.clip(0.4 + 0.02 * (10 - rows.air_c), 0.1, 1.0) + bench.chance(0.15)
    bench.felt["electric"] = electric
    load = 1 + 0.17 * ac + 0.11 * steering + 0.05 * rows.gear + 0.03 * (electric - 0.4)
    return np.where(idling, load, 1.0)


def _air(bench: Bench) -> None:
    rows, effects = bench.rows, bench.effects
    warm, cold, cruise = rows.among("warm_idle"), rows.among("cold_idle"), rows.among("cruise")
    idle, running = warm | cold, warm | cold | cruise
    litres = bench.kind("displacement_l")
    load = _idle_load(bench)
    chill = np.maximum(80 - bench.felt["engine"], 0)
    target = bench.kind("idle_rpm") + 45 * bench.felt["ac"] + 4.5 * np.where(cold, chill, 0)
    rpm = np.where(idle, target + bench.chance(9), bench.rng.uniform(1750, 2450, len(rows)))
    filling = bench.rng.uniform(0.26, 0.37, len(rows))
    idle_flow = IDLE_AIR_G_S_L * litres * (rpm / 700) * load * bench.own(bench.roster.air_scale)
    flow = np.where(idle, idle_flow * (1 + 0.003 * chill), litres * 1.184 * rpm / 120 * filling)
    flow = flow * (1 + bench.chance(0.022))
    pressure = bench.climate.pressure_kpa[rows.depot, rows.day]
    idle_air = IDLE_AIR_G_S_L * litres * bench.kind("idle_rpm") / 700
    leak = leak_flow(bench.today(effects.leak), pressure, IDLE_KPA)
    bench.felt["leak"] = leak
    metered = (flow - np.minimum(leak * idle_air, 0.6 * flow)) * bench.today(effects.meter)
    has_meter = bench.where("air_metering", "maf")
    bench.set("MAF", running & has_meter, metered)
    shown = np.where(has_meter, metered, flow) * 120 / (rpm * 1.184 * litres) * 100
    bench.set("LOAD_ABS", running & (bench.own(bench.roster.reads_more.astype(float)) > 0), shown)
    thin = pressure / 101.325 * np.sqrt(298 / (rows.air_c + 273))
    bench.set("LOAD_PCT", running, np.clip(shown / 0.86 / thin, 0, 100))
    bench.felt["rpm"], bench.felt["flow"], bench.felt["load"] = rpm, flow, load
    _pressures(bench, pressure)
    _speeds(bench)


def _pressures(bench: Bench, pressure: Floats) -> None:
    rows, flow, rpm = bench.rows, bench.felt["flow"], bench.felt["rpm"]
    idle = rows.among("warm_idle", "cold_idle")
    running, off = idle | rows.among("cruise"), rows.among("koeo_soak", "koeo")
    efficiency = np.where(idle, 0.6, 0.78)
    kelvin = bench.felt["intake"] + 273.15
    manifold = flow * 120 * R_AIR * kelvin / (efficiency * bench.kind("displacement_l") * rpm)
    manifold += bench.own(bench.roster.map_offset_kpa) + bench.chance(0.8)
    # Extra air by a leak is worse distributed and costs torque; the sensed pressure rises a little.
    manifold += np.where(idle & ~bench.where("air_metering", "maf"), 11 * bench.felt["leak"], 0)
    manifold = np.where(off, pressure + 0.3 * bench.own(bench.roster.map_offset_kpa), manifold)
    sensed = bench.where("reads_map", True)
    shown = np.minimum(manifold, pressure + 0.5) + bench.today(bench.effects.map_kpa)
    bench.set("MAP", sensed & (running | off), shown)
    bench.set("BARO", running | off, pressure + bench.chance(0.2))


def _speeds(bench: Bench) -> None:
    rows, rpm, cruise = bench.rows, bench.felt["rpm"], bench.rows.among("cruise")
    bench.set("RPM", cruise | rows.among("warm_idle", "cold_idle"), rpm)
    bench.set("RPM", rows.among("koeo_soak", "koeo"), np.zeros(len(rows)))
    bench.set("RPM", rows.among("crank"), bench.rng.uniform(160, 240, len(rows)))
    bench.set("VSS", ~cruise, np.zeros(len(rows)))
    bench.set("VSS", cruise, rpm / 31 + bench.chance(2))


def _idle_control(bench: Bench) -> None:
    rows, effects = bench.rows, bench.effects
    idle, cruise = rows.among("warm_idle", "cold_idle"), rows.among("cruise")
    bypass = bench.where("idle_control", "bypass_valve")
    base = bench.kind("idle_air") + bench.own(bench.roster.idle_air)
    pressure = bench.climate.pressure_kpa[rows.depot, rows.day]
    density = (101.325 / pressure) ** 0.5 * np.sqrt((rows.air_c + 288) / 300)
    unlearned = (1 - bench.today(bench.trims.trust)) * bench.own(bench.rng.normal(0, 1, len(bench.roster)))
    chill = np.maximum(80 - bench.felt["engine"], 0)
    closed = bench.today(effects.deposits)
    missing = bench.felt["leak"] + 0.5 * bench.today(effects.purge[:, :, 0])
    # About a quarter of the idle air passes beside the bypass valve; the valve makes up for every change.
    valve = (
        base * density * (1 + (bench.felt["load"] - 1) / 0.75 + 0.22 * closed / 0.26 / 0.75 - missing / 0.75)
    )
    valve += 0.2 * chill + bench.chance(1.0) + 3 * unlearned
    bench.set("IAC", idle & bypass, np.clip(valve, 0, 100))
    counts = idle & bypass & (bench.own(bench.roster.reads_more.astype(float)) > 0) & bench.where("banks", 1)
    bench.set("IAC_COUNTS", counts & bench.where("sheet", "TARNOL-16"), np.clip(valve * 1.6, 0, 255))
    plate = base * density * (1 + 1.1 * (bench.felt["load"] - 1) - 1.25 * missing) / (1 - closed)
    plate += 0.03 * chill + bench.chance(0.18) + 0.5 * unlearned
    driving = 9 + 0.12 * (bench.felt["rpm"] - 1750) / 10 + 0.6 * closed + bench.chance(1.5)
    electronic = ~bypass
    command = np.where(idle, plate, driving)
    bench.set("TAC_PCT", electronic & (idle | cruise), np.clip(command, 0, 100))
    throttle = np.where(electronic, command + 8 + bench.chance(0.2), np.where(cruise, driving + 10, 11.8))
    bench.set("TP", idle | cruise, np.clip(throttle, 0, 100))


def _steady(bench: Bench, tails: float) -> Floats:
    """Draw heavy-tailed noise with sd 1; a share `tails` of the rows is wild (4-8)."""
    n = len(bench.rows)
    noise = bench.rng.standard_t(5, n) * np.sqrt(3 / 5)
    wild = bench.rng.random(n) < tails
    return np.where(wild, bench.rng.choice([-1.0, 1.0], n) * bench.rng.uniform(4, 8, n), noise)


def _fuel(bench: Bench, tails: float) -> None:
    rows, trims = bench.rows, bench.trims
    warm, cold, cruise = rows.among("warm_idle"), rows.among("cold_idle"), rows.among("cruise")
    running = warm | cold | cruise
    cell = cruise.astype(int)
    trust = bench.today(trims.trust)
    open_loop = cold & (rows.run_s < OPEN_LOOP_S)
    both = _steady(bench, tails) * np.where(cruise, 1.1, 0.75) * bench.own(bench.roster.noise)
    warming = np.where(cold, 2.5 + bench.chance(1.2), 0.0)
    for bank in (0, 1):
        here = running & (bench.kind("banks") > bank)
        single = bench.chance(0.45) * bench.own(bench.roster.noise)
        held = trims.learned[rows.vehicle, rows.day, cell, bank]
        long = held + trust * (both + single + warming)
        # A memory just emptied reads exactly zero until the engine has run for a while.
        long = np.where(trust == 0, 0.0, long)
        long = np.where(open_loop & bench.where("zero_in_open_loop", True), 0.0, long)
        short = trims.needed[rows.vehicle, rows.day, cell, bank] - held
        swing = 2.3 * (1 + bench.today(bench.effects.swing[:, :, bank]))
        short = short - 0.3 * (both + single) + swing * bench.chance() - np.where(cold, 3.7, 0.3)
        short = np.where(open_loop, 0.0, np.clip(short, -25, 25))
        bench.set(f"LONGFT{bank + 1}", here, np.clip(long, -35, 35))
        bench.set(f"SHRTFT{bank + 1}", here, short)
        _oxygen(bench, bank, here, open_loop)
    loop = np.where(open_loop, FUEL_SYSTEM.index("OL"), FUEL_SYSTEM.index("CL"))
    bench.set("FUELSYS1", running, loop.astype(float))
    bench.set("LAMBDA1", running, np.where(open_loop, 0.95, 1.0))
    milliseconds = 2.4 * bench.felt["load"] * np.where(cruise, 1.9, 1.0) + bench.chance(0.08)
    bench.set("INJ_PW", running & (bench.own(bench.roster.reads_more.astype(float)) > 0), milliseconds)
    bench.set("ALCH_PCT", running & bench.where("reads_alcohol", True),
              bench.today(bench.circumstances.alcohol_pct) + np.abs(bench.chance(0.4)))  # fmt: skip


def _oxygen(bench: Bench, bank: int, here: Flags, open_loop: Flags) -> None:
    lazy = np.minimum(bench.today(bench.effects.swing[:, :, bank]) / 1.8, 1)
    ahead = 0.45 + (0.36 - 0.12 * lazy) * np.sin(bench.rng.uniform(0, 2 * np.pi, len(bench.rows)))
    bench.set(f"O2S{bank + 1}1", here, np.where(open_loop, 0.45, ahead))
    bench.set(f"O2S{bank + 1}2", here, np.clip(0.65 + bench.chance(0.05), 0, 1.2))


def _electrics(bench: Bench) -> None:
    rows, effects, roster = bench.rows, bench.effects, bench.roster
    idle, cruise = rows.among("warm_idle", "cold_idle"), rows.among("cruise")
    commanded = bench.where("charging", "commanded")
    load = np.clip(bench.felt["electric"] + 0.25 * bench.felt["ac"], 0, 1.5)
    base = bench.kind("volts") + bench.own(roster.volts)
    fixed = base - 0.0105 * (bench.felt["intake"] - 25) - 0.25 * (load - 0.4) * np.where(cruise, 0.5, 1.0)
    saving = cruise & (bench.rng.random(len(rows)) < 0.55)
    asked = np.where(saving, 12.8 + bench.chance(0.12), base + 0.1 + bench.chance(0.3))
    noise = bench.chance() * np.where(cruise, 0.07, 0.1)
    running = np.where(commanded, asked, fixed) + noise
    running += bench.today(effects.running_v) - bench.today(effects.load_v) * np.clip(
        0.35 + 0.65 * load, 0.2, 1.2
    )
    rest = 12.52 + bench.own(roster.rest_volts) + bench.today(bench.circumstances.rest_v)
    rest += 0.003 * (rows.air_c - 15) + bench.chance(0.06) + bench.today(effects.rest_v)
    off = rows.among("koeo_soak", "koeo")
    surface = np.where(rows.among("koeo"), 0.12, 0.0)
    bench.set("VPWR", idle | cruise, running)
    bench.set("VPWR", off, rest + surface - 0.06 * bench.today(effects.load_v))
    crank = 10.5 + bench.own(roster.crank_volts) + 0.028 * (np.minimum(rows.air_c, 20) - 12)
    crank += bench.chance(0.22) + bench.today(effects.crank_v)
    bench.set("CRANK_VMIN", rows.among("crank"), crank)
    bench.set("VPWR", rows.among("crank"), crank + np.abs(bench.chance(0.5)))


def _counters(bench: Bench) -> None:
    rows = bench.rows
    everywhere = np.ones(len(rows), dtype=bool)
    running = rows.among("warm_idle", "cold_idle", "cruise")
    bench.set("RUNTM", everywhere, rows.run_s)
    advance = np.where(rows.among("cruise"), 27.0, 11.0) + bench.chance(2)
    bench.set("SPARKADV", running, advance)
    bench.set("SPARKADV", rows.among("crank"), 8 + bench.chance(1))
    bench.set("FLI", everywhere, bench.rng.uniform(12, 96, len(rows)))
    more = bench.own(bench.roster.reads_more.astype(float)) > 0
    bench.set("KNOCK_RETARD", more & rows.among("koeo", "koeo_soak"), np.zeros(len(rows)))
    bench.set("CAM_SYNC", more & running, np.ones(len(rows)))
    bench.set("CRANK_SYNC", more & running, np.ones(len(rows)))


def quantise(values: Floats) -> Floats:
    """Round to each parameter's encoding step and clip to what it can carry.

    Parameters
    ----------
    values : float array of shape (n, P)
        In default units and the order of `parameters.CODES`.

    Returns
    -------
    float array of shape (n, P)
        A new array. Steps count from the lowest encodable value (J1979: A - 40, A * 100 / 128 - 100...).
    """
    out = values.copy()
    steps: Mapping[str, float] = {"IAC": 0.1, "INJ_PW": 0.01, "CRANK_VMIN": 0.01, "KNOCK_RETARD": 0.5}
    for code, parameter in PARAMETERS.items():
        column = out[:, COLUMN[code]]
        step = parameter.step or steps.get(code, 0.0)
        if step:
            column[:] = parameter.low + np.round((column - parameter.low) / step) * step
        np.clip(column, parameter.low, parameter.high, out=column)
    return out
