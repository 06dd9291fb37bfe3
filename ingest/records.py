"""What the fleet tells about itself: vehicles, spec sheets, aliases, work done and costs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, Generic, Literal, TypeVar

from ingest.batch import Refusal

Row = TypeVar("Row")

WORK_KINDS: Final = ("repair", "no_fault_found", "memory_cleared", "battery_replaced", "complaint", "note")

AirMetering = Literal["maf", "speed_density"]
IdleControl = Literal["bypass_valve", "electronic_throttle"]
Charging = Literal["fixed", "commanded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """One vehicle as registered. Empty text and None mean "not given"."""

    vehicle: str
    vin: str = ""
    spec_sheet: str = ""
    depot: str = ""
    time_zone: str = ""
    in_service_on: date | None = None
    odometer_km: float | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Band of one parameter in one operating state, in the parameter's default unit.

    `low` or `high` may be None: the sheet names only one side.
    """

    parameter: str
    state: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecSheet:
    """A vehicle type's specification. None means that the sheet does not say; nothing is filled in."""

    sheet: str
    revision: int
    source: str
    fuel: str | None = None
    displacement_l: float | None = None
    cylinders: int | None = None
    banks: int | None = None
    air_metering: AirMetering | None = None
    idle_control: IdleControl | None = None
    charging: Charging | None = None
    soak_hours: float | None = None
    soak_gap_degc: float | None = None
    limits: tuple[Limit, ...] = ()
    aliases: Mapping[str, str] = field(default_factory=dict)
    further: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """One foreign name of a parameter. `scope` is device, sheet or fleet; a narrower scope wins."""

    scope: Literal["device", "sheet", "fleet"]
    scope_id: str
    name: str
    parameter: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRecord:
    """Work done on a vehicle, or a driver's complaint (no names). `done_at` is aware UTC.

    The last three are asked by the form of findings only, not read from files: odometer [km], whether the
    engine computer's relearn was done, parts cleaned or replaced in few words.
    """

    vehicle: str
    done_at: datetime
    kind: str
    cause: str = ""
    ticket: str = ""
    parts_cost: float | None = None
    labour_hours: float | None = None
    notes: str = ""
    odometer_km: float | None = None
    relearn_done: bool | None = None
    parts: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """What one cause costs, planned and unplanned.

    Parameters
    ----------
    cause : str
        Cause code.
    planned_hours, unplanned_hours : float
        Workshop hours [h].
    planned_parts, unplanned_parts, downtime : float
        [currency]; `downtime` is what an unplanned stop costs beside the workshop.
    currency : str
        ISO 4217 code.
    price_date : date
        Date of the prices.
    labour_rate : float or None
        Price of a workshop hour [currency / h]; None where not given.
    look_cost : float or None
        Cost of a visit that looks for this cause and finds nothing [currency]; None where not given.
    source : str
        Where the figures come from.
    """

    cause: str
    planned_hours: float
    unplanned_hours: float
    planned_parts: float
    unplanned_parts: float
    downtime: float
    currency: str
    price_date: date
    labour_rate: float | None = None
    look_cost: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded(Generic[Row]):
    """What came out of one file of vehicles, spec sheets, aliases or work records.

    Parameters
    ----------
    rows : tuple
        Rows that can be put into the store.
    rejected : tuple of Refusal
        Rows that cannot, each with a reason; nothing of them is kept.
    warnings : tuple of Refusal
        Rows that were accepted but deserve a look.
    unknown_columns : dict of str to int
        Columns or keys that have no place here, with how often each came.
    personal_fields : int
        Driver and position fields dropped at the door.
    """

    rows: tuple[Row, ...] = ()
    rejected: tuple[Refusal, ...] = ()
    warnings: tuple[Refusal, ...] = ()
    unknown_columns: dict[str, int] = field(default_factory=dict)
    personal_fields: int = 0
