"""What is kept and how long, what would go, and which vehicles are on hold."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from dashboards.setup.parts import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptClass:
    """One class of data."""

    kind: Annotated[str, "Class, a code of `words.RETENTION`."]
    months: Annotated[int, "How long it is kept [months]; 0 for ever."]
    kept_from: Annotated[date | None, "First day kept; None where all of it is."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PortionLine:
    """One month of one table, as it would go or went."""

    kind: Annotated[str, "Class, a code of `words.RETENTION`."]
    part: Annotated[str, "What it is, a code of `words.PARTS`."]
    month: Annotated[date, "First day of the month."]
    rows: Annotated[int, "How many rows."]
    vehicles: Annotated[int, "Of how many vehicles; 0 where the whole fleet shares a row."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovalLine:
    """One month of one table that went."""

    at: Annotated[datetime, "When it went, in the zone shown."]
    put_by: Annotated[str, "Who wanted it."]
    portion: Annotated[PortionLine, "What went."]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLine:
    """One vehicle of which nothing may be removed."""

    vehicle: Annotated[str, "Its number."]
    reason: Annotated[str, "Why."]
    put_by: Annotated[str, "Who put it on hold."]
    put_at: Annotated[datetime, "When, in the zone shown."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupRetentionView:
    """For the administrator who answers for what is kept: rules, what would go, holds, and what went."""

    kept: Annotated[tuple[KeptClass, ...], "Classes, in the order in which they go."]
    next_run: Annotated[datetime | None, "Next run in the zone shown; None where this store has no schedule."]
    only_counts: Annotated[bool, "Whether that run only counts, because none has run before."]
    counted: Annotated[bool, "Whether what would go was counted."]
    would_go: Annotated[tuple[PortionLine, ...], "What would go now; empty where not counted."]
    stays: Annotated[int, "Rows that are as old and stay because of holds; 0 where not counted."]
    holds: Annotated[tuple[HoldLine, ...], "Vehicles on hold."]
    vehicles: Annotated[tuple[str, ...], "Vehicles to choose from."]
    typed_vehicle: Annotated[str, "Vehicle as typed in a refused form."]
    typed_reason: Annotated[str, "Reason as typed in a refused form."]
    errors: Annotated[tuple[Fault, ...], "What is wrong with the form."]
    removals: Annotated[tuple[RemovalLine, ...], "What went, the newest first."]
