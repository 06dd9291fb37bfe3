"""Hold tickets against the planted truth.

Definitions, the same for every method:

- *before the complaint*: a ticket on the vehicle raised on or after the fault's onset and before the day of
  the complaint. Faults whose complaint falls after the history's end are left out of this share.
- *warning share*: (complaint - first such ticket) / (complaint - onset); 0 for a fault without one. Given
  twice: over all faults, and over those ticketed.
- *false ticket*: raised on a vehicle with no fault active: before onset, never faulty, or more than 14 days
  after the repair. Per 100 vehicle-months without an active fault; exact Poisson interval.
- *second ticket*: any further ticket raised between onset and 14 days after the repair. Per fault.
- *bound*: first-order delay bound of Lorden and Lai for a ramp, n* = (6 sigma^2 ln(gamma) / (m b^2))^(1/3),
  and 2 sigma^2 ln(gamma) / (m b^2) for a step of height b, with the noise and readings a day of the one
  series in which the cause shows best.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import log
from statistics import median
from typing import Final

from models.statistics.proportion import poisson_rate
from service.demo.faults import NEVER
from service.demo.fleet import History
from service.demo.sheets import TYPES, EngineType

MONTH_DAYS: Final = 30.4375
AFTERGLOW_DAYS: Final = 14
GAMMA_DAYS: Final = 1000 * MONTH_DAYS
"""Days between false alarms of one vehicle at 0.1 per 100 vehicle-months."""

_WARM, _CRUISE, _BOTH, _SOAK, _RUNNING = 0.57, 0.38, 0.95, 0.29, 0.95
"""Readings a day by state, from the timetable's weights at 1.6 snapshots a day."""

_SIGNALS: Final[Mapping[str, tuple[float, float, float]]] = {
    "unmetered_air": (13.0, 1.5, _WARM),
    "fuel_delivery_low": (13.2, 1.8, _CRUISE),
    "air_meter_low": (12.4, 1.6, _BOTH),
    "injector_restricted": (11.5, 1.6, _BOTH),
    "purge_flow_stuck": (11.5, 1.5, _WARM),
    "fuel_pressure_high": (11.3, 1.6, _BOTH),
    "exhaust_leak_ahead_of_sensor": (11.5, 1.5, _WARM),
    "throttle_deposits": (10.3, 1.8, _WARM),
    "load_switch_stuck": (8.0, 1.8, _WARM),
    "charging_low": (1.3, 0.13, _RUNNING),
    "charging_high": (1.2, 0.13, _RUNNING),
    "battery_ageing": (0.42, 0.08, _SOAK),
    "voltage_drop": (0.65, 0.13, _RUNNING),
    "coolant_sensor_bias": (13.0, 1.3, _SOAK),
    "air_sensor_bias": (13.0, 1.3, _SOAK),
    "thermostat_open": (17.0, 1.6, _CRUISE),
    "map_sensor_bias": (4.0, 0.9, _SOAK),
    "oxygen_sensor_slow": (8.5, 1.6, _BOTH),
}
"""Movement at severity 1, noise of one reading, readings a day: of the series that shows a cause best."""


