"""The page of the cost table: as it stands, its revisions, and new figures, looked at before they count."""

import csv
import io
from collections.abc import Iterable
from dataclasses import asdict
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.costs_page import CostCells, CostRefused, CostsView, CostTrial, RevisionLine
from dashboards.exports.csv_file import guarded
from ingest.batch import Refusal
from ingest.costs import COLUMN_ORDER
from ingest.errors import IngestError
from service.schedule.knowledge import fleet_costs
from service.store import Cost
from service.tickets.costs import CostTable, starting_costs
from service.web.errors import NotFound
from service.web.forms import Form, go, read_form
from service.web.loading import KINDS, Outcome, load_rows, try_rows
from service.web.pages.frames import make_frame, show, zone_of
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("costs"))])

ADDRESS: Final = "/setup/costs"


@router.get("/setup/costs")
def costs_page(request: Request) -> HTMLResponse:
    """Show whoever keeps the prices what each cause costs."""
    return _show(request)


@router.get("/setup/costs.csv")
def costs_file(request: Request) -> Response:
    """Give the table as a file that can be changed and brought back."""
    with shell_of(request).store.begin(readonly=True) as work:
        rows = work.costs()
    table = fleet_costs(rows, starting_costs()) or starting_costs()
    out = io.StringIO()
    written = csv.DictWriter(out, COLUMN_ORDER, extrasaction="ignore")
    written.writeheader()
    for one in cells(table, rows):
        written.writerow({**asdict(one), "currency": table.currency, "source": guarded(one.source)})
    headers = {"content-disposition": 'attachment; filename="forelamp-costs.csv"'}
    return Response(out.getvalue(), media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/setup/costs")
def look_at_costs(request: Request, form: Form = Depends(read_form)) -> HTMLResponse:
    """Say what new figures would do, and keep nothing of them but the file itself, for a day."""
    sent, pasted = form.file("file"), form.get("text")
    body = sent.content if sent is not None else pasted.encode()
    name = sent.name if sent is not None else "pasted"
    how = "json" if name.endswith(".json") or body.lstrip()[:1] in (b"{", b"[") else "csv"
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    try:
        outcome = try_rows(shell.store, KINDS["costs"], body, how, now=now, who=who)
    except IngestError as err:
        refused = Refusal(index=-1, code=err.code, detail=str(err))
        return _show(
            request, trial=_trial(0, Outcome(counts={}, refused=(refused,), unknown={})), pasted=pasted
        )
    number = 0
    if outcome.counts["added"] + outcome.counts["changed"]:
        with shell.store.begin() as work:
            number = work.put_upload("costs", how, name, body, now=now, who=who)
            work.commit()
    return _show(request, trial=_trial(number, outcome), pasted=pasted)


@router.post("/setup/costs/{number}")
def put_costs(request: Request, number: int, form: Form = Depends(read_form)) -> Response:  # noqa: ARG001 (checked for its token)
    """Put new figures that were looked at into force."""
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    with shell.store.begin(readonly=True) as work:
        waiting = work.upload(number)
    if waiting.kind != "costs":
        raise NotFound("waiting file", str(number))
    outcome = load_rows(shell.store, KINDS["costs"], waiting.body, waiting.format, now=now, who=who)
    with shell.store.begin() as work:
        work.note_loaded(number, now)
        counts = ", ".join(f"{count} {name}" for name, count in outcome.counts.items() if count)
        work.log_event(at=now, who=who, what="costs changed", subject="cost table", after=counts)
        work.commit()
    return go(ADDRESS, saved="costs")


def _show(request: Request, *, trial: CostTrial | None = None, pasted: str = "") -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        rows = work.costs()
        revisions = work.cost_revisions()
    table = fleet_costs(rows, starting_costs()) or starting_costs()
    zone = zone_of(shell)
    view = CostsView(
        step="see" if trial is None else "look",
        currency=table.currency,
        revision=table.revision if rows else 0,
        lines=cells(table, rows),
        made_up=len(table.made_up),
        revisions=tuple(
            RevisionLine(
                revision=one.revision,
                causes=one.causes,
                put_by=one.put_by,
                put_at=one.put_at.astimezone(zone),
                source=one.source,
            )
            for one in revisions
        ),
        trial=trial,
        columns=COLUMN_ORDER,
        pasted="" if trial is not None and trial.number else pasted,
    )
    failed = trial is not None and not trial.number
    return show(view, make_frame(request, "Cost table"), 422 if failed else 200)


def cells(table: CostTable, rows: Iterable[Cost]) -> tuple[CostCells, ...]:
    """Write every cause's line: the fleet's own, else ours, which is made up."""
    own = {one.cause: one for one in rows}
    found = []
    for cause, line in table.causes.items():
        kept = own.get(cause)
        found.append(
            CostCells(
                cause=cause,
                own=kept is not None,
                planned_hours=line.planned_hours,
                unplanned_hours=line.unplanned_hours,
                planned_parts=line.planned_parts,
                unplanned_parts=line.unplanned_parts,
                downtime=line.downtime,
                labour_rate=table.hour(cause),
                look_cost=table.look([(cause, 1.0)]),
                planned=table.planned_cost(cause),
                unplanned=table.unplanned_cost(cause),
                price_date=table.price_date if kept is None else kept.price_date,
                revision=0 if kept is None else kept.revision,
                source=starting_costs().source if kept is None else kept.source,
            )
        )
    return tuple(found)


def _trial(number: int, outcome: Outcome) -> CostTrial:
    return CostTrial(
        number=number,
        added=outcome.counts.get("added", 0),
        changed=outcome.counts.get("changed", 0),
        same=outcome.counts.get("same", 0),
        refused=tuple(
            CostRefused(row=one.index + 1, column=one.field, code=one.code, detail=one.detail)
            for one in outcome.refused
        ),
        unknown=tuple(outcome.unknown),
    )
