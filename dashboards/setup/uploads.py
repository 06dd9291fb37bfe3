"""Bringing a file: a first look at what it would do, then the loading, and what was refused to mend."""

from dataclasses import dataclass
from typing import Annotated, Literal

from dashboards.setup.parts import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many rows something happens to."""

    code: Annotated[str, "What happens, a code of `words.LOADED`."]
    count: Annotated[int, "Rows."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """One row that is refused, or deserves a look."""

    row: Annotated[int, "Row of the file from 1; 0 for the whole file."]
    code: Annotated[str, "Reason code."]
    field: Annotated[str, "Column that is wrong; empty for the whole row."]
    detail: Annotated[str, "What is wrong and what is allowed."]


@dataclass(frozen=True, slots=True, kw_only=True)
class UploadView:
    """For the integrator: files to bring, and what one of them would do or did."""

    step: Annotated[Literal["choose", "look", "done"], "Choose a file, look at what it would do, or done."]
    kind: Annotated[str, "Kind of file chosen, a code of `words.KINDS`."]
    number: Annotated[int, "Number of the waiting file; 0 for none."]
    file: Annotated[str, "Name of the file; empty for none."]
    tallies: Annotated[tuple[Tally, ...], "What would happen, or happened."]
    refused: Annotated[tuple[RefusedRow, ...], "The first rows refused."]
    refused_total: Annotated[int, "Rows refused in all."]
    warnings: Annotated[tuple[RefusedRow, ...], "The first rows accepted that deserve a look."]
    unknown: Annotated[tuple[str, ...], "Columns or names without a meaning."]
    left_out: Annotated[int, "Driver and position fields left out at the door."]
    errors: Annotated[tuple[Fault, ...], "What was not taken."]
