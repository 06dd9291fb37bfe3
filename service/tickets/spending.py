"""What repairs have cost by cause, planned against unplanned, and over how much use of the vehicles."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from statistics import median
from typing import Final

CENT: Final = Decimal("0.01")

COMPLAINT_DAYS: Final = 30
"""A repair within this many days after a driver's complaint was not planned (default)."""

FEW: Final = 5
"""Causes with fewer repairs than this are pooled (default)."""

KM: Final = 100_000
HOURS: Final = 1_000

MOST_KM_A_DAY: Final = 1_500.0
"""More than this on average is a wrong odometer, not a vehicle [km / d]; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One repair.

    Parameters
    ----------
    vehicle, depot, cause : str
        Whose, where, and why; `unknown` where no cause was named.
    day : int
        Local day done [days since 1970-01-01].
    cost : float or None
        Parts and labour [currency]; None where either is not on record.
    """

    vehicle: str
    depot: str
    cause: str
    day: int
    cost: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """What some repairs have cost.

    Parameters
    ----------
    count, priced : int
        Repairs, and those whose cost is on record.
    total : Decimal
        Sum of those costs, to the cent.
    middle, least, most : Decimal or None
        Median and ends; None without a cost.
    """

    count: int
    priced: int
    total: Decimal
    middle: Decimal | None
    least: Decimal | None
    most: Decimal | None

    @property
    def few(self) -> bool:
        """Whether a median of so few says little."""
        return self.priced < FEW


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseSpent:
    """One line: a cause, or several with few repairs pooled.

    Parameters
    ----------
    causes : tuple of str
        One, or those pooled.
    planned, unplanned : Spent
    """

    causes: tuple[str, ...]
    planned: Spent
    unplanned: Spent

    @property
    def pooled(self) -> bool:
        """Whether causes with few repairs stand together here."""
        return len(self.causes) != 1 or self.planned.count + self.unplanned.count < FEW

    @property
    def total(self) -> Decimal:
        """What both have cost together."""
        return self.planned.total + self.unplanned.total


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """How one vehicle was used, as far as its readings tell.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    days : int
        Days in service within the period.
    odometer_days : int
        Days between its first and last odometer reading; 0 with fewer than two.
    distance_km : float
        Between those two readings [km].
    engine_days : int
        Days with a reading of the time since engine start.
    engine_hours : float
        Longest such time of each run, added up [h]: the engine ran at least so long.
    """

    vehicle: str
    days: int
    odometer_days: int
    distance_km: float
    engine_days: int
    engine_hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Over how much use repairs are counted: rates observed, carried over to all vehicle-days in service.

    Parameters
    ----------
    vehicle_days : int
        Days in service, all vehicles.
    km_a_day, hours_a_day : float or None
        Per vehicle-day, over the covered ones; None where nothing covers them.
    km_covered, hours_covered : float
        Share of vehicle-days that they rest on.
    """

    vehicle_days: int
    km_a_day: float | None
    hours_a_day: float | None
    km_covered: float
    hours_covered: float

    @property
    def km(self) -> float | None:
        """Distance of all vehicle-days [km]; None where nothing covers it."""
        return None if self.km_a_day is None else self.km_a_day * self.vehicle_days

    @property
    def hours(self) -> float | None:
        """Engine hours of all vehicle-days [h], at least; None where nothing covers them."""
        return None if self.hours_a_day is None else self.hours_a_day * self.vehicle_days


def money(value: float) -> Decimal:
    """Turn a sum into cents, halves to the even one."""
    return Decimal(repr(value)).quantize(CENT, rounding=ROUND_HALF_EVEN)


def is_unplanned(repair: Repair, complaints: Mapping[str, Sequence[int]]) -> bool:
    """Tell whether a driver complained within `COMPLAINT_DAYS` before a repair.

    Parameters
    ----------
    repair : Repair
    complaints : mapping of str to sequence of int
        Days of complaints by vehicle.
    """
    return any(0 <= repair.day - day <= COMPLAINT_DAYS for day in complaints.get(repair.vehicle, ()))


def spent_by_cause(
    repairs: Iterable[Repair], complaints: Mapping[str, Sequence[int]]
) -> tuple[CauseSpent, ...]:
    """Divide repairs by cause and by whether they were planned; dearest cause first, pooled ones last.

    The lines' totals add up to the total of all repairs to the cent.
    """
    by_cause: dict[str, list[Repair]] = {}
    for one in repairs:
        by_cause.setdefault(one.cause, []).append(one)
    few = tuple(sorted(cause for cause, found in by_cause.items() if len(found) < FEW))
    lines = [_line((cause,), found, complaints) for cause, found in by_cause.items() if cause not in few]
    lines.sort(key=lambda line: (-line.total, line.causes))
    if few:
        lines.append(_line(few, [one for cause in few for one in by_cause[cause]], complaints))
    return tuple(lines)


def _line(
    causes: tuple[str, ...], repairs: Sequence[Repair], complaints: Mapping[str, Sequence[int]]
) -> CauseSpent:
    late = [one for one in repairs if is_unplanned(one, complaints)]
    early = [one for one in repairs if not is_unplanned(one, complaints)]
    return CauseSpent(causes=causes, planned=_spent(early), unplanned=_spent(late))


def _spent(repairs: Sequence[Repair]) -> Spent:
    costs = sorted(money(one.cost) for one in repairs if one.cost is not None)
    return Spent(
        count=len(repairs),
        priced=len(costs),
        total=sum(costs, Decimal("0.00")),
        middle=median(costs).quantize(CENT, rounding=ROUND_HALF_EVEN) if costs else None,
        least=costs[0] if costs else None,
        most=costs[-1] if costs else None,
    )


def exposure_of(watched: Iterable[Watched]) -> Exposure:
    """Work the exposure out from what the readings of each vehicle tell.

    Examples
    --------
    >>> one = Watched(
    ...     vehicle="V-1", days=100, odometer_days=50, distance_km=4000.0, engine_days=25, engine_hours=50.0)
    >>> found = exposure_of([one])
    >>> found.km, found.km_covered, found.hours, found.hours_covered
    (8000.0, 0.5, 200.0, 0.25)
    """
    rows = tuple(watched)
    days = sum(one.days for one in rows)
    driven = [
        one
        for one in rows
        if one.odometer_days > 0 and 0.0 <= one.distance_km <= MOST_KM_A_DAY * one.odometer_days
    ]
    km_days = sum(one.odometer_days for one in driven)
    hour_days = sum(one.engine_days for one in rows)
    return Exposure(
        vehicle_days=days,
        km_a_day=sum(one.distance_km for one in driven) / km_days if km_days else None,
        hours_a_day=sum(one.engine_hours for one in rows) / hour_days if hour_days else None,
        km_covered=min(1.0, km_days / days) if days else 0.0,
        hours_covered=min(1.0, hour_days / days) if days else 0.0,
    )


def rate(total: Decimal, use: float | None, per: int) -> Decimal | None:
    """Give a sum per so many kilometres or hours, to the cent; None where the use is not known.

    Examples
    --------
    >>> rate(Decimal("120.00"), 48_000.0, KM), rate(Decimal("1.00"), None, KM)
    (Decimal('250.00'), None)
    """
    return None if not use else money(float(total) * per / use)
