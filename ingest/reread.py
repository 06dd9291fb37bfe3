"""Stored extras read again, after somebody mapped a name that nobody knew."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.aliases import AliasTable
from ingest.assemble import assemble
from ingest.formats.items import read_items
from ingest.meaning import Context
from ingest.parameters import CODES, COLUMN
from ingest.text import write_json
from ingest.vacuum import BELOW_ZERO, WITHOUT_BAROMETER

_ANY_TIME = "2001-01-01T00:00:00Z"
_ANY_US = 10**15
_WAIVED = frozenset(("out-of-range", "unknown-unit", "wrong-unit"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reread:
    """What stored extras say under an alias table; n rows, P parameters.

    Parameters
    ----------
    values : float64 array of shape (n, P)
        Values that the table explains, in default units; NaN elsewhere. Values that were explained before
        and came in another unit are among them, unchanged.
    extra : list of (str or None), length n
        What is still without a column.
    unconverted : int
        Manifold vacuums that stay as they came: no barometer in the snapshot, or negative.
    """

    values: NDArray[np.float64]
    extra: list[str | None]
    unconverted: int


def reread(
    extras: Sequence[str],
    devices: Sequence[str],
    sheets: Sequence[str],
    aliases: AliasTable,
    kept: NDArray[np.float64] | None = None,
) -> Reread:
    """Read stored extras under a newer alias table.

    A value that its new parameter cannot have (a text for a number, a unit of another quantity, a number no
    sensor can encode) stays where it is; so does the whole extra of a row in which a name turns out to
    contradict another.

    Parameters
    ----------
    extras : sequence of str, length n
        As stored by `Batch.extra`.
    devices, sheets : sequence of str, length n
        Device and spec sheet of each row; empty where none.
    aliases : AliasTable
        The table in force now.
    kept : float64 array of shape (n, P), optional
        Values that the rows have already, in default units, NaN where missing: a vacuum is read by the
        barometer among them.

    Examples
    --------
    >>> from ingest.records import Alias
    >>> row = Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF")
    >>> again = reread(['{"Coolant":194.0,"Oil":3.5}'], [""], [""], AliasTable.from_rows([row]))
    >>> round(float(again.values[0, CODES.index("ECT")]), 9)
    90.0
    """
    items = [
        b'{"vehicle":"%d","taken_at":"%b","device":%b,"values":%b}'
        % (row, _ANY_TIME.encode(), write_json(device).encode(), extra.encode())
        for row, (extra, device) in enumerate(zip(extras, devices, strict=True))
    ]
    context = Context(
        now_us=_ANY_US,
        aliases=aliases,
        sheet_of={str(row): sheet for row, sheet in enumerate(sheets)},
        waive=_WAIVED,
        kept={} if kept is None else {str(row): _pressures(values) for row, values in enumerate(kept)},
    )
    arrival = assemble(read_items(items), context)
    batch = arrival.batch
    values = np.full((len(items), len(CODES)), np.nan)
    values[batch.index] = batch.values
    left: list[str | None] = list(extras)
    for place, row in enumerate(batch.index.tolist()):
        left[row] = batch.extra[place]
    unconverted = sum(arrival.notes.get(code, 0) for code in (WITHOUT_BAROMETER, BELOW_ZERO))
    return Reread(values=values, extra=left, unconverted=unconverted)


def _pressures(values: NDArray[np.float64]) -> tuple[float, float]:
    return float(values[COLUMN["MAP"]]), float(values[COLUMN["BARO"]])
