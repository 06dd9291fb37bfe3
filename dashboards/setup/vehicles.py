"""Vehicles as the integrator keeps them: the list, and one vehicle's form."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from dashboards.setup.parts import Fault

Standing = Literal["in_service", "later", "off_road", "gone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetLine:
    """One registered vehicle."""

    vehicle: Annotated[str, "The fleet's own number."]
    sheet: Annotated[str, "Spec sheet it names; empty for none."]
    sheet_known: Annotated[bool, "Whether that sheet is on file."]
    depot: Annotated[str, "Depot; empty for none."]
    standing: Annotated[Standing, "In service, off the road, or gone."]
    since: Annotated[date | None, "Since when; None where the standing has no date."]
    last_reading_on: Annotated[date | None, "Day of the newest reading; None before the first."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupVehiclesView:
    """For the integrator: every registered vehicle, whether in service or not."""

    rows: Annotated[tuple[FleetLine, ...], "Vehicles on this page."]
    total: Annotated[int, "Vehicles that fit the search."]
    registered: Annotated[int, "Vehicles registered at all."]
    query: Annotated[str, "What was searched for; empty for everything."]
    previous: Annotated[str, "Address of the page before; empty on the first."]
    following: Annotated[str, "Address of the next page; empty on the last."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Away:
    """Days on which a vehicle is off the road."""

    number: Annotated[int, "Number of the entry."]
    since: Annotated[date, "First day."]
    until: Annotated[date | None, "Last day; None while it is not known."]
    reason: Annotated[str, "Why; may be empty."]
    put_by: Annotated[str, "Who said so."]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleForm:
    """The fields of a vehicle as texts, as they stand or as they were typed."""

    vehicle: Annotated[str, "The fleet's own number."] = ""
    vin: Annotated[str, "VIN; empty where not given."] = ""
    spec_sheet: Annotated[str, "Spec sheet."] = ""
    depot: Annotated[str, "Depot."] = ""
    time_zone: Annotated[str, "IANA name; empty for the fleet's."] = ""
    in_service_on: Annotated[str, "First day in service, YYYY-MM-DD."] = ""
    odometer_km: Annotated[str, "Odometer when it was registered [km]."] = ""
    notes: Annotated[str, "Notes; no names of persons."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupVehicleView:
    """For the integrator: one vehicle to add or change, its days off the road, and its end."""

    known: Annotated[bool, "Whether it is registered already."]
    form: Annotated[VehicleForm, "Its fields."]
    errors: Annotated[tuple[Fault, ...], "What was not taken; empty when nothing was sent or all was taken."]
    vin_doubt: Annotated[str, "Why the VIN looks mistyped, with the digit expected; empty when it does not."]
    sheets: Annotated[tuple[str, ...], "Sheets on file."]
    depots: Annotated[tuple[str, ...], "Depots known."]
    sheet_known: Annotated[bool, "Whether the sheet it names is on file, or none is named."]
    off_road: Annotated[tuple[Away, ...], "Its days off the road."]
    gone_since: Annotated[date | None, "First day out of service for good; None while it serves."]
    open_tickets: Annotated[int, "Open tickets, which end when it goes out of service."]
    devices: Annotated[tuple[str, ...], "Devices in it, in words."]
    today: Annotated[str, "Today's date, YYYY-MM-DD, for the fields."]
    may_erase: Annotated[bool, "Whether the reader may erase it."]
