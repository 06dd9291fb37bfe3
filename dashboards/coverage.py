"""The coverage page: who cannot be judged, why, and who must act; what was refused."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from dashboards.rows import Counts, Learning

Gap = Literal["silent", "partial", "unusable", "learning", "off_road"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverageLine:
    """One vehicle that cannot be judged, or is left out."""

    vehicle: Annotated[str, "The fleet's own number."]
    depot: Annotated[str, "Depot; empty when none."]
    kind: Annotated[Gap, "Kind of gap."]
    reason: Annotated[str, "Reason, a code of `words.COVERAGE`."]
    last_reading_on: Annotated[date | None, "Day of the newest reading; None when none."]
    missing: Annotated[tuple[str, ...], "Operating states that are missing."] = ()
    learning: Annotated[tuple[Learning, ...], "Series with too few readings."] = ()
    drive: Annotated[str, "What drive ends the gap; empty where none helps."] = ""
    since: Annotated[date | None, "Off the road since this day; None for other gaps."] = None
    until: Annotated[date | None, "Off the road until this day; None when not said."] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGap:
    """Vehicles that can be judged but have no limits."""

    sheet: Annotated[str, "Sheet that is named but not on file; empty when none is named."]
    vehicles: Annotated[tuple[str, ...], "The vehicles."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Readings kept aside or turned away, by reason."""

    code: Annotated[str, "Reason code, as the interface answers it."]
    count: Annotated[int, "How many."]
    sample: Annotated[str, "One of them, in words."]
    newest: Annotated[datetime, "When the newest came in."]
    releasable: Annotated[bool, "Whether they can be let in once the reason is gone."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One snapshot that is held back."""

    number: Annotated[int, "Its number."]
    code: Annotated[str, "Reason code."]
    detail: Annotated[str, "Why, in words."]
    vehicle: Annotated[str, "Vehicle it names; empty where none could be read."]
    source: Annotated[str, "Who sent it."]
    received: Annotated[datetime, "When it came in."]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownName:
    """A name that no alias explains."""

    name: Annotated[str, "Name as it came in, with its unit."]
    count: Annotated[int, "Snapshots that carried it."]
    sample: Annotated[str, "A few values."]
    devices: Annotated[int, "Devices that sent it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outage:
    """Many loggers that stopped together: one notice."""

    vehicles: Annotated[int, "How many."]
    since: Annotated[datetime, "Their last reading."]
    shared: Annotated[str, "What they share, such as a depot."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A series whose readings cannot be right."""

    vehicle: Annotated[str, "The fleet's own number."]
    series: Annotated[str, "Name of the series, `FORMULA@state`."]
    reason: Annotated[str, "Why, in words."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseAlarms:
    """What the owner's wish means, and what it makes of the drifts shown today."""

    months: Annotated[int, "Vehicle-months between two false tickets, by the wish."]
    shown: Annotated[int, "Drifts shown, watched ones included."] = 0
    chance: Annotated[int, "About how many of them sound vehicles would show by chance."] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverageView:
    """For manager and integrator: what cannot be seen, and who can mend it."""

    counts: Annotated[Counts, "How the vehicles in service divide."]
    lines: Annotated[tuple[CoverageLine, ...], "Vehicles that cannot be judged, grouped by kind."]
    outages: Annotated[tuple[Outage, ...], "Loggers that stopped together."]
    without_sheet: Annotated[tuple[SheetGap, ...], "Vehicles without limits."]
    quarantined: Annotated[tuple[Refused, ...], "Readable but not believable; kept."]
    rejected: Annotated[tuple[Refused, ...], "Could not be read at all."]
    unknown_names: Annotated[tuple[UnknownName, ...], "Names that no alias explains."]
    held: Annotated[tuple[Held, ...], "The newest that are held back, for who may let them in; else none."]
    left_out: Annotated[int, "Position and driver fields left out at the door."]
    doubts: Annotated[tuple[Doubt, ...], "Series whose readings cannot be right."] = ()
    false_alarms: Annotated[FalseAlarms | None, "None before the first evaluation."] = None
