"""The exports page, and the files behind its links."""

from dataclasses import replace
from datetime import date
from shlex import quote
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, StreamingResponse

from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from dashboards.exports_page import ExportsView
from service.web.api.exports import send_file
from service.web.errors import BadQuery
from service.web.exports import Wanted, lost_rows
from service.web.guards import AllowToken
from service.web.pages.frames import make_frame, show
from service.web.query import choose
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


@router.get("/exports", dependencies=[Depends(allow("export"))])
def exports_page(  # one argument for each field of the form
    request: Request,
    dataset: str = "tickets",
    form: str = Query("csv", alias="format"),
    as_of: str = "",
    from_text: str = Query("", alias="from"),
    to_text: str = Query("", alias="to"),
    vehicle: str = "",
    depot: str = "",
) -> HTMLResponse:
    """Make a stable link out of a few choices, for the analyst at month-end."""
    choose("dataset", dataset, tuple(DATASETS))
    choose("format", form, tuple(MEDIA_TYPES))
    wanted = Wanted(
        dataset=dataset,
        as_of=read_day("as_of", as_of),
        from_day=read_day("from", from_text),
        to_day=read_day("to", to_text),
        vehicle=vehicle,
        depot=depot,
    )
    with shell_of(request).store.begin(readonly=True) as work:
        days = work.day_range()
        depots = tuple(sorted({one.depot for one in work.vehicles() if one.depot}))
        lost = lost_rows(work, wanted, shell_of(request).settings.fleet_zone)
    view = ExportsView(
        dataset=dataset,
        format=form,
        as_of=wanted.as_of,
        from_day=wanted.from_day,
        to_day=wanted.to_day,
        vehicle=vehicle,
        depot=depot,
        depots=depots,
        rows=None,
        first_data_on=None if days is None else day_date(days[0]),
        lost_rows=lost,
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
    """Write the command that writes the file; it knows dataset, format and as-of."""
    as_of = "" if wanted.as_of is None else f" --as-of {wanted.as_of.isoformat()}"
    name = f"{wanted.dataset}.{form}"
    return f"forelamp export {wanted.dataset} --format {form}{as_of} --out {quote(name)}"


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
