"""Spec sheets in the setup: bring one as a draft, see what it would change, put it in force."""

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.links import setup_sheet_url
from dashboards.setup.parts import Fault
from dashboards.setup.sheets import (
    Cell,
    Field,
    GapGroup,
    GapRow,
    LimitLine,
    Preview,
    RevisionLine,
    SetupSheetsView,
    SetupSheetView,
    Shift,
)
from ingest.errors import IngestError
from ingest.parameters import PARAMETERS, STATES
from ingest.records import SpecSheet, Vehicle
from ingest.sheets import read_sheets
from models.series import SERIES
from service.store import KeptSheet, NotFound, Work
from service.tickets.words import to_date
from service.web.forms import Form, go, read_form
from service.web.pages.applies import does_not_apply
from service.web.pages.frames import make_frame, show, today_of, zone_of
from service.web.readers import Reader, allow, reader_of
from service.web.shell import shell_of
from service.web.whatif import weigh_draft

router = APIRouter(dependencies=[Depends(allow("sheets"))])
approving = APIRouter(dependencies=[Depends(allow("approve"))])

Revisions = tuple[tuple[SpecSheet, KeptSheet], ...]

SHOWN: Final = 12
"""Vehicles named for each sheet; chosen by us: one line."""


@router.get("/setup/sheets")
def sheets_page(request: Request) -> HTMLResponse:
    """List revisions and gaps, for the integrator."""
    return _show_list(request)


@router.post("/setup/sheets")
def bring_sheet(request: Request, form: Form = Depends(read_form)) -> Response:
    """Check a sheet and keep it as a draft."""
    sent, text = form.file("file"), form.get("text")
    body = sent.content if sent is not None else text.encode()
    if not body.strip():
        return _show_list(request, [Fault(field="text", text="Choose a file, or paste a sheet.")])
    kind = "json" if body.lstrip().startswith((b"{", b"[{", b"[\n", b"[ ", b"[]")) else "toml"
    try:
        loaded = read_sheets(body, kind)
    except IngestError as err:
        return _show_list(request, [Fault(field="text", text=str(err))], text)
    faults = [
        Fault(field="text", text=f"{f'{one.field}: ' if one.field else ''}{one.detail}")
        for one in loaded.rejected
    ]
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    with shell.store.begin() as work:
        loads = work.put_sheets(loaded.rows, now, who=who, draft=True)
        faults += [Fault(field="text", text=one.detail) for one in loads.refused]
        if not faults:
            for row in loaded.rows if loads.added else ():
                name = f"{row.sheet} revision {row.revision}"
                work.log_event(at=now, who=who, what="draft sheet", subject=name, after=row.source)
            work.commit()
    if faults:
        return _show_list(request, faults, text or body.decode("utf-8", "replace"))
    saved = "draft_kept" if loads.added else "draft_same"
    if len(loaded.rows) != 1:
        return go("/setup/sheets", saved=saved)
    return go(setup_sheet_url(loaded.rows[0].sheet, loaded.rows[0].revision), saved=saved)


@router.get("/setup/sheets/{sheet}/{revision}")
def sheet_page(request: Request, sheet: str, revision: int) -> HTMLResponse:
    """Show one revision and what it would change, for the integrator."""
    return _show_one(request, sheet, revision)


@approving.post("/setup/sheets/{sheet}/{revision}/approve")
def approve_sheet(request: Request, sheet: str, revision: int, form: Form = Depends(read_form)) -> Response:
    """Put a draft in force from a day on: a second person, unless a setting lets one do both."""
    shell, reader = shell_of(request), reader_of(request)
    try:
        since = date.fromisoformat(form.get("since"))
    except ValueError:
        fault = Fault(field="since", text="Say from which day on, as YYYY-MM-DD.")
        return _show_one(request, sheet, revision, [fault])
    now = shell.clock.now()
    with shell.store.begin() as work:
        _, kept = _find(work.sheet_revisions(sheet), sheet, revision)
        hindrance = why_not(kept, reader, alone=shell.settings.one_person_sheets)
        if not hindrance:
            work.enforce_sheet(sheet, revision, in_force_from=since, now=now, who=reader.login)
            text = f"in force from {since}, brought by {kept.put_by}"
            name = f"{sheet} revision {revision}"
            work.log_event(at=now, who=reader.login, what="sheet in force", subject=name, after=text)
            work.commit()
    if hindrance:
        return _show_one(request, sheet, revision, [Fault(field="", text=hindrance)])
    return go(setup_sheet_url(sheet, revision), saved="sheet_in_force")


