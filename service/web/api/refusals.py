"""What was held back or turned away: listed, and released when its reason is gone."""

import msgspec
from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ingest import formats
from service.store import KeptRefusal, Receipt, Work
from service.web import described
from service.web.api.snapshots import microseconds, write_receipt
from service.web.directory import load_names
from service.web.errors import NotReleasable
from service.web.guards import grant_of
from service.web.query import Cursor, Limit, choose
from service.web.shell import Shell, shell_of

router = APIRouter(prefix="/api/v1")

KINDS = ("quarantined", "rejected")


@router.get(
    "/refusals",
    **described.described(
        "list_refusals",
        scope="read",
        summary="Snapshots held back or turned away, newest first.",
        answer=described.page_of("KeptRefusal"),
        codes=described.PAGED,
    ),
)
def list_refusals(
    request: Request,
    kind: str = Query("", description="quarantined or rejected; empty for both."),
    code: str = Query("", description="Reason code; empty for all."),
    vehicle: str = Query("", description="The fleet's own number; empty for all."),
    held_only: bool = Query(True, description="Leave out what was released."),
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List refused items with their payload; for integrators who mend what sends them."""
    choose("kind", kind, ("", *KINDS))
    with shell_of(request).store.begin(readonly=True) as work:
        page = work.refusals(
            kind=kind, code=code, vehicle=vehicle, held_only=held_only, limit=limit, cursor=cursor
        )
    return Response(
        msgspec.json.encode({"items": page.rows, "next_cursor": page.cursor or None}),
        media_type="application/json",
    )


@router.post(
    "/refusals/{number}/release",
    **described.described(
        "release_refusal",
        scope="admin",
        summary="Read a quarantined snapshot again and keep it if its reason is gone.",
        answer=described.ref("Receipt"),
        codes=(*described.READ, "not-found", "not-releasable"),
    ),
)
def release_refusal(request: Request, number: int) -> Response:
    """Release one item; for administrators, for instance once its vehicle is registered."""
    shell = shell_of(request)
    with shell.store.begin() as work:
        receipt = release(shell, work, number, grant_of(request).name)
        work.commit()
    return Response(msgspec.json.encode(write_receipt(receipt)), media_type="application/json")


def release(shell: Shell, work: Work, number: int, who: str, *, reason: str = "") -> Receipt:
    """Read one held item again and keep it.

    Parameters
    ----------
    shell : Shell
        For the clock.
    work : Work
        Unit of work; the caller commits.
    number : int
        Running number of the item.
    who : str
        Written into the event log.
    reason : str
        Why; empty where none was asked for.

    Returns
    -------
    Receipt
        What became of it.

    Raises
    ------
    NotFound
        No such item is held.
    NotReleasable
        What held it back still holds; nothing is changed.
    """
    now = shell.clock.now()
    item: KeptRefusal = work.release([number], now=now)[0]
    names = load_names(work)
    arrival = formats.read_snapshots(
        item.payload.encode(),
        kind="json",
        now_us=microseconds(now),
        aliases=names.table,
        sheet_of=names.sheet_of,
    )
    receipt = work.add_arrival(arrival, received_at=now, source=item.source)
    if receipt.quarantined or receipt.rejected:
        again = (*receipt.quarantined, *receipt.rejected)[0]
        raise NotReleasable(number, again.code, again.detail)
    work.log_event(
        at=now, who=who, what="released", subject=f"refusal {number}", before=item.code, after=reason
    )
    return receipt
