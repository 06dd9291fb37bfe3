"""A batch: many snapshots as columns, with what was refused and why.

One snapshot or a million rows take the same path. Arrays are float64 or small integers, NaN marks a missing
reading, and row i of every column speaks of the same snapshot.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """One item that was not accepted, with a reason a person can act on.

    Parameters
    ----------
    index : int
        Place of the item in the request or file, from 0; -1 where the whole body is meant.
    code : str
        Stable error code, listed in DEVELOPERS.md.
    field : str
        Column, key or parameter that is wrong; empty where the whole item is.
    detail : str
        One sentence: what is wrong, where, and what is allowed.
    payload : str
        The item as it came, as text, so that it can be mended and sent again. Never holds
        personal fields: those are dropped first.
    vehicle : str
        The fleet's own number if it could be read, else empty.
    """

    index: int
    code: str
    field: str = ""
    detail: str
    payload: str = ""
    vehicle: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Readable snapshots as columns; n rows, P parameters in the order of `parameters.CODES`.

    Parameters
    ----------
    index : int64 array of shape (n,)
        Place of the row in the request or file, from 0.
    vehicle : list of str, length n
        The fleet's own number.
    taken_us : int64 array of shape (n,)
        Time taken [microseconds since 1970-01-01T00:00Z].
    device, given_id : list of str, length n
        Empty where not given.
    odometer_km : float64 array of shape (n,)
        Odometer [km]; NaN where not given.
    claim : int8 array of shape (n,)
        Operating state as declared, a place in `parameters.STATES`; -1 where none was.
    state : int8 array of shape (n,)
        Operating state that the values support; -1 where none.
    state_note : list of str, length n
        Code of the reason why `state` is -1, or of a doubt about it; empty where nothing needs saying.
    values : float64 array of shape (n, P)
        Readings in default units; NaN marks a missing one. `FUELSYS1` holds the place in
        `parameters.FUEL_SYSTEM`, flags hold 0 or 1.
    switches : int8 array of shape (n, 3)
        1 on, 0 off, -1 not reported, in the order of `parameters.SWITCHES`.
    extra : list of (str or None), length n
        JSON object of what has no column: unknown names and keys, and values given in another unit,
        under the name and in the unit they came with.
    """

    index: NDArray[np.int64]
    vehicle: list[str]
    taken_us: NDArray[np.int64]
    device: list[str]
    given_id: list[str]
    odometer_km: NDArray[np.float64]
    claim: NDArray[np.int8]
    state: NDArray[np.int8]
    state_note: list[str]
    values: NDArray[np.float64]
    switches: NDArray[np.int8]
    extra: list[str | None]

    def __len__(self) -> int:
        """Count rows."""
        return len(self.vehicle)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrival:
    """What came out of one request body or file.

    Parameters
    ----------
    batch : Batch
        Believed rows.
    rejected : tuple of Refusal
        Items that cannot be read at all.
    quarantined : tuple of Refusal
        Items that are readable but not believable; kept, listed and releasable.
    unknown_names : dict of str to int
        Names that no catalogue entry or alias explains, with how often each came.
    personal_fields : int
        Count of driver and position fields dropped at the door.
    notes : dict of str to int
        Codes of things that were accepted but deserve a word, with counts.
    """

    batch: Batch
    rejected: tuple[Refusal, ...] = ()
    quarantined: tuple[Refusal, ...] = ()
    unknown_names: dict[str, int] = field(default_factory=dict)
    personal_fields: int = 0
    notes: dict[str, int] = field(default_factory=dict)