@router.post("/setup/sheets/{sheet}/{revision}/discard")
def discard_draft(
    request: Request,
    sheet: str,
    revision: int,
    form: Form = Depends(read_form),  # noqa: ARG001 (checked for its token)
) -> Response:
    """Take a draft out; what was in force stays."""
    shell, who = shell_of(request), reader_of(request).login
    with shell.store.begin() as work:
        work.drop_draft(sheet, revision)
        name = f"{sheet} revision {revision}"
        work.log_event(at=shell.clock.now(), who=who, what="draft discarded", subject=name)
        work.commit()
    return go("/setup/sheets", saved="draft_discarded")


def why_not(kept: KeptSheet, reader: Reader, *, alone: bool) -> str:
    """Say why somebody may not put a revision in force; empty where they may.

    Parameters
    ----------
    kept : KeptSheet
        Its standing.
    reader : Reader
        Who wants to.
    alone : bool
        Whether the fleet lets one person write a sheet and put it in force.
    """
    if kept.standing != "draft":
        return "It is in force already; a change is the next revision."
    if kept.put_by == reader.login and not alone:
        return (
            f"{kept.put_by} brought this sheet: a second person looks at it and puts it in force. "
            "A fleet with one person for both sets FORELAMP_ONE_PERSON_SHEETS."
        )
    return ""


def _find(revisions: Revisions, sheet: str, revision: int) -> tuple[SpecSheet, KeptSheet]:
    for body, kept in revisions:
        if kept.revision == revision:
            return body, kept
    raise NotFound("spec sheet", f"{sheet} revision {revision}")


def standing_of(kept: KeptSheet, own: Iterable[KeptSheet], today: date) -> str:
    """Tell how a revision stands among all of its sheet: draft, later, in_force or superseded."""
    if kept.standing == "draft":
        return "draft"
    if kept.in_force_from is not None and kept.in_force_from > today:
        return "later"
    newest = max(
        one.revision
        for one in own
        if one.standing == "in_force" and (one.in_force_from is None or one.in_force_from <= today)
    )
    return "in_force" if kept.revision == newest else "superseded"


def _is_alone(kept: KeptSheet) -> bool:
    # Loaded from the shell or through the API it counts for the whole history, and nobody approved a draft.
    return kept.standing != "draft" and kept.in_force_from is not None and kept.put_by == kept.approved_by


def _show_list(request: Request, faults: Iterable[Fault] = (), text: str = "") -> HTMLResponse:
    shell = shell_of(request)
    today = today_of(shell)
    with shell.store.begin(readonly=True) as work:
        revisions = work.sheet_revisions()
        vehicles = work.vehicles()
    errors = tuple(faults)
    rows, missing = gap_table(_in_force(revisions, today), vehicles)
    using = Counter(one.spec_sheet for one in vehicles)
    view = SetupSheetsView(
        revisions=tuple(
            _line(body, kept, revisions, today, using[kept.sheet])
            for body, kept in sorted(revisions, key=lambda one: (one[1].sheet, -one[1].revision))
        ),
        states=STATES,
        gaps=rows,
        missing=missing,
        text=text,
        errors=errors,
    )
    return show(view, make_frame(request, "Spec sheets"), 422 if errors else 200)


def _line(body: SpecSheet, kept: KeptSheet, revisions: Revisions, today: date, vehicles: int) -> RevisionLine:
    own = [one for _, one in revisions if one.sheet == kept.sheet]
    return RevisionLine(
        sheet=kept.sheet,
        revision=kept.revision,
        source=body.source,
        standing=standing_of(kept, own, today),
        since=kept.in_force_from,
        put_by=kept.put_by,
        approved_by=kept.approved_by,
        alone=_is_alone(kept),
        limits=len(body.limits),
        vehicles=vehicles,
    )


def _in_force(revisions: Revisions, today: date) -> dict[str, SpecSheet]:
    found = {}
    for body, kept in revisions:
        own = [one for _, one in revisions if one.sheet == kept.sheet]
        if standing_of(kept, own, today) == "in_force":
            found[kept.sheet] = body
    return found


def gap_table(
    sheets: Mapping[str, SpecSheet], vehicles: Iterable[Vehicle]
) -> tuple[tuple[GapGroup, ...], int]:
    """Say for each sheet and followed parameter which states have a limit, and count gaps over all vehicles.

    Parameters
    ----------
    sheets : mapping of str to SpecSheet
        In force, by name.
    vehicles : iterable of Vehicle
        Those without a sheet on file are one group.

    Returns
    -------
    tuple of (tuple of GapGroup, int)
        What does not apply is no gap.
    """
    groups: dict[str, list[str]] = {}
    for one in vehicles:
        groups.setdefault(one.spec_sheet if one.spec_sheet in sheets else "", []).append(one.vehicle)
    found = []
    for name, members in sorted(groups.items()):
        rows = tuple(
            GapRow(
                parameter=parameter,
                cells=tuple(_cell(sheets.get(name), parameter, state) for state in STATES),
            )
            for parameter in _FOLLOWED
        )
        found.append(
            GapGroup(
                sheet=name,
                vehicles=tuple(members[:SHOWN]),
                total=len(members),
                missing=sum(row.cells.count("gap") for row in rows),
                rows=rows,
            )
        )
    return tuple(found), sum(one.missing * one.total for one in found)


