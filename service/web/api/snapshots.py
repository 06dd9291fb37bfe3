"""POST /api/v1/snapshots: one snapshot or a hundred thousand, answered only when they are safe."""

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import numpy as np
import orjson
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from ingest import compression
from ingest.batch import Arrival, Batch, Refusal
from service.auth import Grant
from service.store import Receipt
from service.web import described, messages
from service.web.body import SNAPSHOT_TYPES, Kind, read_body, read_encoding, read_kind
from service.web.guards import grant_of
from service.web.loading import read_arrival
from service.web.shell import Shell, shell_of

router = APIRouter(prefix="/api/v1")


@router.post(
    "/snapshots",
    **described.described(
        "send_snapshots",
        scope="send",
        summary="Keep snapshots.",
        answer=described.ref("Receipt"),
        codes=(*described.BODY, "too-many-requests"),
        body=messages.snapshot_body(),
    ),
)
async def send_snapshots(request: Request) -> Response:
    """Keep the snapshots of one body; answered after the commit.

    For devices and scripts with the scope `send`. Sending the same again changes nothing.
    """
    shell = shell_of(request)
    kind = read_kind(request.headers, SNAPSHOT_TYPES)
    encoding = read_encoding(request.headers)
    packed = await read_body(request, shell.settings.max_body_mb * 1_000_000)
    sent_at = read_date(request.headers.get("date", ""))
    arrival, receipt = await run_in_threadpool(
        _keep, shell, grant_of(request), packed, kind, encoding, sent_at
    )
    request.state.counts = {
        "accepted": receipt.accepted,
        "duplicates": receipt.duplicates,
        "quarantined": len(receipt.quarantined),
        "rejected": len(receipt.rejected),
    }
    body = write_receipt(receipt) | write_remarks(arrival)
    return Response(orjson.dumps(body), media_type="application/json")


def _keep(  # each is one fact of the request
    shell: Shell, grant: Grant, packed: bytes, kind: Kind, encoding: str, sent_at: datetime | None
) -> tuple[Arrival, Receipt]:
    body = compression.inflate(packed, encoding, limit=shell.settings.max_body_mb * 1_000_000)
    now = shell.clock.now()
    arrival = read_arrival(shell.store, body, kind, now)
    with shell.store.begin() as work:
        receipt = work.add_arrival(leave_out_foreign(arrival, grant), received_at=now, source=grant.name)
        work.note_use(grant.name, now, clock_offset(arrival, sent_at, now))
        work.commit()
    return arrival, receipt


def read_date(header: str) -> datetime | None:
    """Read the time at which a sender says it sent; None where it says nothing that can be read.

    Examples
    --------
    >>> read_date("Tue, 04 Mar 2031 12:00:00 GMT").isoformat(), read_date("noon")
    ('2031-03-04T12:00:00+00:00', None)
    """
    try:
        sent_at = parsedate_to_datetime(header)
    except ValueError:
        return None
    return sent_at.replace(tzinfo=UTC) if sent_at.tzinfo is None else sent_at


def clock_offset(arrival: Arrival, sent_at: datetime | None, now: datetime) -> float | None:
    """Tell how far a sender's clock is ahead [s]; None where nothing shows it.

    Parameters
    ----------
    arrival : Arrival
        What it sent. Readings from the past show nothing: they may have waited.
    sent_at : datetime or None
        What it says the time is.
    now : datetime
        What the time is.
    """
    if sent_at is not None:
        return (sent_at - now).total_seconds()
    taken = [int(arrival.batch.taken_us.max())] if len(arrival.batch) else []
    ahead = max(taken, default=0) - microseconds(now)
    future = [one for one in arrival.quarantined if one.code == "future-time"]
    if future:
        ahead = max(ahead, *(_taken_us(one) - microseconds(now) for one in future))
    return ahead / 1e6 if ahead > 0 else None


def _taken_us(refused: Refusal) -> int:
    try:
        item = orjson.loads(refused.payload)
        return microseconds(datetime.fromisoformat(item["taken_at"]))
    except (orjson.JSONDecodeError, KeyError, TypeError, ValueError):
        return 0


