"""The followed series: which quantity in which operating state, and what explains it.

A series joins only readings of one operating state. Some are parameters as read, others are short
formulas over one day's values, named by the formula.
"""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, PARAMETERS, STATES, SWITCHES
from models.panel import Daily, Fleet
from models.weather import read_air

Column = NDArray[np.float64]
Places = NDArray[np.int64] | NDArray[np.int32]
_KELVIN: Final = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One followed series.

    Parameters
    ----------
    name : str
        `FORMULA@state`.
    parameter : str
        Catalogue parameter that stands for it in exports.
    states : tuple of str
        Operating states whose readings it joins; the first one names it.
    unit : str
        Unit as shown. Inside the models a series with `log` is held as 100 times its natural logarithm [%],
        so that a share of any flow is the same number.
    formula : callable
        Columns of a `Daily` in, values of shape (m,) out; NaN where something is missing.
    explained_by : tuple of str
        Covariates that may explain it, by name in `COVARIATES`.
    step : float
        Coarsest resolution of an honest sensor [unit]; noise is never taken for less than half of it.
    learned : bool
        Whether the engine computer learns it, so that clearing its memory moves it.
    limited : bool
        Whether a sheet's limit for `parameter` and state speaks of this very quantity.
    log : bool
        Whether the models hold its logarithm.
    alone : bool
        Whether a shift of this series and no other is worth a finding; false where unreported idle loads,
        driving or chance move it often.
    better : {-1, 0, 1}
        Direction in which a shift of this series and no other is good news: a fresh battery, nobody's fault.
    bounded : bool
        Whether it is a share between 0 and 1 (a switch) rather than a level.
    """

    name: str
    parameter: str
    states: tuple[str, ...]
    unit: str
    formula: Callable[[Daily], Column]
    explained_by: tuple[str, ...]
    step: float
    learned: bool = False
    limited: bool = False
    log: bool = False
    alone: bool = False
    better: int = 0
    bounded: bool = False

    @property
    def scale(self) -> str:
        """What its readings are rounded as: the parameter as read, in any state, or this difference.

        Empty of logarithms and shares.
        """
        if self.log or self.bounded:
            return ""
        return self.parameter if self.limited else self.name


def _value(code: str) -> Callable[[Daily], Column]:
    place = COLUMN[code]
    return lambda daily: daily.values[:, place]


def _difference(one: str, other: str) -> Callable[[Daily], Column]:
    first, second = COLUMN[one], COLUMN[other]
    return lambda daily: daily.values[:, first] - daily.values[:, second]


def _log_percent(code: str) -> Callable[[Daily], Column]:
    place = COLUMN[code]

    def formula(daily: Daily) -> Column:
        value = daily.values[:, place]
        return 100.0 * np.log(np.where(value > 0, value, np.nan))

    return formula


def _airflow_ratio(daily: Daily) -> Column:
    """Measured flow against what pressure, speed and temperature say, log scale [%]: a breathing share."""
    flow, pressure, speed, air = (daily.values[:, COLUMN[code]] for code in ("MAF", "MAP", "RPM", "IAT"))
    expected = pressure * speed / (air + _KELVIN)
    return 100.0 * np.log(
        np.where((flow > 0) & (expected > 0), flow / np.where(expected > 0, expected, 1), np.nan)
    )


def _swing(code: str) -> Callable[[Daily], Column]:
    place = COLUMN[code]
    return lambda daily: np.abs(daily.values[:, place])


def _switch(name: str) -> Callable[[Daily], Column]:
    place = SWITCHES.index(name)
    return lambda daily: daily.switched_on[:, place]


_IDLE_LOADS: Final = ("ac", "power_steering", "in_gear")
_AIR: Final = ("air_temperature", "cold_air", "barometer")
_TRIM: Final = (*_AIR, "alcohol", "ac")
_IDLE: Final = (*_AIR, "warm_air", *_IDLE_LOADS)
_VOLTS: Final = ("air_temperature", "cold_air", "ac", "run_time")
_CRUISE_FLOW: Final = ("air_temperature", "barometer", "log_speed", "road_speed", "throttle")


def _level(
    code: str,
    *states: str,
    explained_by: tuple[str, ...],
    step: float,
    learned: bool = False,
    alone: bool = True,
    better: int = 0,
) -> Series:
    return Series(
        name=f"{code}@{states[0]}",
        parameter=code,
        states=states,
        unit=PARAMETERS[code].unit,
        formula=_value(code),
        explained_by=explained_by,
        step=step,
        learned=learned,
        limited=True,
        alone=alone,
        better=better,
    )


_TRIM_STEP: Final = PARAMETERS["LONGFT1"].step
_BYTE_STEP: Final = PARAMETERS["TP"].step

SERIES: Final = (
    _level("LONGFT1", "warm_idle", explained_by=_TRIM, step=_TRIM_STEP, learned=True),
    _level("LONGFT2", "warm_idle", explained_by=_TRIM, step=_TRIM_STEP, learned=True),
    _level("LONGFT1", "cruise", explained_by=_TRIM, step=_TRIM_STEP, learned=True),
    _level("LONGFT2", "cruise", explained_by=_TRIM, step=_TRIM_STEP, learned=True),
    _level("IAC", "warm_idle", explained_by=_IDLE, step=_BYTE_STEP, learned=True),
    _level("IAC_COUNTS", "warm_idle", explained_by=_IDLE, step=1.0, learned=True),
    _level("TAC_PCT", "warm_idle", explained_by=_IDLE, step=_BYTE_STEP, learned=True),
    _level("TP", "warm_idle", explained_by=_IDLE, step=_BYTE_STEP, learned=True),
    _level("MAP", "warm_idle", explained_by=_IDLE, step=1.0, alone=False),
    Series(name="MAF@warm_idle", parameter="MAF", states=("warm_idle",), unit="g/s",
           log=True, limited=True,
           formula=_log_percent("MAF"), explained_by=_IDLE, step=0.3),
    Series(name="LOAD_ABS@warm_idle", parameter="LOAD_ABS", states=("warm_idle",), unit="%",
           log=True, limited=True,
           formula=_log_percent("LOAD_ABS"), explained_by=_IDLE, step=1.5),
    Series(name="ln MAF/MAP@warm_idle", parameter="MAF", states=("warm_idle",), unit="%",
           formula=_airflow_ratio, explained_by=_IDLE, step=1.5),
    Series(name="ln MAF/MAP@cruise", parameter="MAF", states=("cruise",), unit="%", formula=_airflow_ratio,
           explained_by=_CRUISE_FLOW, step=1.5),
    Series(name="MAF@cruise", parameter="MAF", states=("cruise",), unit="g/s",
           log=True, limited=True, formula=_log_percent("MAF"),
           explained_by=_CRUISE_FLOW, step=0.3),
    Series(name="INJ_PW@warm_idle", parameter="INJ_PW", states=("warm_idle",), unit="ms",
           log=True, limited=True,
           formula=_log_percent("INJ_PW"), explained_by=_IDLE, step=0.5),
    _level("RPM", "warm_idle", explained_by=_IDLE, step=4.0, alone=False),
    Series(name="|SHRTFT1|@warm_idle", parameter="SHRTFT1", states=("warm_idle",), unit="%",
           formula=_swing("SHRTFT1"), explained_by=(), step=_TRIM_STEP),
    Series(name="|SHRTFT2|@warm_idle", parameter="SHRTFT2", states=("warm_idle",), unit="%",
           formula=_swing("SHRTFT2"), explained_by=(), step=_TRIM_STEP),
    Series(name="|SHRTFT1|@cruise", parameter="SHRTFT1", states=("cruise",), unit="%",
           formula=_swing("SHRTFT1"), explained_by=(), step=_TRIM_STEP),
    Series(name="|SHRTFT2|@cruise", parameter="SHRTFT2", states=("cruise",), unit="%",
           formula=_swing("SHRTFT2"), explained_by=(), step=_TRIM_STEP),
    _level("VPWR", "warm_idle", explained_by=_VOLTS, step=0.02),
    _level("VPWR", "cruise", explained_by=_VOLTS, step=0.02),
    _level("VPWR", "cold_idle", explained_by=_VOLTS, step=0.02),
    _level("VPWR", "koeo_soak", explained_by=("air_temperature", "cold_air"), step=0.02, better=1),
    _level("CRANK_VMIN", "crank", explained_by=("air_temperature", "cold_air"), step=0.02, better=1),
    Series(name="ECT-IAT@koeo_soak", parameter="ECT", states=("koeo_soak",), unit="degC",
           formula=_difference("ECT", "IAT"), explained_by=("air_temperature",), step=1.0, alone=True),
    Series(name="IAT-AAT@koeo_soak", parameter="IAT", states=("koeo_soak",), unit="degC",
           formula=_difference("IAT", "AAT"), explained_by=(), step=1.0, alone=True),
    Series(name="IAT-AAT@cruise", parameter="IAT", states=("cruise",), unit="degC",
           formula=_difference("IAT", "AAT"), explained_by=("air_temperature", "road_speed"), step=1.0,
           alone=True),
    _level("ECT", "cruise", explained_by=("air_temperature", "cold_air", "road_speed"), step=1.0),
    _level("ECT", "warm_idle", explained_by=("air_temperature", "cold_air"), step=1.0),
    Series(name="MAP-BARO@koeo", parameter="MAP", states=("koeo", "koeo_soak"), unit="kPa",
           formula=_difference("MAP", "BARO"), explained_by=(), step=1.4, alone=True),
    Series(name="ac@warm_idle", parameter="", states=("warm_idle",), unit="1", formula=_switch("ac"),
           explained_by=("air_temperature", "cold_air"), step=0.0, bounded=True),
    Series(name="power_steering@warm_idle", parameter="", states=("warm_idle",), unit="1",
           formula=_switch("power_steering"), explained_by=(), step=0.0, bounded=True),
    Series(name="in_gear@warm_idle", parameter="", states=("warm_idle",), unit="1",
           formula=_switch("in_gear"), explained_by=(), step=0.0, bounded=True),
)  # fmt: skip
"""Every followed series; its place is its number in arrays of shape (..., S)."""

NAMES: Final = tuple(series.name for series in SERIES)
PLACE: Final = {name: place for place, name in enumerate(NAMES)}

TRIMS: Final = np.array([name.startswith("LONGFT") for name in NAMES])
"""Which series are learned trims, shape (S,)."""

LEARNED: Final = np.array([series.learned for series in SERIES])
"""Which series the engine computer learns, shape (S,)."""

CLEARED: Final = LEARNED | np.array([name.startswith("|SHRTFT") for name in NAMES])
"""Which series clearing the computer's memory moves, shape (S,): the learned ones, and the short trims that
stand in for them until they are learned anew."""

LOADED: Final = np.array(["in_gear" in series.explained_by for series in SERIES])
"""Which series idle loads bear on, shape (S,)."""

STRAYING: Final = ~LOADED & np.array(
    [series.parameter in ("VPWR", "CRANK_VMIN", "ECT", "IAT", "MAP") for series in SERIES]
)
"""Which series are single measurements of voltage, temperature or pressure, shape (S,): a few of them in a
row stray more often than their usual scatter says; what is learned or follows flow has a memory instead."""

BOUNDED: Final = np.array([series.bounded for series in SERIES])
"""Which series are shares of readings with a load switch on, shape (S,)."""

COLD_AIR_BELOW_DEGC: Final = 5.0
"""Knee of the temperature response; chosen by us: below it chokes of habit (enrichment, load) differ."""

WARM_AIR_ABOVE_DEGC: Final = 18.0
"""Knee towards the heat, for idle loads; chosen by us: about where compressors begin to run, told or not."""


def _own(formula: Callable[[Daily], Column]) -> Callable[[Daily, Column], Column]:
    """Read a covariate that is the vehicle's own, whatever the air."""
    return lambda daily, _: formula(daily)


