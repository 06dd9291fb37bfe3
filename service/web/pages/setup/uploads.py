"""Files through a page: a look at what one would do, then the loading, then what was refused as a file."""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import PurePath
from typing import Final, Literal

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.setup.parts import Fault
from dashboards.setup.uploads import RefusedRow, Tally, UploadView
from dashboards.words import KINDS as KIND_WORDS
from dashboards.words import LOADED, say
from ingest import compression
from ingest.batch import Refusal
from ingest.errors import IngestError
from ingest.mending import write_mendable
from ingest.records import SpecSheet
from service.settings import Settings
from service.store import Loads, Upload, Work
from service.web.forms import Form, SentFile, read_form
from service.web.loading import (
    REREAD_AT_ONCE,
    Kind,
    Outcome,
    kind_for,
    load_rows,
    load_snapshots,
    try_rows,
    try_snapshots,
)
from service.web.pages.frames import make_frame, show
from service.web.readers import allow, reader_of
from service.web.shell import Shell, shell_of

router = APIRouter(dependencies=[Depends(allow("vehicles"))])

SHOWN: Final = 50
"""Refused rows shown on the page; all of them are in the file to mend; chosen by us."""

FORMATS: Final = {
    ".csv": "csv", ".json": "json", ".ndjson": "ndjson", ".jsonl": "ndjson", ".parquet": "parquet",
    ".toml": "toml",
}  # fmt: skip
PACKINGS: Final = {".gz": "gzip", ".zst": "zstd"}


def _as_drafts(work: Work, rows: Sequence[SpecSheet], now: datetime, /, *, who: str) -> Loads:
    return work.put_sheets(rows, now, who=who, draft=True)


def _kind(name: str, settings: Settings) -> Kind:
    """Give a kind as pages load it: sheets start as drafts."""
    kind = kind_for(name, settings)
    if name != "specs":
        return kind
    return Kind(read=kind.read, put=_as_drafts, columns=kind.columns)


@router.get("/setup/load")
def load_page(request: Request, kind: str = "") -> HTMLResponse:
    """Let the integrator choose a file."""
    return _show(request, kind=kind)


@router.post("/setup/load")
def look_at_file(request: Request, form: Form = Depends(read_form)) -> HTMLResponse:
    """Say what a file would do, and keep nothing of it but the file itself, for a day."""
    kind, sent = form.get("kind"), form.file("file")
    if kind not in KIND_WORDS:
        return _show(request, faults=[Fault(field="kind", text="Say what the file holds.")])
    if sent is None or not sent.content:
        return _show(
            request, kind=kind, faults=[Fault(field="file", text="Choose a file that is not empty.")]
        )
    shell = shell_of(request)
    try:
        how, body = _unpacked(shell, sent)
        outcome = _run(shell, kind, how, body, who=reader_of(request).login, source=sent.name, keep=False)
    except IngestError as err:
        return _show(request, kind=kind, faults=[Fault(field="file", text=str(err))])
    with shell.store.begin() as work:
        number = work.put_upload(
            kind, how, sent.name, body, now=shell.clock.now(), who=reader_of(request).login
        )
        work.commit()
    return _show(request, step="look", kind=kind, number=number, file=sent.name, outcome=outcome)


@router.post("/setup/load/{number}")
def load_file(request: Request, number: int, form: Form = Depends(read_form)) -> HTMLResponse:  # noqa: ARG001 (checked for its token)
    """Load a file that was looked at."""
    shell, who = shell_of(request), reader_of(request).login
    waiting = _waiting(shell, number)
    now = shell.clock.now()
    outcome = _run(shell, waiting.kind, waiting.format, waiting.body, who=who, source=waiting.file, keep=True)
    with shell.store.begin() as work:
        work.note_loaded(number, now)
        counts = ", ".join(f"{count} {say(LOADED, name)}" for name, count in outcome.counts.items() if count)
        subject = f"{say(KIND_WORDS, waiting.kind)}: {waiting.file}"
        work.log_event(at=now, who=who, what="file loaded", subject=subject, after=counts)
        work.commit()
    shell.store.reread_all(now, most=REREAD_AT_ONCE)
    return _show(request, step="done", kind=waiting.kind, number=number, file=waiting.file, outcome=outcome)


@router.get("/setup/load/{number}/refused.csv")
def refused_file(request: Request, number: int) -> Response:
    """Give what a file's look refuses, to mend and send again."""
    shell = shell_of(request)
    waiting = _waiting(shell, number)
    outcome = _run(
        shell, waiting.kind, waiting.format, waiting.body, who=waiting.put_by, source="", keep=False
    )
    name = f"refused-{waiting.kind}-{number}.csv"
    return Response(
        write_mendable(outcome.refused),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


def _waiting(shell: Shell, number: int) -> Upload:
    with shell.store.begin(readonly=True) as work:
        return work.upload(number)


def _unpacked(shell: Shell, sent: SentFile) -> tuple[str, bytes]:
    """Tell a file's format by its name, and unpack it."""
    endings = [ending.lower() for ending in PurePath(sent.name).suffixes]
    packing = PACKINGS.get(endings[-1], "") if endings else ""
    named = endings[-2:-1] if packing else endings[-1:]
    how = FORMATS.get(named[0], "") if named else ""
    limit = shell.settings.max_body_mb * 1_000_000
    return how or "csv", compression.inflate(sent.content, packing or "identity", limit=limit)


def _run(shell: Shell, kind: str, how: str, body: bytes, *, who: str, source: str, keep: bool) -> Outcome:
    now = shell.clock.now()
    if kind == "snapshots":
        snapshots: Callable[..., Outcome] = load_snapshots if keep else try_snapshots
        return snapshots(shell.store, body, how, now=now, source=source or who)
    rows: Callable[..., Outcome] = load_rows if keep else try_rows
    return rows(shell.store, _kind(kind, shell.settings), body, how, now=now, who=who)


def _show(
    request: Request,
    *,
    step: Literal["choose", "look", "done"] = "choose",
    kind: str = "",
    number: int = 0,
    file: str = "",
    outcome: Outcome | None = None,
    faults: Iterable[Fault] = (),
) -> HTMLResponse:
    done = outcome or Outcome(counts={}, unknown={})
    errors = tuple(faults)
    view = UploadView(
        step=step,
        kind=kind,
        number=number,
        file=file,
        tallies=tuple(Tally(code=code, count=count) for code, count in done.counts.items()),
        refused=_rows(done.refused),
        refused_total=len(done.refused),
        warnings=_rows(done.warnings),
        unknown=tuple(done.unknown),
        left_out=done.personal_fields,
        errors=errors,
    )
    return show(view, make_frame(request, "Load a file"), 422 if errors else 200)


def _rows(refused: Iterable[Refusal]) -> tuple[RefusedRow, ...]:
    return tuple(
        RefusedRow(row=one.index + 1, code=one.code, field=one.field, detail=one.detail)
        for one in list(refused)[:SHOWN]
    )