def microseconds(moment: datetime) -> int:
    """Count microseconds since 1970-01-01T00:00Z; exact, unlike a float timestamp."""
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def leave_out_foreign(arrival: Arrival, grant: Grant) -> Arrival:
    """Reject what a token may not send: snapshots of vehicles that are not on its list.

    Parameters
    ----------
    arrival : Arrival
        As read.
    grant : Grant
        Of the caller.

    Returns
    -------
    Arrival
        Without those rows; each is among the rejected with the code `vehicle-not-allowed`, whether
        or not there is such a vehicle: a token must not be a way to find out.
    """
    if not grant.vehicles:
        return arrival
    batch = arrival.batch
    kept = [place for place, name in enumerate(batch.vehicle) if grant.may_send_for(name)]
    foreign = [
        _refuse_vehicle(int(batch.index[place]), name)
        for place, name in enumerate(batch.vehicle)
        if not grant.may_send_for(name)
    ]
    held = [refusal for refusal in arrival.quarantined if grant.may_send_for(refusal.vehicle)]
    foreign += [
        _refuse_vehicle(refusal.index, refusal.vehicle)
        for refusal in arrival.quarantined
        if not grant.may_send_for(refusal.vehicle)
    ]
    if not foreign:
        return arrival
    return replace(
        arrival,
        batch=take_rows(batch, kept),
        quarantined=tuple(held),
        rejected=tuple(sorted((*arrival.rejected, *foreign), key=lambda refusal: refusal.index)),
    )


def take_rows(batch: Batch, places: Sequence[int]) -> Batch:
    """Take some rows of a batch, in the given order.

    Parameters
    ----------
    batch : Batch
        All rows.
    places : sequence of int
        Rows wanted.

    Returns
    -------
    Batch
        Those rows; every column is taken, whatever columns a batch has.
    """
    rows = np.asarray(places, dtype=np.intp)
    columns: dict[str, Any] = {}
    for column in fields(batch):
        values = getattr(batch, column.name)
        columns[column.name] = values[rows] if isinstance(values, np.ndarray) else [values[i] for i in places]
    return Batch(**columns)


def _refuse_vehicle(index: int, vehicle: str) -> Refusal:
    return Refusal(
        index=index,
        code="vehicle-not-allowed",
        field="vehicle",
        detail=f"This token may not send for the vehicle '{vehicle}'; it was issued for others.",
        vehicle=vehicle,
    )


def write_receipt(receipt: Receipt) -> dict[str, Any]:
    """Write the answer of the exchange contract.

    Parameters
    ----------
    receipt : Receipt
        What the store made of the arrival.

    Returns
    -------
    dict
        accepted, duplicates, quarantined, rejected.
    """
    return {
        "accepted": receipt.accepted,
        "duplicates": receipt.duplicates,
        "quarantined": [_write_item(refusal) for refusal in receipt.quarantined],
        "rejected": [_write_item(refusal) for refusal in receipt.rejected],
    }


def write_remarks(arrival: Arrival) -> dict[str, Any]:
    """Write what a sender should know of accepted snapshots; nothing where there is nothing to say.

    Parameters
    ----------
    arrival : Arrival
        As read.

    Returns
    -------
    dict
        unknown_names: names that no alias explains, with counts; left_out: driver and position fields
        dropped at the door. Members of the answer beside those of the contract, only when not empty.
    """
    remarks: dict[str, Any] = {}
    if arrival.unknown_names:
        remarks["unknown_names"] = dict(sorted(arrival.unknown_names.items()))
    if arrival.personal_fields:
        remarks["left_out"] = arrival.personal_fields
    return remarks


def _write_item(refusal: Refusal) -> dict[str, Any]:
    return {"index": refusal.index, "code": refusal.code, "detail": refusal.detail}


def write_refusal(refusal: Refusal) -> dict[str, Any]:
    """Write one refused item: its place, code, detail, and the field where one is to blame."""
    written: dict[str, Any] = {"index": refusal.index, "code": refusal.code, "detail": refusal.detail}
    if refusal.field:
        written["field"] = refusal.field
    return written
