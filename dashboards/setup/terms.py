"""Words of the setup: tasks, parts, form fields, standings, kinds of files, what roles may."""

from collections.abc import Mapping
from typing import Final

Words = Mapping[str, str]

TASKS: Final[Words] = {
    "without_sheet": "Vehicles without a spec sheet, so without limits",
    "unknown_sheet": "Vehicles that name a sheet not on file",
    "drafts": "Draft sheets that wait for a second person",
    "sheet_wrong": "Sheets that a mechanic says are wrong",
    "names": "Names that nobody knows",
    "held": "Snapshots held back",
    "silent": "Silent vehicles: the logger sends nothing",
    "odometer_back": "Odometers that went back: changed or mistyped",
    "digest_failed": "Weekly digest that could not be mailed",
    "clocks": "Senders whose clock is more than five minutes off",
}
"""What the integrator is asked to mend; a number stands behind each."""

AREAS: Final[Words] = {
    "vehicles": "Vehicles",
    "sheets": "Spec sheets",
    "names": "Names of parameters",
    "devices": "Devices and tokens",
    "load": "Load a file",
    "held": "Held-back snapshots",
    "costs": "Costs",
    "people": "People",
    "retention": "What is kept, and how long",
}

RETENTION: Final[Words] = {
    "readings": "Readings, and what was held back or refused",
    "trends": "Daily summaries, trends and evaluations",
    "tickets": "Closed tickets and work records",
}
"""Classes of data that are kept for a time of their own."""

PARTS: Final[Words] = {
    "snapshot": "snapshots",
    "refusal": "held-back and refused items",
    "daily": "daily summaries",
    "trend": "trends, a vehicle and day each",
    "assessment": "evaluations, a day each",
    "ticket": "closed tickets",
    "work_record": "work records",
}
"""What retention removes, by the name of its table."""

FIELDS: Final[Words] = {
    "vehicle": "Vehicle number",
    "vin": "VIN",
    "spec_sheet": "Spec sheet",
    "depot": "Depot",
    "time_zone": "Time zone",
    "in_service_on": "In service from",
    "odometer_km": "Odometer",
    "notes": "Notes",
    "since": "First day",
    "until": "Last day",
    "gone": "First day out of service",
    "confirm": "Confirmation",
    "file": "File",
    "text": "Sheet",
    "kind": "What the file holds",
    "name": "Name",
    "scope": "What it may, or what it holds for",
    "scope_id": "Which sheet or device",
    "parameter": "Parameter",
    "unit": "Unit",
    "vehicles": "Vehicles",
    "device": "Device",
    "reason": "Reason",
}
"""Names of form fields, for the list of what was not taken."""

STANDINGS: Final[Words] = {
    "in_service": "In service",
    "later": "In service later",
    "off_road": "Off the road",
    "gone": "Out of service",
}

SHEET_STANDINGS: Final[Words] = {
    "draft": "Draft: counts for nothing yet",
    "in_force": "In force",
    "later": "In force later",
    "superseded": "Superseded",
}

GAP_CELLS: Final[Words] = {"given": "limit", "gap": "gap", "none": "does not apply"}

SCOPES: Final[Words] = {"device": "Device", "sheet": "Spec sheet", "fleet": "The whole fleet"}

TOKEN_SCOPES: Final[Words] = {
    "send": "send snapshots",
    "read": "read lists and exports",
    "work": "record work and move tickets",
    "admin": "everything, setup included",
}

KINDS: Final[Words] = {
    "vehicles": "Vehicles",
    "specs": "Spec sheets, as drafts",
    "aliases": "Names of parameters",
    "snapshots": "Snapshots",
    "work": "Work and complaints",
}
"""Kinds of files that pages take."""

LOADED: Final[Words] = {
    "added": "added",
    "changed": "changed",
    "same": "the same as before",
    "accepted": "accepted",
    "duplicates": "kept already",
    "quarantined": "held back, to be looked at",
    "rejected": "unreadable",
}

ROLE_MAY: Final[Words] = {
    "viewer": "reads",
    "mechanic": "reads, works tickets, records complaints",
    "lead": "as mechanic, plans the hours, takes files",
    "manager": "reads all, decides on tickets, plan, money",
    "analyst": "reads all, money, files",
    "integrator": "vehicles, sheets, names, devices",
    "admin": "everything in the setup, people, event log",
}

HELD: Final[Words] = {
    "out-of-range": "values that no sensor can send",
    "wrong-unit": "a unit of another quantity",
    "unknown-unit": "a unit that nobody knows",
    "future-time": "times that lie ahead",
    "clock-not-set": "a clock that was never set",
    "unknown-state": "an operating state that nobody knows",
    "repeated-parameter": "one parameter twice, with two values",
    "conflicting-repeat": "sent again with other content",
    "unknown-vehicle": "vehicles that nobody registered",
}
"""Why snapshots are held back, in few words."""
