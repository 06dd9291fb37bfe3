"""Refused rows as a file to mend and send again: the same columns, and the reason behind them."""

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any, Final

import msgspec

from ingest.batch import Refusal
from ingest.errors import UnreadableBody
from ingest.text import decode_text

REASON: Final = "why_refused"
"""Name of the last column; readers of mended files leave it out."""

_FIRST: Final[tuple[str, ...]] = (
    "vehicle",
    "taken_at",
    "done_at",
    "sheet",
    "revision",
    "scope",
    "scope_id",
    "name",
)


def write_mendable(refused: Iterable[Refusal]) -> str:
    """Write refused rows as CSV: the item's own columns, then the reason.

    Parameters
    ----------
    refused : iterable of Refusal
        With their payloads; one without a readable item has its text in a column `item`.

    Returns
    -------
    str
        CSV with a header line. A snapshot's values have a column each, with the unit in brackets.

    Examples
    --------
    >>> row = Refusal(index=0, code="bad-date", detail="No date.", payload='{"vehicle":"V-1","depot":"N"}')
    >>> write_mendable([row]).splitlines()
    ['vehicle,depot,why_refused', 'V-1,N,No date. [bad-date]']
    """
    rows = [(_flat(one.payload), f"{one.detail} [{one.code}]") for one in refused]
    names = dict.fromkeys(name for item, _ in rows for name in item)
    columns = [name for name in _FIRST if name in names]
    columns += [name for name in names if name not in columns]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([*columns, REASON])
    for item, reason in rows:
        writer.writerow([*(item.get(name, "") for name in columns), reason])
    return out.getvalue()


def _flat(payload: str) -> dict[str, str]:
    """Turn an item into cells."""
    try:
        item = msgspec.json.decode(payload)
    except msgspec.DecodeError:
        item = None
    if not isinstance(item, dict):
        return {"item": payload} if payload else {}
    cells: dict[str, str] = {}
    for name, value in item.items():
        if name in ("values", "switches") and isinstance(value, dict):
            cells |= dict(_cell(inner, one) for inner, one in value.items())
        else:
            cells |= dict([_cell(name, value)])
    return cells


def _cell(name: str, value: Any) -> tuple[str, str]:
    if isinstance(value, Mapping) and set(value) == {"value", "unit"}:
        return f"{name} [{value['unit']}]", _text(value["value"])
    return name, _text(value)


def _text(value: Any) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else msgspec.json.encode(value).decode()


def without_reasons(body: bytes, kind: str) -> bytes:
    r"""Take the column of reasons out of a file that comes back mended; others come out as they are.

    Parameters
    ----------
    body : bytes
        A file.
    kind : str
        Only `csv` files can have the column.

    Raises
    ------
    UnreadableBody
        The text is not UTF-8 (``bad-encoding``), or a cell is larger than any (``bad-csv``).

    Examples
    --------
    >>> without_reasons(b"vehicle,why_refused" + bytes([10]) + b"V-1,old", "csv")
    b'vehicle\r\nV-1\r\n'
    """
    head = body.partition(b"\n")[0]
    if kind != "csv" or not head.strip().strip(b'"').endswith(REASON.encode()):
        return body
    text, _ = decode_text(body)
    out = io.StringIO()
    writer = csv.writer(out)
    try:
        for cells in csv.reader(text.splitlines(keepends=True)):
            if cells:
                writer.writerow(cells[:-1])
    except csv.Error as error:
        raise UnreadableBody("bad-csv", f"The file cannot be read as CSV: {error}.") from error
    return out.getvalue().encode()
