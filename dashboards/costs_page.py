"""The cost table: what each cause costs, planned and unplanned, its revisions, and a new one to bring."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class CostCells:
    """One cause's line."""

    cause: Annotated[str, "Cause code."]
    own: Annotated[bool, "Whether the figures are the fleet's; else ours, made up."]
    planned_hours: Annotated[float, "Workshop hours of a planned repair [h]."]
    unplanned_hours: Annotated[float, "Workshop hours after a complaint [h]."]
    planned_parts: Annotated[float, "Parts of a planned repair."]
    unplanned_parts: Annotated[float, "Parts after a complaint."]
    downtime: Annotated[float, "What the stop costs beside the workshop."]
    labour_rate: Annotated[float, "Price of a workshop hour."]
    look_cost: Annotated[float, "Cost of a visit that finds nothing."]
    planned: Annotated[float, "Planned repair in all."]
    unplanned: Annotated[float, "Unplanned repair in all."]
    price_date: Annotated[date, "Date of the prices."]
    revision: Annotated[int, "Revision that brought the line; 0 for ours."]
    source: Annotated[str, "Where the figures come from."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """One revision of the table."""

    revision: Annotated[int, "Its number."]
    causes: Annotated[int, "Causes it changed."]
    put_by: Annotated[str, "Who brought it."]
    put_at: Annotated[datetime, "When."]
    source: Annotated[str, "Where its figures come from."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostRefused:
    """One line that is not taken."""

    row: Annotated[int, "Line of the file from 1, the header not counted; 0 for the whole file."]
    column: Annotated[str, "Column that is wrong; empty for the whole line."]
    code: Annotated[str, "Reason code."]
    detail: Annotated[str, "What is wrong and what is allowed."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostTrial:
    """What a file would do, or what was wrong with it."""

    number: Annotated[int, "Number under which the file waits; 0 where it cannot be read."]
    added: Annotated[int, "Causes that would get figures of the fleet's own."]
    changed: Annotated[int, "Causes whose figures would change."]
    same: Annotated[int, "Lines that change nothing."]
    refused: Annotated[tuple[CostRefused, ...], "Lines that would not be taken."]
    unknown: Annotated[tuple[str, ...], "Columns without a meaning here."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostsView:
    """For whoever keeps the prices: the table as it stands, its history, and a new one to try."""

    step: Annotated[Literal["see", "look"], "The table as it is, or a look at what a file would do."]
    currency: Annotated[str, "ISO 4217 code."]
    revision: Annotated[int, "Revision of the table; 0 while the fleet has loaded none."]
    lines: Annotated[tuple[CostCells, ...], "One line for each cause."]
    made_up: Annotated[int, "Causes that still have our starting figures."]
    revisions: Annotated[tuple[RevisionLine, ...], "Earlier and present revisions, newest first."]
    trial: Annotated[CostTrial | None, "What the file would do; None while none was brought."]
    columns: Annotated[tuple[str, ...], "Columns of a file, in order."]
    pasted: Annotated[str, "Text that was pasted and not taken, kept to be mended."]
