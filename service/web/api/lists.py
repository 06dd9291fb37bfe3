"""GET lists of what is kept: vehicles, specs, snapshots, trends, tickets, work, risk."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

import msgspec
from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from dashboards.exports.columns import dataset_of
from dashboards.exports.table import About
from ingest.parameters import STATES
from ingest.records import WORK_KINDS
from service.store.work import Work
from service.tickets.ticket import STATUSES
from service.web import described, wire
from service.web.cursors import read_cursor, write_cursor
from service.web.errors import BadQuery
from service.web.exports import Row, Wanted, about_of, end_of, loss_headers, risk_rows, trend_rows
from service.web.query import AsOf, Cursor, Limit, choose, number_day
from service.web.shell import Shell, shell_of
from service.web.wire import list_row

T = TypeVar("T")
router = APIRouter(prefix="/api/v1")

VehicleFilter: Any = Query("", description="The fleet's own number; empty for all.")


def _described(operation: str, row: str, summary: str, *, as_of: bool = False) -> dict[str, Any]:
    return described.described(
        operation,
        scope="read",
        summary=summary,
        answer=described.page_of(row),
        codes=described.PAGED,
        headers=described.LOST if as_of else None,
    )


def _answer(rows: Sequence[object], cursor: str, about: About | None = None) -> Response:
    """Answer with one page; `about` says what its as-of date has lost since."""
    body = msgspec.json.encode({"items": rows, "next_cursor": cursor or None})
    headers = None if about is None else loss_headers(about)
    return Response(body, media_type="application/json", headers=headers)


def _cut(
    dataset: str,
    filters: Mapping[str, object],
    rows: Sequence[T],
    key: Callable[[T], tuple[str, ...]],
    cursor: str,
    limit: int,
) -> tuple[Sequence[T], str]:
    """Cut one page out of sorted rows, after the key that the cursor names."""
    after = read_cursor(dataset, filters, cursor) if cursor else ()
    kept = [row for row in rows if key(row) > after] if after else list(rows)
    page = kept[:limit]
    following = write_cursor(dataset, filters, key(page[-1])) if len(kept) > limit else ""
    return page, following


def moment_of(shell: Shell, as_of: date | None) -> datetime | None:
    """Turn an as-of date into the end of that day in the fleet's zone, aware UTC; None stays None."""
    return None if as_of is None else end_of(as_of, shell.settings.fleet_zone)


