"""The exports page, and the files behind its links."""

from dataclasses import replace
from datetime import date
from shlex import quote
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, StreamingResponse

from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from dashboards.exports_page import ExportsView
from service.web.api.exports import send_file
from service.web.errors import BadQuery
from service.web.exports import Wanted, about_of
from service.web.guards import AllowToken
from service.web.pages.frames import make_frame, show
from service.web.query import choose, number_day
from service.web.readers import allow
from service.web.shell import shell_of
from service.web.wire import day_date

router = APIRouter()


def read_day(name: str, text: str) -> date | None:
    """Read a day out of a form's field; empty for none.

    Raises
    ------
    BadQuery
        It is no date.
    """
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as err:
        raise BadQuery(name, text, "a date, YYYY-MM-DD") from err


def read_choices(  # one argument for each field of the form
    dataset: str = "tickets",
    as_of: str = "",
    from_text: str = Query("", alias="from"),
    to_text: str = Query("", alias="to"),
    vehicle: str = "",
    depot: str = "",
) -> Wanted:
    """Read the choices of the page's form."""
    choose("dataset", dataset, tuple(DATASETS))
    return Wanted(
        dataset=dataset,
        as_of=read_day("as_of", as_of),
        from_day=read_day("from", from_text),
        to_day=read_day("to", to_text),
        vehicle=vehicle,
        depot=depot,
    )


def read_form_kind(form: str = Query("csv", alias="format")) -> str:
    """Read the format chosen."""
    return choose("format", form, tuple(MEDIA_TYPES))


@router.get("/exports/file", dependencies=[Depends(allow("export"))])
def chosen_file(
    wanted: Wanted = Depends(read_choices), form: str = Depends(read_form_kind)
) -> RedirectResponse:
    """Lead from the page's form to the stable address of the file that was chosen."""
    return RedirectResponse(link_of(wanted, form), status_code=303)


@router.get("/exports", dependencies=[Depends(allow("export"))])
def exports_page(
    request: Request, wanted: Wanted = Depends(read_choices), form: str = Depends(read_form_kind)
) -> HTMLResponse:
    """Make a stable link out of a few choices, for the analyst at month-end."""
    with shell_of(request).store.begin(readonly=True) as work:
        days = work.day_range()
        depots = tuple(sorted({one.depot for one in work.vehicles() if one.depot}))
        kept = work.trend_day(None if wanted.as_of is None else number_day(wanted.as_of))
        lost = about_of(work, wanted, shell_of(request).settings.fleet_zone).lost_text
    view = ExportsView(
        dataset=wanted.dataset,
        format=form,
        as_of=wanted.as_of,
        from_day=wanted.from_day,
        to_day=wanted.to_day,
        vehicle=wanted.vehicle,
        depot=wanted.depot,
        depots=depots,
        rows=None,
        first_data_on=None if days is None else day_date(days[0]),
        trends_on=day_date(kept) if kept is not None and wanted.dataset == "trends" else None,
        lost=lost,
        link=link_of(wanted, form),
        command=command_of(wanted, form),
    )
    return show(view, make_frame(request, "Exports"))


def link_of(wanted: Wanted, form: str) -> str:
    """Write the stable address of a file; choices that were not made are left out."""
    names = ("as_of", "from_day", "to_day", "vehicle", "depot", "parameter", "state")
    query = urlencode({name: str(getattr(wanted, name)) for name in names if getattr(wanted, name)})
    return f"/exports/{wanted.dataset}.{form}" + (f"?{query}" if query else "")


def command_of(wanted: Wanted, form: str) -> str:
    """Write the command that writes the same file; choices that were not made are left out."""
    options = (
        ("--as-of", wanted.as_of),
        ("--from", wanted.from_day),
        ("--to", wanted.to_day),
        ("--vehicle", wanted.vehicle),
        ("--depot", wanted.depot),
        ("--parameter", wanted.parameter),
        ("--state", wanted.state),
    )
    given = "".join(f" {name} {quote(str(value))}" for name, value in options if value)
    name = f"{wanted.dataset}.{form}"
    return f"forelamp export {wanted.dataset} --format {form}{given} --out {quote(name)}"


def read_filters(
    as_of: date | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
    vehicle: str = "",
    depot: str = "",
    parameter: str = "",
    state: str = "",
) -> Wanted:
    """Read the filters that a link may carry; the dataset is filled in by the route."""
    return Wanted(
        dataset="",
        as_of=as_of,
        from_day=from_day,
        to_day=to_day,
        vehicle=vehicle,
        depot=depot,
        parameter=parameter,
        state=state,
    )


@router.get("/exports/{dataset}.{form}", dependencies=[Depends(AllowToken("export", "read"))])
def export_file(
    request: Request, dataset: str, form: str, filters: Wanted = Depends(read_filters)
) -> StreamingResponse:
    """Give a file to whoever may take files, by sign-in or by a token with the scope `read`."""
    return send_file(request, replace(filters, dataset=dataset), form)
