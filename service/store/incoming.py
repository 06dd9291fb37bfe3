"""A batch prepared for the snapshot table: inner numbers, local days, identities and content."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray

from ingest.batch import Batch
from service.store.unit import clean


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Incoming:
    """Rows of the snapshot table as columns, in the table's order; n rows.

    Parameters
    ----------
    identity : list of bytes, length n
        16 bytes each.
    content : int64 array of shape (n,)
        Digest of everything sent; equal for equal snapshots.
    vehicle_no, day : int32 arrays of shape (n,)
        Inner number, and local day [days since 1970-01-01].
    taken_us, received_us : int64 arrays of shape (n,)
        [microseconds since 1970-01-01T00:00Z]
    small : int16 array of shape (n, 5)
        Claim, state and three switches.
    doubles : float64 array of shape (n, 1 + P)
        Odometer [km], then the parameters; NaN marks a missing one.
    device, given_id, state_note, extra
        Texts; `extra` may be None.
    """

    identity: list[bytes]
    content: NDArray[np.int64]
    vehicle_no: NDArray[np.int32]
    taken_us: NDArray[np.int64]
    received_us: NDArray[np.int64]
    day: NDArray[np.int32]
    small: NDArray[np.int16]
    doubles: NDArray[np.float64]
    device: list[str]
    given_id: list[str]
    state_note: list[str]
    extra: list[str | None]

    def __len__(self) -> int:
        """Count rows."""
        return len(self.identity)

    def take(self, places: Sequence[int]) -> "Incoming":
        """Give some of the rows."""
        if len(places) == len(self):
            return self
        index = np.asarray(places, dtype=np.intp)
        return Incoming(
            identity=[self.identity[place] for place in places],
            content=self.content[index],
            vehicle_no=self.vehicle_no[index],
            taken_us=self.taken_us[index],
            received_us=self.received_us[index],
            day=self.day[index],
            small=self.small[index],
            doubles=self.doubles[index],
            device=[self.device[place] for place in places],
            given_id=[self.given_id[place] for place in places],
            state_note=[self.state_note[place] for place in places],
            extra=[self.extra[place] for place in places],
        )


def prepare(
    batch: Batch,
    places: Sequence[int],
    *,
    vehicle_no: NDArray[np.int32],
    day: NDArray[np.int32],
    received_us: int,
) -> Incoming:
    """Prepare those rows of a batch whose vehicles are registered.

    Parameters
    ----------
    batch : Batch
        As ingest gave it.
    places : sequence of int
        Rows to prepare; `vehicle_no` and `day` speak of these.
    vehicle_no, day : int32 arrays of shape (len(places),)
        Inner number and local day.
    received_us : int
        When the batch came [microseconds since 1970-01-01T00:00Z].

    Returns
    -------
    Incoming
        One row for each place, in order.
    """
    index = np.asarray(places, dtype=np.intp)
    small = np.column_stack((batch.claim[index], batch.state[index], batch.switches[index])).astype(np.int16)
    # Adding zero turns -0.0 into 0.0, so that equal readings have equal bytes.
    doubles = np.column_stack((batch.odometer_km[index], batch.values[index])) + 0.0
    doubles[np.isnan(doubles)] = np.nan
    taken = batch.taken_us[index].astype(np.int64)
    device = _cleaned(batch.device, places)
    given = _cleaned(batch.given_id, places)
    extra = [None if batch.extra[place] is None else clean(str(batch.extra[place])) for place in places]
    vehicles = [batch.vehicle[place] for place in places]
    return Incoming(
        identity=_identities(vehicles, taken.tolist(), device, given),
        # The supported state is left out: it may be judged anew without the snapshot being another one.
        content=contents(vehicles, taken, device, np.delete(small, 1, axis=1), doubles, extra),
        vehicle_no=vehicle_no.astype(np.int32),
        taken_us=taken,
        received_us=np.full(len(index), received_us, dtype=np.int64),
        day=day.astype(np.int32),
        small=small,
        doubles=doubles,
        device=device,
        given_id=given,
        state_note=_cleaned(batch.state_note, places),
        extra=extra,
    )


def _cleaned(texts: Sequence[str], places: Sequence[int]) -> list[str]:
    """Clean texts, each different one once."""
    known = {text: clean(text) for text in set(texts)}
    return [known[texts[place]] for place in places]


def _identities(
    vehicles: Sequence[str], taken: Sequence[int], devices: Sequence[str], given: Sequence[str]
) -> list[bytes]:
    """Give 16 bytes for each snapshot: of the given id, else of vehicle, time and device."""
    blake, keys = hashlib.blake2b, []
    for vehicle, moment, device, own in zip(vehicles, taken, devices, given, strict=True):
        key = f"id\0{own}" if own else f"at\0{vehicle}\0{moment}\0{device}"
        keys.append(blake(key.encode(), digest_size=16).digest())
    return keys


def contents(
    vehicles: Sequence[str],
    taken: NDArray[np.int64],
    devices: Sequence[str],
    small: NDArray[np.int16],
    doubles: NDArray[np.float64],
    extra: Sequence[str | None],
) -> NDArray[np.int64]:
    """Digest everything that was sent, 8 bytes each.

    Parameters
    ----------
    vehicles, devices : sequences of str, length n
        The fleet's own number, and the device.
    taken : int64 array of shape (n,)
        [microseconds since 1970-01-01T00:00Z]
    small : int16 array of shape (n, 4)
        Claim and three switches.
    doubles : float64 array of shape (n, 1 + P)
        As in `Incoming`.
    extra : sequence of (str or None), length n
        JSON objects.

    Returns
    -------
    int64 array of shape (n,)
        Equal for equal snapshots.
    """
    numbers = np.hstack(
        (
            taken[:, None].astype("<i8").view(np.uint8),
            np.ascontiguousarray(small, dtype="<i2").view(np.uint8),
            np.ascontiguousarray(doubles, dtype="<f8").view(np.uint8),
        )
    )
    width, flat = numbers.shape[1], numbers.tobytes()
    blake, digests = hashlib.blake2b, []
    for place, (vehicle, device, more) in enumerate(zip(vehicles, devices, extra, strict=True)):
        words = f"{vehicle}\0{device}\0".encode() + _sorted_keys(more)
        digests.append(blake(flat[place * width : (place + 1) * width] + words, digest_size=8).digest())
    return np.frombuffer(b"".join(digests), dtype="<i8").astype(np.int64)


def _sorted_keys(extra: str | None) -> bytes:
    """Write a JSON object in one order of keys: senders need not keep theirs."""
    return b"" if extra is None else orjson.dumps(orjson.loads(extra), option=orjson.OPT_SORT_KEYS)


def as_rows(rows: Incoming) -> list[tuple[Any, ...]]:
    """Turn columns into tuples in the table's order; the driver stores NaN as NULL."""
    return list(
        zip(
            rows.identity,
            rows.content.tolist(),
            rows.vehicle_no.tolist(),
            rows.taken_us.tolist(),
            rows.received_us.tolist(),
            rows.day.tolist(),
            *rows.small.T.tolist(),
            *rows.doubles.T.tolist(),
            rows.device,
            rows.given_id,
            rows.state_note,
            rows.extra,
            strict=True,
        )
    )
