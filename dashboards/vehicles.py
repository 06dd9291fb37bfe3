"""The list of vehicles: depot roll-up, filters and pages."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from dashboards.rows import Counts, Urgency


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleLine:
    """One vehicle in the list."""

    vehicle: Annotated[str, "The fleet's own number."]
    urgency: Annotated[Urgency, "Where it stands."]
    why: Annotated[str, "Reason in few words."]
    depot: Annotated[str, "Depot; empty when none."]
    sheet: Annotated[str, "Spec sheet; empty when none."]
    last_reading_on: Annotated[date | None, "Day of the newest reading; None when none."]
    open_tickets: Annotated[int, "Open tickets."]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepotLine:
    """One depot's roll-up."""

    depot: Annotated[str, "Depot; empty for vehicles without one."]
    counts: Annotated[Counts, "How its vehicles divide."]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehiclesView:
    """For anyone who looks for vehicles: which ones, where, how they stand."""

    rows: Annotated[tuple[VehicleLine, ...], "Vehicles of this page."]
    counts: Annotated[Counts, "Totals of the filter shown, all pages together."]
    total: Annotated[int, "Vehicles that the filter finds."]
    registered: Annotated[int, "Vehicles registered at all."]
    depots: Annotated[tuple[DepotLine, ...], "Roll-up by depot; empty when there is at most one."]
    query: Annotated[str, "Text looked for in vehicle numbers; may be empty."]
    depot: Annotated[str, "Depot filtered by; may be empty."]
    word: Annotated[str, "Standing filtered by; may be empty."]
    sort: Annotated[str, "Column sorted by: urgency, vehicle, depot or last."]
    first: Annotated[int, "Number of the first row shown, from 1; 0 when none."]
    previous: Annotated[str, "Address of the page before; may be empty."]
    following: Annotated[str, "Address of the next page; may be empty."]
