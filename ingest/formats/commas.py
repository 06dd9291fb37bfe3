"""CSV rows into cells, column by column.

A record is one line: a line break inside a quoted cell is not read here, because one stray quote would then
swallow every row after it. A line whose quotes do not match is refused alone.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.batch import Refusal
from ingest.cells import NUMBER, Cells, tell_kinds
from ingest.errors import UnreadableBody
from ingest.formats.columns import ENVELOPE, Column, gather
from ingest.parameters import SWITCHES
from ingest.personal import is_personal
from ingest.text import check_header, clean_text, decode_line

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?|[+-]?(?:nan|inf|infinity)", re.ASCII | re.I)
_ON: Final = frozenset(("true", "1", "yes", "on"))
_OFF: Final = frozenset(("false", "0", "no", "off"))


def read_header(line: str, *, needs_vehicle: bool) -> list[str]:
    """Read the header line of a snapshot file.

    Raises
    ------
    UnreadableBody
        Another separator, columns without or of one name, or ``taken_at`` (or ``vehicle``, where no vehicle
        was named for the whole file) missing: ``missing-column``.

    Examples
    --------
    >>> read_header("vehicle,taken_at,ECT [degF]", needs_vehicle=True)
    ['vehicle', 'taken_at', 'ECT [degF]']
    """
    cells, fault = _split(line)
    if fault:
        raise UnreadableBody("bad-csv", f"The header line cannot be read: {fault}.")
    header = [cell.strip() for cell in cells]
    check_header(header)
    for name in ("taken_at", "vehicle") if needs_vehicle else ("taken_at",):
        if name not in header:
            detail = f"The header line names no column {name!r}"
            hint = "; name the vehicle for the whole file, or add the column." if name == "vehicle" else "."
            raise UnreadableBody("missing-column", detail + hint)
    return header


def _split(line: str) -> tuple[list[str], str]:
    """Split a line into cells; the second part says why it cannot be."""
    if '"' not in line:
        return line.split(","), ""
    try:
        return next(csv.reader([line], strict=True)), ""
    except (csv.Error, StopIteration) as error:
        return [], f"its quotes do not match ({error})"


@dataclass(slots=True, kw_only=True)
class _Rows:
    cells: list[list[str]] = field(default_factory=list)
    index: list[int] = field(default_factory=list)
    rejected: list[Refusal] = field(default_factory=list)
    withheld: int = 0


def read_rows(header: Sequence[str], lines: Sequence[bytes], start: int = 0) -> Cells:
    """Read data lines into cells.

    Parameters
    ----------
    header : sequence of str
        Column names.
    lines : sequence of bytes
        Lines that are not blank, without their line ends.
    start : int
        Place of the first line among the file's data lines.
    """
    rows = _cut(header, lines, start)
    columns = list(zip(*rows.cells, strict=True)) if rows.cells else [()] * len(header)
    texts: dict[str, list[str]] = {}
    values: list[Column] = []
    for name, column in zip(header, columns, strict=True):
        stripped = [cell.strip() for cell in column]
        if name in ENVELOPE:
            texts[name] = stripped
        else:
            values.append(_read_column(name, stripped))
    count = len(rows.cells)
    faults: list[tuple[int, str, str, str]] = []
    odometer = _read_odometer(texts.get("odometer_km"), count, faults)
    switches = np.full((count, len(SWITCHES)), -1, dtype=np.int8)
    for place, name in enumerate(SWITCHES):
        _read_switch(name, texts.get(name, []), switches[:, place], faults)
    return gather(
        index=rows.index,
        texts=texts,
        odometer_km=odometer,
        switches=switches,
        columns=values,
        rejected=rows.rejected,
        faults=faults,
        personal_fields=rows.withheld,
    )


def _cut(header: Sequence[str], lines: Sequence[bytes], start: int) -> _Rows:
    rows = _Rows()
    personal = any(is_personal(name) for name in header)
    for place, (text, broken) in enumerate(_decode(lines), start=start):
        cells, fault = ([], "it is not UTF-8") if broken else _split(text)
        if not fault and len(cells) != len(header):
            fault = f"it has {len(cells)} cells, the header {len(header)}"
        if not fault:
            rows.cells.append(cells)
            rows.index.append(place)
            continue
        hint = " It is not shown because it may hold a driver or position field." if personal else ""
        rows.withheld += personal
        rows.rejected.append(
            Refusal(
                index=place,
                code="bad-encoding" if broken else "bad-row",
                detail=f"The row cannot be read: {fault}.{hint}",
                payload="" if personal else clean_text(text),
            )
        )
    return rows


def _decode(lines: Sequence[bytes]) -> list[tuple[str, bool]]:
    """Decode lines, all at once where that works; says for each whether it is broken."""
    try:
        return [(text, False) for text in b"\n".join(lines).decode("utf-8").split("\n")] if lines else []
    except UnicodeDecodeError:
        return [decode_line(line) for line in lines]


def _read_column(name: str, texts: list[str]) -> Column:
    rows = np.array([row for row, text in enumerate(texts) if text], dtype=np.intp)
    present = [text for text in texts if text] if len(rows) < len(texts) else texts
    joined = "".join(present)
    try:
        if joined.isascii() and "_" not in joined:  # float() also takes 1_000 and other scripts' digits
            value = np.array(list(map(float, present)), dtype=np.float64)
            return Column(name=name, row=rows, value=value, kind=np.zeros(len(rows), dtype=np.int8))
    except ValueError:
        pass  # some cell is no number: tell them apart one by one
    meanings = {text: _read_cell(text) for text in set(present)}
    told = tell_kinds([meanings[text] for text in present])
    return Column(name=name, row=rows, value=told.value, kind=told.kind, objects=told.objects)


def _read_cell(text: str) -> float | bool | str:
    if _NUMBER.fullmatch(text):
        return float(text)
    lower = text.lower()
    if lower in ("true", "false"):
        return lower == "true"
    return text


def _read_odometer(
    texts: list[str] | None, count: int, faults: list[tuple[int, str, str, str]]
) -> NDArray[np.float64]:
    odometer = np.full(count, np.nan)
    if texts is None:
        return odometer
    column = _read_column("odometer_km", texts)
    for place, row in enumerate(column.row.tolist()):
        if column.kind[place] == NUMBER and np.isfinite(column.value[place]):
            odometer[row] = column.value[place]
        else:
            detail = f"odometer_km must be a number such as 48211.5, was {texts[row][:40]!r}."
            faults.append((row, "bad-value", "odometer_km", detail))
    return odometer


def _read_switch(
    name: str, texts: list[str], stored: NDArray[np.int8], faults: list[tuple[int, str, str, str]]
) -> None:
    for row, text in enumerate(texts):
        lower = text.lower()
        if lower in _ON:
            stored[row] = 1
        elif lower in _OFF:
            stored[row] = 0
        elif lower:
            detail = f"{name} must be true or false, was {text[:40]!r}."
            faults.append((row, "bad-value", name, detail))
