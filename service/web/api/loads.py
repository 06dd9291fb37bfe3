"""POST bulk loads of vehicles, sheets, aliases and work records: the same readers as the command line."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeVar

import msgspec
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from ingest import compression
from ingest.aliases import read_aliases
from ingest.batch import Refusal
from ingest.records import Loaded
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from service.store import Loads, Work
from service.web import described, messages
from service.web.api.snapshots import write_refusal
from service.web.body import SHEET_TYPES, TABLE_TYPES, read_body, read_encoding, read_kind
from service.web.guards import grant_of
from service.web.shell import Shell, shell_of

T = TypeVar("T")
Read = Callable[[bytes, str], Loaded[T]]
Put = Callable[[Work, Sequence[T], datetime, str], Loads]

router = APIRouter(prefix="/api/v1")


def _described(operation: str, scope: str, summary: str, body: dict[str, Any]) -> dict[str, Any]:
    return described.described(
        operation,
        scope=scope,
        summary=summary,
        answer=described.ref("Loaded"),
        codes=(*described.BODY, "body-invalid"),
        body=body,
    )


@router.post(
    "/vehicles",
    **_described(
        "load_vehicles",
        "admin",
        "Register vehicles or bring them up to date.",
        messages.table_body("Vehicle", "vehicles", TABLE_TYPES),
    ),
)
async def load_vehicles(request: Request) -> Response:
    """Register vehicles; for administrators. The same rows again change nothing."""
    return await _load(request, TABLE_TYPES, read_vehicles, _put_vehicles)


@router.post(
    "/specs",
    **_described(
        "load_specs",
        "admin",
        "Put revisions of spec sheets in force.",
        messages.table_body("SpecSheet", "spec_sheets", SHEET_TYPES),
    ),
)
async def load_specs(request: Request) -> Response:
    """Put spec sheets in force; for administrators. A known revision with other content is refused."""
    return await _load(request, SHEET_TYPES, read_sheets, _put_sheets)


@router.post(
    "/aliases",
    **_described(
        "load_aliases",
        "admin",
        "Name parameters as devices and sheets name them.",
        messages.table_body("Alias", "aliases", TABLE_TYPES),
    ),
)
async def load_aliases(request: Request) -> Response:
    """Keep aliases; for administrators. They count from the next snapshot on."""
    return await _load(request, TABLE_TYPES, read_aliases, _put_aliases)


@router.post(
    "/work",
    **_described(
        "load_work",
        "work",
        "Keep work records.",
        messages.table_body("WorkRecord", "work", TABLE_TYPES),
    ),
)
async def load_work(request: Request) -> Response:
    """Keep work records; for workshop programs. The next evaluation moves the tickets they belong to."""
    return await _load(request, TABLE_TYPES, read_work, _put_work)


def _put_vehicles(work: Work, rows: Sequence[Any], now: datetime, who: str) -> Loads:
    return work.put_vehicles(rows, now, who=who)


def _put_sheets(work: Work, rows: Sequence[Any], now: datetime, who: str) -> Loads:
    return work.put_sheets(rows, now, who=who)


def _put_aliases(work: Work, rows: Sequence[Any], now: datetime, who: str) -> Loads:
    return work.put_aliases(rows, now, who=who)


def _put_work(work: Work, rows: Sequence[Any], now: datetime, who: str) -> Loads:
    return work.put_work(rows, now, who=who)


async def _load(request: Request, types: Sequence[str], read: Read[Any], put: Put[Any]) -> Response:
    shell = shell_of(request)
    kind = read_kind(request.headers, types)
    encoding = read_encoding(request.headers)
    packed = await read_body(request, shell.settings.max_body_mb * 1_000_000)
    who = grant_of(request).name
    body = await run_in_threadpool(_keep, shell, who, packed, kind, encoding, read, put)
    return Response(body, media_type="application/json")


def _keep(
    shell: Shell, who: str, packed: bytes, kind: str, encoding: str, read: Read[Any], put: Put[Any]
) -> bytes:
    body = compression.inflate(packed, encoding, limit=shell.settings.max_body_mb * 1_000_000)
    loaded = read(body, kind)
    with shell.store.begin() as work:
        loads = put(work, loaded.rows, shell.clock.now(), who)
        work.commit()
    refused = sorted((*loaded.rejected, *placed(loads.refused, loaded)), key=lambda refusal: refusal.index)
    return msgspec.json.encode(_write_loaded(loads, refused, loaded))


def placed(refusals: Sequence[Refusal], loaded: Loaded[Any]) -> list[Refusal]:
    """Tell the store's refusals by their place in the file: the store has counted only rows that were read.

    Parameters
    ----------
    refusals : sequence of Refusal
        With places among `loaded.rows`.
    loaded : Loaded
        What the reader made of the file.

    Returns
    -------
    list of Refusal
        With places in the file.
    """
    skipped = {refusal.index for refusal in loaded.rejected}
    total = len(loaded.rows) + len(skipped)
    places = [place for place in range(total) if place not in skipped]
    return [replace(one, index=places[one.index]) if one.index >= 0 else one for one in refusals]


def _write_loaded(loads: Loads, refused: Sequence[Refusal], loaded: Loaded[Any]) -> dict[str, Any]:
    return {
        "added": loads.added,
        "changed": loads.changed,
        "same": loads.same,
        "refused": [write_refusal(refusal) for refusal in refused],
        "warnings": [write_refusal(warning) for warning in loaded.warnings],
        "unknown_columns": dict(loaded.unknown_columns),
    }