def _signal(cause: str, kind: EngineType) -> tuple[float, float, float]:
    height, noise, often = _SIGNALS[cause]
    if kind.charging == "commanded" and cause in {"charging_low", "charging_high", "voltage_drop"}:
        noise = 0.35
    if kind.idle_control == "electronic_throttle" and cause in {"throttle_deposits", "load_switch_stuck"}:
        height, noise = (2.0, 0.35) if cause == "throttle_deposits" else (1.1, 0.35)
    if kind.air_metering == "speed_density" and cause == "unmetered_air":
        height, noise = (10.5, 1.7) if kind.idle_control == "bypass_valve" else (1.7, 0.33)
    return height, noise, often


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """One planted fault in calendar days (since 1970-01-01).

    `slope` is in noise units a day; it and the bound are None where whoever planted the fault does not say
    how it shows. `end` is the first day without the fault.
    """

    vehicle: str
    cause: str
    shape: str
    onset: int
    complaint: int
    end: int
    slope: float | None = None
    bound_days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What the examiner knows of a fleet: its vehicles, the days of its history, and what was planted."""

    vehicles: tuple[str, ...]
    first_day: int
    days: int
    truths: tuple[Truth, ...]

    @property
    def last_day(self) -> int:
        """Last day of the history."""
        return self.first_day + self.days - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """One ticket as far as scoring needs it: day raised, causes ranked as they stood, with their shares."""

    vehicle: str
    day: int
    causes: tuple[str, ...] = ()
    shares: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One fault and what became of it: first ticket's day and causes; None where there was none in time."""

    truth: Truth
    complained: bool
    first: Raised | None
    in_time: bool
    seconds: int

    @property
    def warning(self) -> float:
        """Share of the time from onset to complaint that was left; 0 where nobody was warned."""
        if self.first is None or not self.in_time:
            return 0.0
        return (self.truth.complaint - self.first.day) / (self.truth.complaint - self.truth.onset)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What one method did on one or more fleets; tallies add up by `pool`."""

    cases: tuple[Case, ...]
    false: tuple[Raised, ...]
    sound_months: float


def truths(history: History) -> tuple[Truth, ...]:
    """Give the planted faults of a history in calendar days, with their bounds."""
    found = []
    for fault in history.faults:
        kind = TYPES[history.roster.kind[fault.vehicle]]
        height, noise, often = _signal(fault.cause, kind)
        step = fault.shape == "step"
        slope = height * fault.size / noise * (fault.first_level if step else 1 / fault.days_to_one)
        bound = (
            2 * log(GAMMA_DAYS) / (often * slope**2)
            if step
            else (6 * log(GAMMA_DAYS) / (often * slope**2)) ** (1 / 3)
        )
        end = history.first_day + (fault.end_day if fault.end_day < history.days else NEVER)
        found.append(
            Truth(
                vehicle=history.roster.names[fault.vehicle],
                cause=fault.cause,
                shape=fault.shape,
                onset=history.first_day + fault.onset_day,
                complaint=history.first_day + fault.complaint_day,
                end=end,
                slope=slope,
                bound_days=bound,
            )
        )
    return tuple(found)


def key_of(history: History) -> Key:
    """Give what is known of a fleet of our own."""
    return Key(
        vehicles=history.roster.names,
        first_day=history.first_day,
        days=history.days,
        truths=truths(history),
    )


def raised_from_rows(rows: Iterable[Mapping[str, object]]) -> tuple[Raised, ...]:
    """Read exported tickets (columns of the exchange contract, as text or JSON values)."""
    found = []
    for row in rows:
        day = (date.fromisoformat(str(row["raised_at"])[:10]) - date(1970, 1, 1)).days
        causes = tuple(str(row[f"cause_{place}"]) for place in (1, 2, 3) if row.get(f"cause_{place}"))
        found.append(Raised(vehicle=str(row["vehicle"]), day=day, causes=causes))
    return tuple(sorted(found, key=lambda ticket: (ticket.vehicle, ticket.day)))


def tally(fleet: History | Key, tickets: Sequence[Raised]) -> Tally:
    """Hold the tickets of one fleet against its truth."""
    key = key_of(fleet) if isinstance(fleet, History) else fleet
    last = key.last_day
    planted = {truth.vehicle: truth for truth in key.truths}
    by_vehicle: dict[str, list[Raised]] = {}
    for ticket in sorted(tickets, key=lambda item: item.day):
        by_vehicle.setdefault(ticket.vehicle, []).append(ticket)
    cases, false = [], []
    sick_days = 0
    for vehicle in key.vehicles:
        mine = by_vehicle.get(vehicle, [])
        truth = planted.get(vehicle)
        if truth is None:
            false += mine
            continue
        until = min(truth.end + AFTERGLOW_DAYS, last + 1)
        sick_days += max(0, until - truth.onset)
        during = [ticket for ticket in mine if truth.onset <= ticket.day < until]
        false += [ticket for ticket in mine if ticket not in during]
        first = during[0] if during else None
        cases.append(
            Case(
                truth=truth,
                complained=truth.complaint <= last,
                first=first,
                in_time=first is not None and first.day < truth.complaint,
                seconds=max(0, len(during) - 1),
            )
        )
    months = (len(key.vehicles) * key.days - sick_days) / MONTH_DAYS
    return Tally(cases=tuple(cases), false=tuple(false), sound_months=months)


def pool(tallies: Iterable[Tally]) -> Tally:
    """Add up tallies of several fleets."""
    items = list(tallies)
    return Tally(
        cases=tuple(case for item in items for case in item.cases),
        false=tuple(ticket for item in items for ticket in item.false),
        sound_months=sum(item.sound_months for item in items),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """The measures of one method, with their counts."""

    faults: int
    in_time: int
    found_at_all: int
    warning_all: float
    warning_found: float
    false: int
    false_rate: float
    false_low: float
    false_high: float
    seconds_per_fault: float
    named: int
    cause_first: int
    cause_in_three: int
    bound_ratio: float


def score(result: Tally) -> Score:
    """Reduce a tally to the judged measures."""
    complained = [case for case in result.cases if case.complained]
    warned = [case.warning for case in complained if case.in_time]
    named = [case for case in result.cases if case.first is not None and case.first.causes]
    firsts = [(case, case.first) for case in named if case.first is not None]
    months = result.sound_months
    low, high = poisson_rate(len(result.false), months / 100) if months else (0.0, 0.0)
    per = 100 / months if months else 0.0
    ratios = [
        (case.first.day - case.truth.onset) / case.truth.bound_days
        for case in result.cases
        if case.first is not None and case.truth.bound_days is not None and case.truth.shape == "ramp"
    ]
    return Score(
        faults=len(complained),
        in_time=len(warned),
        found_at_all=sum(case.first is not None for case in complained),
        warning_all=median([case.warning for case in complained]) if complained else 0.0,
        warning_found=median(warned) if warned else 0.0,
        false=len(result.false),
        false_rate=len(result.false) * per,
        false_low=low,
        false_high=high,
        seconds_per_fault=sum(case.seconds for case in result.cases) / max(1, len(result.cases)),
        named=len(named),
        cause_first=sum(ticket.causes[0] == case.truth.cause for case, ticket in firsts),
        cause_in_three=sum(case.truth.cause in ticket.causes[:3] for case, ticket in firsts),
        bound_ratio=median(ratios) if ratios else 0.0,
    )
