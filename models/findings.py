"""What a model can say. Vocabulary shared with tickets, pages and exports; facts only."""

from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Direction = Literal["up", "down"]
Tier = Literal["watch", "ticket"]

GROUPS: Final = ("mixture", "idle", "charging", "temperature", "pressure")
"""Physical groups of causes: two findings of one group on one vehicle are taken for one fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesReading:
    """One followed series of one vehicle as the finding saw it. Days are days since 1970-01-01.

    Parameters
    ----------
    series : str
        Name of the series, `PARAMETER@state`; a derived one is named by its formula, `ECT-IAT@koeo_soak`.
    parameter, state : str
        The catalogue parameter and operating state that stand for it in exports.
    unit : str
        Unit of `baseline`, `level`, limits and peers.
    direction : {"up", "down"}
        Way it moved.
    baseline, level : float
        Own normal before the change and estimate on the day of the newest reading.
    baseline_from, baseline_to : int
        Days between which the baseline's readings lie.
    recent_to : int
        Day of the newest reading; `level` speaks of that day.
    baseline_days, recent_days : int
        Days with readings behind `baseline` and behind `level`.
    noise : float
        Standard deviation of one day's adjusted reading.
    drift_per_week, drift_low, drift_high : float
        Slope with its 80 % interval [unit / week].
    strength : float
        Standardised distance from the baseline [standard errors].
    limit_low, limit_high : float or None
        The sheet's band; None where no sheet names one.
    limit_margin : float or None
        How far beyond a limit the median of the newest comparable readings must lie to be outside: it wanders
        by that much. None where too few are there to judge.
    outside : bool
        Whether that median lies outside the band.
    reaches_limit_on, reaches_limit_low, reaches_limit_high : int or None
        Median and 80 % interval of the day the band is left; None where not within a year.
    peers_low, peers_high : float or None
        10 % and 90 % points of like vehicles; None where fewer than eight.
    peers : int
        How many like vehicles that is.
    segment_from : int
        First day of the baseline segment.
    segment_reason : str
        first_data, repair, memory_cleared, battery_replaced, logger_changed or break_found.
    """

    series: str
    parameter: str
    state: str
    unit: str
    direction: Direction
    baseline: float
    level: float
    baseline_from: int
    baseline_to: int
    baseline_days: int
    recent_days: int
    noise: float
    drift_per_week: float
    drift_low: float
    drift_high: float
    strength: float
    limit_low: float | None = None
    limit_high: float | None = None
    limit_margin: float | None = None
    outside: bool = False
    reaches_limit_on: int | None = None
    reaches_limit_low: int | None = None
    reaches_limit_high: int | None = None
    peers_low: float | None = None
    peers_high: float | None = None
    peers: int = 0
    recent_to: int = 0
    segment_from: int = 0
    segment_reason: str = "first_data"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One suspected physical fault of one vehicle.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    group : str
        One of `GROUPS`, or `unknown`.
    tier : {"watch", "ticket"}
        Whether the evidence passes the ticket level or only the watch level.
    rule : str
        What raised it: `drift`, `limit` (sustained crossing of the sheet's band) or `outlier`.
    method : str
        Name and version of the method that produced it.
    score, ticket_level, watch_level : float
        Evidence [nats] and the levels it is held against.
    onset_day : int
        Most likely first day of the change [days since 1970-01-01].
    causes : tuple of (code, probability)
        Ranked; sums to 1 over all causes including `unknown`.
    lead : SeriesReading
        The series that speaks loudest.
    series : tuple of SeriesReading
        Every series with something to say, loudest first, `lead` included.
    quiet : tuple of str
        Series looked at that did not move.
    probability_30d : float
        Complaint or leaving the limits within the horizon.
    probability_crossing : float
        Leaving the limits within the horizon.
    probability_fault : float
        An inspection would find something.
    held_back : str
        Empty, or the reason code why it may not become a ticket (an earlier step of the reading failed,
        too few days, shared by like vehicles).
    notes : tuple of str
        Circumstances worth a sentence, each a code with its values after colons: `rank_agrees`,
        `rank_undecided`, `rank_disagrees`, `resting_charge:LOW:HIGH` [%], `charging_slope:SLOPE` [mV/degC],
        `implausible:SERIES:REASON`, `belief:CAUSE:BEFORE:AFTER` [%], `chance:SHARE` [%],
        `odd:SERIES:SHARE` [%],
        `splits:NEEDED:USUAL`.
    """

    vehicle: str
    group: str
    tier: Tier
    rule: str
    method: str
    score: float
    ticket_level: float
    watch_level: float
    onset_day: int
    causes: tuple[tuple[str, float], ...]
    lead: SeriesReading
    series: tuple[SeriesReading, ...]
    quiet: tuple[str, ...] = ()
    probability_30d: float
    probability_crossing: float
    probability_fault: float
    held_back: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unusable:
    """Why a series or a vehicle cannot be judged."""

    vehicle: str
    series: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A new baseline segment: recorded or found in the data.

    `reason` is a segment's reason, or `moved` or `returned` where the data tell more than `break_found`.
    """

    vehicle: str
    day: int
    reason: str
    found: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetEvent:
    """A shift that like vehicles share: reported once, judged on the residual.

    `hint` is empty, or `blend:FROM:TO`: the shift has the size of a change of fuel between these shares of
    ethanol [%].
    """

    day: int
    scope: str
    series: str
    unit: str
    shift: float
    vehicles: int
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleState:
    """How well one vehicle could be judged on the evaluation day.

    Parameters
    ----------
    word : str
        `steady`, `watch`, `learning` or `cannot_say`; tickets add their own words on top.
    reason : str
        Code that says why, empty for `steady`.
    last_day : int or None
        Day of the newest reading.
    readings : int
        Readings of any state in the last 28 days.
    """

    vehicle: str
    word: str
    reason: str
    last_day: int | None
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One followed series of one vehicle on the evaluation day, whether or not anything moved."""

    vehicle: str
    reading: SeriesReading


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corrected:
    """Daily values of one series of one vehicle after correction, on the scale of its baseline.

    Parameters
    ----------
    day : int32 array of shape (n,)
        Days with readings, not falling [days since 1970-01-01].
    value : float32 array of shape (n,)
        The day's value less what weather, load switches and like vehicles explain [series' unit].
    """

    vehicle: str
    series: str
    day: NDArray[np.int32]
    value: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Everything one evaluation says about the fleet.

    `notes` are codes with their values after colons: `chance:SHOWN:CHANCE`, how many drifts are shown and
    about how many of them sound vehicles would show by chance; `run_length:MONTHS`, how many vehicle-months
    lie between two false tickets by the owner's wish.
    """

    day: int
    method: str
    findings: tuple[Finding, ...] = ()
    vehicles: tuple[VehicleState, ...] = ()
    breaks: tuple[Break, ...] = ()
    events: tuple[FleetEvent, ...] = ()
    unusable: tuple[Unusable, ...] = ()
    notes: tuple[str, ...] = field(default=())