COVARIATES: Final[dict[str, tuple[Callable[[Daily, Column], Column], float]]] = {
    "air_temperature": (lambda _, air: air, 10.0),
    "cold_air": (lambda _, air: np.minimum(air - COLD_AIR_BELOW_DEGC, 0.0), 10.0),
    "warm_air": (lambda _, air: np.maximum(air - WARM_AIR_ABOVE_DEGC, 0.0), 10.0),
    "barometer": (_own(_value("BARO")), 5.0),
    "alcohol": (_own(_value("ALCH_PCT")), 10.0),
    "ac": (_own(_switch("ac")), 0.5),
    "power_steering": (_own(_switch("power_steering")), 0.5),
    "in_gear": (_own(_switch("in_gear")), 0.5),
    "run_time": (_own(lambda daily: np.log1p(daily.values[:, COLUMN["RUNTM"]])), 1.0),
    "log_speed": (_own(_log_percent("RPM")), 20.0),
    "road_speed": (_own(_value("VSS")), 20.0),
    "throttle": (_own(_value("TP")), 5.0),
}
"""Covariates by name: how to read one from a `Daily` and its rows' air temperature [degC], and the size of an
ordinary change, which scales it."""


AIR: Final = tuple(COVARIATES).index("air_temperature")
"""Place of the air's temperature among the covariates."""

