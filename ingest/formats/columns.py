"""Typed columns into cells: the step that CSV and Parquet share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.batch import Refusal
from ingest.cells import Cells, count_places, tell_kinds
from ingest.errors import BadResponse
from ingest.parameters import SWITCHES
from ingest.service01 import decode

ENVELOPE: Final = frozenset(
    ("vehicle", "taken_at", "state", "device", "id", "odometer_km", "service01", *SWITCHES)
)
"""Columns that are no values."""

Fault = tuple[int, str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """One column's present cells; c cells.

    Parameters
    ----------
    name : str
        Header as it came.
    row : intp array of shape (c,)
        Row of each cell.
    value, kind
        As in `Cells`.
    objects : dict of int to object
        As in `Cells`, by place in this column.
    """

    name: str
    row: NDArray[np.intp]
    value: NDArray[np.float64]
    kind: NDArray[np.int8]
    objects: dict[int, object] = field(default_factory=dict)


def gather(
    *,
    index: Sequence[int],
    texts: Mapping[str, list[str]],
    odometer_km: NDArray[np.float64],
    switches: NDArray[np.int8],
    columns: Sequence[Column],
    rejected: Sequence[Refusal] = (),
    faults: Sequence[Fault] = (),
    personal_fields: int = 0,
) -> Cells:
    """Lay columns end to end as cells.

    Parameters
    ----------
    index : sequence of int, length n
        Place of each row in the file.
    texts : mapping of str to list of str
        Columns ``vehicle, taken_at, state, device, id, service01``, as far as there are any.
    odometer_km, switches, rejected, faults, personal_fields
        As in `Cells`.
    columns : sequence of Column
        Value columns.
    """
    notes: dict[str, int] = {}
    found_faults = list(faults)
    decoded, other = _decode_answers(texts.get("service01", []), found_faults, notes)
    every = [*columns, *decoded]
    names, name_places = count_places([column.name for column in every])
    blank = [""] * len(index)
    return Cells(
        index=np.array(index, dtype=np.int64),
        vehicle=texts.get("vehicle", blank),
        taken_at=texts.get("taken_at", blank),
        state=texts.get("state", blank),
        device=texts.get("device", blank),
        given_id=texts.get("id", blank),
        odometer_km=odometer_km,
        switches=switches,
        names=names,
        units=[""],
        row=np.concatenate([np.zeros(0, dtype=np.intp), *(column.row for column in every)]),
        name=np.repeat(name_places, [len(column.row) for column in every]),
        unit=np.zeros(sum(len(column.row) for column in every), dtype=np.intp),
        kind=np.concatenate([np.zeros(0, dtype=np.int8), *(column.kind for column in every)]),
        value=np.concatenate([np.zeros(0), *(column.value for column in every)]),
        objects=_join_objects(every),
        other=other,
        rejected=tuple(rejected),
        faults=tuple(found_faults),
        personal_fields=personal_fields,
        notes=notes,
    )


def _join_objects(columns: Sequence[Column]) -> dict[int, object]:
    objects: dict[int, object] = {}
    start = 0
    for column in columns:
        objects.update((start + place, value) for place, value in column.objects.items())
        start += len(column.row)
    return objects


def _decode_answers(
    answers: list[str], faults: list[Fault], notes: dict[str, int]
) -> tuple[list[Column], dict[int, dict[str, object]]]:
    """Decode a column of raw answers into one cell for each value."""
    found: dict[str, tuple[list[int], list[float | str]]] = {}
    other: dict[int, dict[str, object]] = {}
    for row, answer in enumerate(answers):
        if not answer:
            continue
        try:
            decoded = decode(answer)
        except BadResponse as fault:
            faults.append((row, fault.code, "service01", fault.detail))
            other[row] = {"service01": answer}
            continue
        for note in decoded.notes:
            notes[note] = notes.get(note, 0) + 1
        for name, value in decoded.values.items():
            rows, values = found.setdefault(name, ([], []))
            rows.append(row)
            values.append(value)
    return [_to_column(name, rows, values) for name, (rows, values) in found.items()], other


def _to_column(name: str, rows: list[int], values: list[float | str]) -> Column:
    told = tell_kinds(values)
    return Column(
        name=name,
        row=np.array(rows, dtype=np.intp),
        value=told.value,
        kind=told.kind,
        objects=told.objects,
    )
