"""What the models work on: readings, daily summaries and the fleet they belong to.

Everything is columns. Vehicles are places in `Fleet.vehicles`; days are whole numbers since 1970-01-01
in the vehicle's own time zone; NaN marks a missing value.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """The part of a spec sheet that the models read. None means that the sheet does not say.

    Parameters
    ----------
    sheet, revision, source
        As on the sheet.
    limits : tuple of (parameter, state, low, high)
        Bands in default units; a missing side is None.
    soak_hours, soak_gap_degc : float or None
        Length of a soak [h] and gap then allowed between coolant and intake air [degC].
    """

    sheet: str
    revision: int
    source: str
    displacement_l: float | None = None
    cylinders: int | None = None
    banks: int | None = None
    air_metering: str | None = None
    idle_control: str | None = None
    charging: str | None = None
    soak_hours: float | None = None
    soak_gap_degc: float | None = None
    limits: tuple[tuple[str, str, float | None, float | None], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Stored snapshots, sorted by vehicle, then time; n rows, P parameters.

    Parameters
    ----------
    vehicle : int32 array of shape (n,)
        Place in the caller's list of vehicles.
    taken_us : int64 array of shape (n,)
        Time taken [microseconds since 1970-01-01T00:00Z].
    day : int32 array of shape (n,)
        Local calendar day [days since 1970-01-01].
    state : int8 array of shape (n,)
        Place in `parameters.STATES`; -1 where none.
    values : float64 array of shape (n, P)
        In default units, order of `parameters.CODES`.
    switches : int8 array of shape (n, 3)
        1 on, 0 off, -1 not reported.
    """

    vehicle: NDArray[np.int32]
    taken_us: NDArray[np.int64]
    day: NDArray[np.int32]
    state: NDArray[np.int8]
    values: NDArray[np.float64]
    switches: NDArray[np.int8]

    def __len__(self) -> int:
        """Count rows."""
        return len(self.vehicle)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Daily:
    """One row for each vehicle, day and operating state, sorted by vehicle, day, state; m rows.

    Parameters
    ----------
    vehicle : int32 array of shape (m,)
        Place in the caller's list of vehicles.
    day : int32 array of shape (m,)
        Local calendar day [days since 1970-01-01].
    state : int8 array of shape (m,)
        Place in `parameters.STATES`; -1 keeps the counts of readings that reached no state.
    readings : int32 array of shape (m,)
        Snapshots folded into the row.
    values : float64 array of shape (m, P)
        Median of each parameter over the row's believable readings, in default units.
    switched_on : float64 array of shape (m, 3)
        Share of the row's readings with the switch on; NaN where none reported it.
    """

    vehicle: NDArray[np.int32]
    day: NDArray[np.int32]
    state: NDArray[np.int8]
    readings: NDArray[np.int32]
    values: NDArray[np.float64]
    switched_on: NDArray[np.float64]

    def __len__(self) -> int:
        """Count rows."""
        return len(self.vehicle)

    def rows(self, wanted: NDArray[np.bool_] | slice) -> "Daily":
        """Keep some rows, in order; a slice shares the memory."""
        return Daily(
            vehicle=self.vehicle[wanted],
            day=self.day[wanted],
            state=self.state[wanted],
            readings=self.readings[wanted],
            values=self.values[wanted],
            switched_on=self.switched_on[wanted],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkFact:
    """One work record as the models see it: vehicle place, local day, kind and cause code (may be empty)."""

    vehicle: int
    day: int
    kind: str
    cause: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fleet:
    """Who the daily rows belong to.

    Parameters
    ----------
    vehicles : tuple of str
        The fleet's own numbers, sorted.
    sheet : int32 array of shape (V,)
        Place in `sheets`; -1 where the vehicle has none or names an unknown one.
    sheets : tuple of SheetFacts
        The revision in force for each sheet.
    depot : int32 array of shape (V,)
        Place in `depots`; -1 where none.
    depots : tuple of str
        Depot names, sorted.
    work : tuple of WorkFact
        Work records known by the evaluation date, sorted by vehicle and day.
    """

    vehicles: tuple[str, ...]
    sheet: NDArray[np.int32]
    sheets: tuple[SheetFacts, ...]
    depot: NDArray[np.int32]
    depots: tuple[str, ...]
    work: tuple[WorkFact, ...] = ()


def days_of_work(fleet: Fleet, kinds: Collection[str]) -> dict[int, list[int]]:
    """Give the days of work of some kinds by vehicle place; vehicles without any are not there."""
    days: dict[int, list[int]] = {}
    for fact in fleet.work:
        if fact.kind in kinds:
            days.setdefault(fact.vehicle, []).append(fact.day)
    return days


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the fleet's owner asks of the models.

    Parameters
    ----------
    false_tickets : float
        False tickets that the owner will stand, all series together [per 100 vehicle-months].
    watch_factor : float
        How many times more often the watch tier may be wrong than the ticket tier [1].
    horizon_days : int
        Horizon of the stated probabilities [days].
    """

    false_tickets: float = 0.1
    watch_factor: float = 10.0
    horizon_days: int = 30