LOADS: Final = np.array([place for place, name in enumerate(COVARIATES) if name in SWITCHES])
"""Places of the load switches among the covariates."""


VEHICLES_AT_ONCE: Final = 25
"""Vehicles whose readings are worked on together where each stands for itself; measured: what such a step
needs beside its result then stays small for any fleet, and in the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observations:
    """Every followed value of the fleet, sorted by vehicle, series, day; k rows.

    Parameters
    ----------
    vehicle, day : int32 arrays of shape (k,)
        Place in `Fleet.vehicles`; days since 1970-01-01.
    series : int8 array of shape (k,)
        Place in `SERIES`.
    value : float64 array of shape (k,)
        In the series' unit, never NaN.
    source : int32 array of shape (k,)
        Row of `covariates`: all series read from one daily row share it.
    covariates : float64 array of shape (m, C)
        Scaled covariates in the order of `COVARIATES`; NaN where missing.
    """

    vehicle: NDArray[np.int32]
    series: NDArray[np.int8]
    day: NDArray[np.int32]
    value: Column
    source: NDArray[np.int32]
    covariates: Column

    def __len__(self) -> int:
        """Count rows."""
        return len(self.value)

    @property
    def cell(self) -> NDArray[np.int32]:
        """Number of each row's vehicle and series, ascending, shape (k,)."""
        return self.vehicle * np.int32(len(SERIES)) + self.series

    def covariate(self, rows: Places, columns: NDArray[np.int64]) -> Column:
        """Give some covariates of some rows, shape (len(rows), len(columns))."""
        return self.covariates[self.source[rows][:, None], columns[None, :]]

    def take(self, rows: NDArray[np.bool_] | Places | slice) -> "Observations":
        """Keep some rows, in order; a slice shares the memory."""
        return Observations(
            vehicle=self.vehicle[rows],
            series=self.series[rows],
            day=self.day[rows],
            value=self.value[rows],
            source=self.source[rows],
            covariates=self.covariates,
        )

    def bounds(self, vehicles: int) -> NDArray[np.int64]:
        """Give where the rows of each of so many vehicles begin, and the end; shape (vehicles + 1,)."""
        found: NDArray[np.int64] = np.searchsorted(self.vehicle, np.arange(vehicles + 1, dtype=np.int32))
        return found

    def blocks(self, vehicles: int) -> Iterator[slice]:
        """Part the rows by whole vehicles, `VEHICLES_AT_ONCE` together, out of so many in all.

        Yields
        ------
        slice
            Rows of a block; never empty.
        """
        edges = self.bounds(vehicles)[::VEHICLES_AT_ONCE].tolist()
        for low, high in itertools.pairwise([*edges, len(self)]):
            if high > low:
                yield slice(low, high)


