"""Names that nobody knows: map one, and stored snapshots are read again; or ignore it."""

from collections.abc import Iterable
from typing import Final, Literal, cast

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.setup.names import AliasLine, SetupNamesView, Typed
from dashboards.setup.parts import Again, Fault
from ingest.aliases import SCOPES, check_alias, is_vacuum, split_unit
from ingest.errors import BadAlias
from ingest.parameters import PARAMETERS
from ingest.records import Alias
from ingest.units import UNITS
from service.web.forms import Form, go, read_form
from service.web.loading import REREAD_AT_ONCE
from service.web.pages.frames import make_frame, show, zone_of
from service.web.pages.tray import waiting_names
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("names"))])


@router.get("/setup/names")
def names_page(request: Request, name: str = "") -> HTMLResponse:
    """List names that wait, for the integrator; one of them may be filled in."""
    base, unit = split_unit(name)
    known = unit in UNITS
    return _show(request, Typed(name=base if known else name, unit=unit if known else ""))


@router.post("/setup/names")
def map_name(request: Request, form: Form = Depends(read_form)) -> Response:
    """Give a name a meaning and read stored snapshots again."""
    typed = Typed(
        name=form.get("name"),
        scope=form.get("scope", "fleet"),
        scope_id=form.get("scope_id"),
        parameter=form.get("parameter"),
        unit=form.get("unit"),
    )
    if typed.scope not in SCOPES:
        return _show(request, typed, [Fault(field="scope", text=f"One of {', '.join(SCOPES)}.")])
    alias = Alias(
        scope=cast(Literal["device", "sheet", "fleet"], typed.scope),
        scope_id=typed.scope_id,
        name=typed.name,
        parameter=typed.parameter,
        unit=typed.unit,
    )
    try:
        check_alias(alias)
    except BadAlias as err:
        return _show(request, typed, [Fault(field=_FIELD_OF.get(err.code, "name"), text=str(err))])
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    with shell.store.begin() as work:
        earlier = _meaning_of(work.aliases(), alias)
        loads = work.put_aliases([alias], now, who=who)
        if loads.refused:
            return _show(request, typed, [Fault(field=one.field, text=one.detail) for one in loads.refused])
        work.heed_name(alias.name)
        if not loads.same:
            text = f"{alias.parameter} {alias.unit} for {alias.scope} {alias.scope_id}".strip()
            work.log_event(at=now, who=who, what="name mapped", subject=alias.name, after=text)
        work.commit()
    shell.store.reread_all(now, most=REREAD_AT_ONCE)
    changed = earlier is not None and earlier != (alias.parameter, alias.unit)
    return go("/setup/names", saved="name_changed" if changed else "name_mapped")


def _meaning_of(known: Iterable[Alias], alias: Alias) -> tuple[str, str] | None:
    """Give what a name has meant so far in the same scope; None for a new one."""
    own = (alias.scope, alias.scope_id, alias.name)
    return next(
        ((one.parameter, one.unit) for one in known if (one.scope, one.scope_id, one.name) == own), None
    )


@router.post("/setup/names/ignore")
def ignore_name(request: Request, form: Form = Depends(read_form)) -> Response:
    """List a name no more; its values stay kept."""
    return _choose(request, form.get("name"), ignore=True)


@router.post("/setup/names/heed")
def heed_name(request: Request, form: Form = Depends(read_form)) -> Response:
    """List an ignored name again."""
    return _choose(request, form.get("name"), ignore=False)


_FIELD_OF: Final = {
    "alias-scope": "scope_id",
    "unknown-parameter": "parameter",
    "alias-not-absolute": "parameter",
    "unknown-unit": "unit",
    "wrong-unit": "unit",
}


def _choose(request: Request, name: str, *, ignore: bool) -> Response:
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    with shell.store.begin() as work:
        if ignore:
            work.ignore_name(name, now, who=who)
        else:
            work.heed_name(name)
        what = "name ignored" if ignore else "name listed again"
        work.log_event(at=now, who=who, what=what, subject=name)
        work.commit()
    return go("/setup/names", saved="name_ignored" if ignore else "name_heeded")


def _show(request: Request, typed: Typed, faults: Iterable[Fault] = ()) -> HTMLResponse:
    shell = shell_of(request)
    errors = tuple(faults)
    with shell.store.begin(readonly=True) as work:
        last = work.last_reread()
        again = None
        if last is not None:
            done = last.finished_at
            again = Again(
                seen=last.seen,
                changed=last.changed,
                unconverted=last.unconverted,
                total=last.seen if done else work.extras_count(),
                finished_at=None if done is None else done.astimezone(zone_of(shell)),
            )
        view = SetupNamesView(
            unknown=waiting_names(work),
            ignored=tuple(sorted(work.ignored_names())),
            aliases=tuple(
                AliasLine(
                    scope=one.scope,
                    scope_id=one.scope_id,
                    name=one.name,
                    parameter=one.parameter,
                    unit=one.unit,
                    vacuum=is_vacuum(one.name, one.parameter),
                )
                for one in work.aliases()
            ),
            parameters=tuple(PARAMETERS),
            units=tuple(UNITS),
            again=again,
            typed=typed,
            errors=errors,
        )
    return show(view, make_frame(request, "Names of parameters"), 422 if errors else 200)
