"""POST /api/v1/snapshots: one snapshot or a hundred thousand, answered only when they are safe."""

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
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
        codes=described.BODY,
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
    arrival, receipt = await run_in_threadpool(_keep, shell, grant_of(request), packed, kind, encoding)
    request.state.counts = {
        "accepted": receipt.accepted,
        "duplicates": receipt.duplicates,
        "quarantined": len(receipt.quarantined),
        "rejected": len(receipt.rejected),
    }
    body = write_receipt(receipt) | write_remarks(arrival)
    return Response(orjson.dumps(body), media_type="application/json")


def _keep(shell: Shell, grant: Grant, packed: bytes, kind: Kind, encoding: str) -> tuple[Arrival, Receipt]:
    body = compression.inflate(packed, encoding, limit=shell.settings.max_body_mb * 1_000_000)
    now = shell.clock.now()
    arrival = read_arrival(shell.store, body, kind, now)
    with shell.store.begin() as work:
        receipt = work.add_arrival(leave_out_foreign(arrival, grant), received_at=now, source=grant.name)
        work.commit()
    return arrival, receipt


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