def observe(fleet: Fleet, daily: Daily) -> Observations:
    """Read every followed series out of the daily summaries.

    A difference that needs a soak is only read where the vehicle's sheet says how long a soak must be:
    an unknown soak time means that the check is not done.
    """
    soak_known = np.array(
        [place >= 0 and fleet.sheets[place].soak_hours is not None for place in fleet.sheet], dtype=bool
    )
    covariates = np.empty((len(daily), len(COVARIATES)))
    air = read_air(fleet, daily)
    columns: tuple[list[NDArray[Any]], ...] = ([], [], [], [], [])
    edges = np.arange(0, len(fleet.vehicles) + VEHICLES_AT_ONCE, VEHICLES_AT_ONCE, dtype=np.int32)
    for low, high in itertools.pairwise(np.searchsorted(daily.vehicle, edges).tolist()):
        own = daily.rows(slice(low, high))
        for place, (read, scale) in enumerate(COVARIATES.values()):
            covariates[low:high, place] = read(own, air[low:high]) / scale
        block = _observe_block(own, soak_known, low)
        for place, column in enumerate(columns):
            column.append(block[place])
    vehicle, series, day, value, source = (_joined(parts) for parts in columns)
    return Observations(
        vehicle=vehicle, series=series, day=day, value=value, source=source, covariates=covariates
    )


def _joined(parts: list[NDArray[Any]]) -> NDArray[Any]:
    """Join and let go: of a large fleet only one column at a time is there twice."""
    whole = np.concatenate(parts) if parts else np.empty(0, np.int32)
    parts.clear()
    return whole


def _observe_block(
    daily: Daily, soak_known: NDArray[np.bool_], first: int
) -> tuple[NDArray[np.int32], NDArray[np.int8], NDArray[np.int32], Column, NDArray[np.int32]]:
    """Read some vehicles' daily rows, numbered from `first`: vehicle, series, day, value, row."""
    rows, values = [], []
    for series in SERIES:
        with np.errstate(invalid="ignore"):
            value = series.formula(daily)
        keep = np.isin(daily.state, [STATES.index(state) for state in series.states]) & np.isfinite(value)
        if series.name.endswith("@koeo_soak") and not series.limited:
            keep &= soak_known[daily.vehicle]
        rows.append(np.flatnonzero(keep))
        values.append(value[keep])
    number = np.repeat(np.arange(len(SERIES), dtype=np.int8), [len(row) for row in rows])
    row = np.concatenate(rows)
    order = np.argsort(daily.vehicle[row] * np.int32(len(SERIES)) + number, kind="stable")
    row = row[order]
    return (
        daily.vehicle[row],
        number[order],
        daily.day[row],
        np.concatenate(values)[order],
        (row + first).astype(np.int32),
    )