@router.get("/vehicles", **_described("list_vehicles", "Vehicle", "Vehicles by number."))
def list_vehicles(
    request: Request,
    depot: str = Query("", description="Depot; empty for all."),
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List registered vehicles; for programs that read."""
    with shell_of(request).store.begin(readonly=True) as work:
        found = work.vehicles()
    rows = [row for row in found if not depot or row.depot == depot]
    page, following = _cut("vehicles", {"depot": depot}, rows, lambda row: (row.vehicle,), cursor, limit)
    return _answer(page, following)


@router.get("/specs", **_described("list_specs", "SpecSheet", "Spec sheets in force, by name."))
def list_specs(
    request: Request, as_of: date | None = AsOf, limit: int = Limit, cursor: str = Cursor
) -> Response:
    """List the revision in force of each sheet; loading the answer again changes nothing."""
    day = None if as_of is None else number_day(as_of)
    with shell_of(request).store.begin(readonly=True) as work:
        found = work.sheets(as_of_day=day)
    page, following = _cut("specs", {"as_of": as_of}, found, lambda row: (row.sheet,), cursor, limit)
    return _answer([wire.sheet_row(sheet) for sheet in page], following)


@router.get(
    "/snapshots", **_described("list_snapshots", "SnapshotRow", "Snapshots by vehicle and time.", as_of=True)
)
def list_snapshots(
    request: Request,
    vehicle: str = VehicleFilter,
    state: str = Query("", description="Operating state that the values support; empty for all."),
    from_at: datetime | None = Query(None, description="Taken at or after; RFC 3339 with offset."),
    to_at: datetime | None = Query(None, description="Taken before; RFC 3339 with offset."),
    as_of: date | None = AsOf,
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List stored snapshots; as_of leaves out what was received later."""
    choose("state", state, ("", *STATES))
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        page = work.snapshots(
            vehicle=vehicle,
            state=state,
            from_at=_aware("from_at", from_at),
            to_at=_aware("to_at", to_at),
            known_at=moment_of(shell, as_of),
            limit=limit,
            cursor=cursor,
        )
        about = _about(work, shell, "snapshots", as_of)
    return _answer([wire.snapshot_row(row) for row in page.rows], page.cursor, about)


def _about(work: Work, shell: Shell, dataset: str, as_of: date | None) -> About:
    return about_of(work, Wanted(dataset=dataset, as_of=as_of), shell.settings.fleet_zone)


def _aware(name: str, moment: datetime | None) -> datetime | None:
    if moment is not None and moment.tzinfo is None:
        raise BadQuery(name, moment.isoformat(), "a time with its offset, such as 2031-03-04T06:12:09-05:00")
    return moment


@router.get(
    "/trends",
    **_described("list_trends", "TrendRow", "Followed series of the newest evaluation.", as_of=True),
)
def list_trends(
    request: Request,
    vehicle: str = VehicleFilter,
    as_of: date | None = AsOf,
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List trends by vehicle and series, of the newest evaluation that is not after as_of."""
    shell = shell_of(request)
    wanted = Wanted(dataset="trends", as_of=as_of, vehicle=vehicle)
    with shell.store.begin(readonly=True) as work:
        found = trend_rows(work, wanted, shell.settings.fleet_zone)
        about = about_of(work, wanted, shell.settings.fleet_zone)
    return _answer_rows(wanted, found, ("vehicle", "series"), cursor, limit, about)


def _answer_rows(
    wanted: Wanted, found: Sequence[Row], keys: tuple[str, ...], cursor: str, limit: int, about: About
) -> Response:
    # Bound to the evaluation, not only to the as-of: a new one between two pages must not mix into the list.
    assessed = found[0]["as_of"] if found else None
    filters = {"vehicle": wanted.vehicle, "as_of": wanted.as_of, "assessed": assessed}
    page, following = _cut(
        wanted.dataset, filters, found, lambda row: tuple(str(row[key]) for key in keys), cursor, limit
    )
    return _answer([list_row(dataset_of(wanted.dataset), row) for row in page], following, about)


@router.get(
    "/tickets", **_described("list_tickets", "Ticket", "Tickets; first the exported columns.", as_of=True)
)
def list_tickets(
    request: Request,
    vehicle: str = VehicleFilter,
    depot: str = Query("", description="Depot; empty for all."),
    status: list[str] = Query([], description="Statuses wanted; none for all."),
    open_only: bool = Query(False, description="Leave out closed ones."),
    as_of: date | None = AsOf,
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List tickets; as_of gives them as they stood at the end of that day."""
    for one in status:
        choose("status", one, STATUSES)
    shell = shell_of(request)
    filters: dict[str, Any] = {
        "vehicle": vehicle,
        "depot": depot,
        "statuses": tuple(status),
        "open_only": open_only,
    }
    with shell.store.begin(readonly=True) as work:
        about = _about(work, shell, "tickets", as_of)
        if as_of is None:
            kept = work.ticket_page(limit=limit, cursor=cursor, **filters)
            return _answer(kept.rows, kept.cursor, about)
        found = work.tickets(as_of=moment_of(shell, as_of), **filters)
    page, following = _cut(
        "tickets", filters | {"as_of": as_of}, found, lambda row: (row.ticket,), cursor, limit
    )
    return _answer(page, following, about)


@router.get("/work", **_described("list_work", "KeptWork", "Work records, newest done first."))
def list_work(
    request: Request,
    vehicle: str = VehicleFilter,
    kind: str = Query("", description="Kind of work; empty for all."),
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List work records and complaints; for programs that read."""
    choose("kind", kind, ("", *WORK_KINDS))
    with shell_of(request).store.begin(readonly=True) as work:
        page = work.work_page(vehicle=vehicle, kind=kind, limit=limit, cursor=cursor)
    return _answer(page.rows, page.cursor)


@router.get("/risk", **_described("list_risk", "RiskRow", "How each vehicle stands.", as_of=True))
def list_risk(
    request: Request,
    vehicle: str = VehicleFilter,
    as_of: date | None = AsOf,
    limit: int = Limit,
    cursor: str = Cursor,
) -> Response:
    """List every vehicle of the newest evaluation that is not after as_of; silence is a row that says so."""
    shell = shell_of(request)
    wanted = Wanted(dataset="risk", as_of=as_of, vehicle=vehicle)
    with shell.store.begin(readonly=True) as work:
        found = risk_rows(work, wanted, shell.settings.fleet_zone)
        about = about_of(work, wanted, shell.settings.fleet_zone)
    return _answer_rows(wanted, found, ("vehicle",), cursor, limit, about)