_FOLLOWED: Final = tuple(dict.fromkeys(one.parameter for one in SERIES if one.limited))
_JUDGED: Final = frozenset((one.parameter, state) for one in SERIES if one.limited for state in one.states)


def _cell(sheet: SpecSheet | None, parameter: str, state: str) -> Cell:
    if (parameter, state) not in _JUDGED:
        return "none"
    if sheet is None:
        return "gap"
    if any((limit.parameter, limit.state) == (parameter, state) for limit in sheet.limits):
        return "given"
    if parameter in does_not_apply(sheet):
        return "none"
    return "gap"


def _show_one(request: Request, sheet: str, revision: int, faults: Iterable[Fault] = ()) -> HTMLResponse:
    shell, reader = shell_of(request), reader_of(request)
    today = today_of(shell)
    errors = tuple(faults)
    with shell.store.begin(readonly=True) as work:
        revisions = work.sheet_revisions(sheet)
        body, kept = _find(revisions, sheet, revision)
        now = _in_force(revisions, today).get(sheet)
        preview = _preview(work, body, now) if kept.standing == "draft" else None
    hindrance = why_not(kept, reader, alone=shell.settings.one_person_sheets)
    view = SetupSheetView(
        sheet=sheet,
        revision=revision,
        source=body.source,
        standing=standing_of(kept, [one for _, one in revisions], today),
        since=kept.in_force_from,
        put_by=kept.put_by,
        put_at=kept.put_at.astimezone(zone_of(shell)),
        approved_by=kept.approved_by,
        alone=_is_alone(kept),
        fields=_fields(body),
        limits=_limits(body, now),
        dropped=_limits(now, body, only_missing=True) if now is not None else (),
        preview=preview,
        may_approve=not hindrance,
        hindrance=hindrance,
        today=today.isoformat(),
        errors=errors,
    )
    return show(view, make_frame(request, f"{sheet} revision {revision}"), 422 if errors else 200)


def _preview(work: Work, draft: SpecSheet, now: SpecSheet | None) -> Preview | None:
    found = weigh_draft(work, draft, now)
    if found is None:
        return None
    day, moves = found
    outside = {one.vehicle for one in moves if one.after}
    return Preview(
        as_of=to_date(day),
        outside=len(outside),
        inside=len({one.vehicle for one in moves} - outside),
        shifts=tuple(
            Shift(
                vehicle=one.vehicle,
                series=one.series,
                value=one.value,
                unit=one.unit,
                low=one.low,
                high=one.high,
                outside=bool(one.after),
            )
            for one in moves
        ),
        soak_changed=now is not None and now.soak_hours != draft.soak_hours,
    )


def _limits(
    body: SpecSheet, beside: SpecSheet | None, *, only_missing: bool = False
) -> tuple[LimitLine, ...]:
    known = {} if beside is None else {(one.parameter, one.state): one for one in beside.limits}
    lines = []
    for one in body.limits:
        other = known.get((one.parameter, one.state))
        if only_missing and other is not None:
            continue
        lines.append(
            LimitLine(
                parameter=one.parameter,
                state=one.state,
                low=one.low,
                high=one.high,
                unit=PARAMETERS[one.parameter].unit,
                low_now=None if other is None else other.low,
                high_now=None if other is None else other.high,
                changed=other is None or (other.low, other.high) != (one.low, one.high),
            )
        )
    return tuple(lines)


_NAMES: Final = {
    "fuel": "Fuel",
    "displacement_l": "Displacement [l]",
    "cylinders": "Cylinders",
    "banks": "Banks",
    "air_metering": "Air metering",
    "idle_control": "Idle control",
    "charging": "Charging",
    "soak_hours": "Soak [h]",
    "soak_gap_degc": "Coolant and intake air may differ after it [°C]",
}


def _fields(body: SpecSheet) -> tuple[Field, ...]:
    found = []
    for name, text in _NAMES.items():
        value = getattr(body, name)
        said = "the sheet does not say" if value is None else str(value).replace("_", " ")
        found.append(Field(name=text, text=said))
    found += [Field(name=f"Name {name}", text=code) for name, code in sorted(body.aliases.items())]
    found += [Field(name=name, text=str(value)) for name, value in sorted(body.further.items())]
    return tuple(found)
