"""POST bulk loads of vehicles, sheets, aliases and work records: the same readers as the command line."""

from collections.abc import Sequence
from typing import Any

import msgspec
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from ingest import compression
from service.web import described, messages
from service.web.api.snapshots import write_refusal
from service.web.body import SHEET_TYPES, TABLE_TYPES, read_body, read_encoding, read_kind
from service.web.guards import grant_of
from service.web.loading import REREAD_AT_ONCE, kind_for, load_rows
from service.web.shell import Shell, shell_of

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
    return await _load(request, TABLE_TYPES, "vehicles")


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
    return await _load(request, SHEET_TYPES, "specs")


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
    """Keep aliases; for administrators. What was stored before is read again under them."""
    return await _load(request, TABLE_TYPES, "aliases")


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
    return await _load(request, TABLE_TYPES, "work")


async def _load(request: Request, types: Sequence[str], name: str) -> Response:
    shell = shell_of(request)
    kind = read_kind(request.headers, types)
    encoding = read_encoding(request.headers)
    packed = await read_body(request, shell.settings.max_body_mb * 1_000_000)
    who = grant_of(request).name
    body = await run_in_threadpool(_keep, shell, who, packed, kind, encoding, name)
    return Response(body, media_type="application/json")


def _keep(shell: Shell, who: str, packed: bytes, kind: str, encoding: str, name: str) -> bytes:
    body = compression.inflate(packed, encoding, limit=shell.settings.max_body_mb * 1_000_000)
    now = shell.clock.now()
    outcome = load_rows(shell.store, kind_for(name, shell.settings), body, kind, now=now, who=who)
    shell.store.reread_all(now, most=REREAD_AT_ONCE)
    written = {
        "refused": [write_refusal(refusal) for refusal in outcome.refused],
        "warnings": [write_refusal(warning) for warning in outcome.warnings],
        "unknown_columns": outcome.unknown,
    }
    return msgspec.json.encode({**outcome.counts, **written})
