"""Spec sheets: every revision, what is missing, and one revision with what it would change."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from dashboards.setup.parts import Fault

Cell = Literal["given", "gap", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """One revision of a sheet."""

    sheet: Annotated[str, "Name of the sheet."]
    revision: Annotated[int, "Revision."]
    source: Annotated[str, "Where a person can look it up."]
    standing: Annotated[str, "`draft`, `in_force`, `later` or `superseded`."]
    since: Annotated[date | None, "First day in force; None for the whole history, or a draft."]
    put_by: Annotated[str, "Who brought it."]
    approved_by: Annotated[str, "Who put it in force; empty for a draft."]
    alone: Annotated[bool, "Whether one person wrote it and put it in force on the pages."]
    limits: Annotated[int, "Limits it names."]
    vehicles: Annotated[int, "Vehicles that name the sheet."]


@dataclass(frozen=True, slots=True, kw_only=True)
class GapRow:
    """What a sheet says of one parameter in each operating state."""

    parameter: Annotated[str, "Parameter code."]
    cells: Annotated[tuple[Cell, ...], "For each state: limit given, gap, or does not apply."]


@dataclass(frozen=True, slots=True, kw_only=True)
class GapGroup:
    """What one sheet says of the vehicles that name it."""

    sheet: Annotated[str, "Sheet in force; empty for vehicles without one."]
    vehicles: Annotated[tuple[str, ...], "Some of the vehicles."]
    total: Annotated[int, "How many they are."]
    missing: Annotated[int, "Gaps for each of them."]
    rows: Annotated[tuple[GapRow, ...], "By parameter."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupSheetsView:
    """For the integrator: sheets on file, a place to bring new ones, and what no sheet says."""

    revisions: Annotated[tuple[RevisionLine, ...], "Every revision, by name, the newest first."]
    states: Annotated[tuple[str, ...], "Operating states: columns of the table of gaps."]
    gaps: Annotated[tuple[GapGroup, ...], "What sheets say of the followed series."]
    missing: Annotated[int, "Gaps over all vehicles; what does not apply is none."]
    text: Annotated[str, "What was pasted, when it was not taken."]
    errors: Annotated[tuple[Fault, ...], "What is wrong with it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One limit of a revision, beside the one in force."""

    parameter: Annotated[str, "Parameter code."]
    state: Annotated[str, "Operating state."]
    low: Annotated[float | None, "Lowest allowed."]
    high: Annotated[float | None, "Highest allowed."]
    unit: Annotated[str, "Unit of both."]
    low_now: Annotated[float | None, "Lowest allowed by the revision in force."]
    high_now: Annotated[float | None, "Highest allowed by the revision in force."]
    changed: Annotated[bool, "Whether the two differ."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """One vehicle's series that the revision would judge otherwise."""

    vehicle: Annotated[str, "The fleet's own number."]
    series: Annotated[str, "Name of the series, `FORMULA@state`."]
    value: Annotated[float, "Median of the newest comparable readings."]
    unit: Annotated[str, "Unit of value and limits."]
    low: Annotated[float | None, "Lowest the revision allows."]
    high: Annotated[float | None, "Highest the revision allows."]
    outside: Annotated[bool, "Whether it would be outside; else it would be back inside."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What the newest evaluation would have said of limits under this revision."""

    as_of: Annotated[date, "Day of the newest evaluation."]
    outside: Annotated[int, "Vehicles that would be outside a limit and are not now."]
    inside: Annotated[int, "Vehicles that would be back inside all that changed."]
    shifts: Annotated[tuple[Shift, ...], "Which series."]
    soak_changed: Annotated[bool, "Whether soak hours change, which only the next evaluation can show."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One further field of a sheet."""

    name: Annotated[str, "Name."]
    text: Annotated[str, "Value in words."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupSheetView:
    """For the integrator: one revision, what it would change, and putting it in force."""

    sheet: Annotated[str, "Name."]
    revision: Annotated[int, "Revision."]
    source: Annotated[str, "Where a person can look it up."]
    standing: Annotated[str, "`draft`, `in_force`, `later` or `superseded`."]
    since: Annotated[date | None, "First day in force; None for the whole history, or a draft."]
    put_by: Annotated[str, "Who brought it."]
    put_at: Annotated[datetime, "When."]
    approved_by: Annotated[str, "Who put it in force; empty for a draft."]
    alone: Annotated[bool, "Whether one person did both on the pages."]
    fields: Annotated[tuple[Field, ...], "What it says beside limits."]
    limits: Annotated[tuple[LimitLine, ...], "Its limits."]
    dropped: Annotated[tuple[LimitLine, ...], "Limits of the revision in force that it does not have."]
    preview: Annotated[Preview | None, "None before the first evaluation, or when it is no draft."]
    may_approve: Annotated[bool, "Whether this reader may put it in force."]
    hindrance: Annotated[str, "Why not; empty otherwise."]
    today: Annotated[str, "Today's date, YYYY-MM-DD, for the field."]
    errors: Annotated[tuple[Fault, ...], "What was not taken."]
