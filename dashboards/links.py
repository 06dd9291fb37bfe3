"""Addresses of pages, in one place, so that a test can hold them against the router."""

from collections.abc import Iterable
from urllib.parse import quote, urlencode

from dashboards.formats import moment
from dashboards.frame import Frame
from dashboards.series import split


def _part(text: str) -> str:
    return quote(text, safe="")


def vehicle_url(vehicle: str) -> str:
    """Address one vehicle's page.

    Examples
    --------
    >>> vehicle_url("A/7")
    '/vehicles/A%2F7'
    """
    return f"/vehicles/{_part(vehicle)}"


def trend_url(vehicle: str, series: str, axis: str = "date", *, live: bool = False) -> str:
    """Address one series of one vehicle; a derived one is named by its formula.

    Examples
    --------
    >>> trend_url("V-0017", "ECT-IAT@koeo_soak")
    '/vehicles/V-0017/trends?parameter=ECT-IAT&state=koeo_soak&axis=date'
    """
    formula, state = split(series)
    query = urlencode(
        {"parameter": formula, "state": state, "axis": axis} | ({"live": "yes"} if live else {})
    )
    return f"{vehicle_url(vehicle)}/trends?{query}"


def readings_url(vehicle: str) -> str:
    """Address the readings of one vehicle as a CSV file."""
    return "/exports/snapshots.csv?" + urlencode({"vehicle": vehicle})


def ticket_url(ticket: str, part: str = "") -> str:
    """Address one ticket, or its `record`, `sheet` or `events` part.

    Examples
    --------
    >>> ticket_url("T-12", "sheet")
    '/work/T-12/sheet'
    """
    return f"/work/{_part(ticket)}" + (f"/{part}" if part else "")


def complaint_url(vehicle: str = "") -> str:
    """Address the form of a driver's complaint, for one vehicle or one still to be chosen.

    Examples
    --------
    >>> complaint_url("A/7")
    '/complaints/new?vehicle=A%2F7'
    """
    return "/complaints/new" + ("?" + urlencode({"vehicle": vehicle}) if vehicle else "")


def raise_url(vehicle: str) -> str:
    """Address the form that raises a ticket by hand.

    Examples
    --------
    >>> raise_url("V-0017")
    '/work/new?vehicle=V-0017'
    """
    return "/work/new?" + urlencode({"vehicle": vehicle})


def work_url(depot: str = "", page: int = 1) -> str:
    """Address a page of the work list, for one depot or all.

    Examples
    --------
    >>> work_url("North", 2)
    '/work?depot=North&page=2'
    """
    kept = [("depot", depot)] if depot else []
    kept += [("page", str(page))] if page > 1 else []
    return "/work" + ("?" + urlencode(kept) if kept else "")


def plan_url(hours: float | None = None, depot: str = "", without: Iterable[str] = ()) -> str:
    """Address the plan of some hours, for one depot or all, without the vehicles left out.

    Examples
    --------
    >>> plan_url(20.0, "North", ["V-1"])
    '/plan?hours=20&depot=North&out=V-1'
    """
    kept = [("hours", f"{hours:g}")] if hours is not None else []
    kept += [("depot", depot)] if depot else []
    kept += [("out", one) for one in without]
    return "/plan" + ("?" + urlencode(kept) if kept else "")


def week_url(week: str, reading: str = "as_closed", depot: str = "") -> str:
    """Address the report of an ISO week, as closed or as known now, of a depot or of all.

    Examples
    --------
    >>> week_url("2031-W37", "as_known_now")
    '/week/2031-W37?reading=as_known_now'
    >>> week_url("2031-W37", depot="Old Mill")
    '/week/2031-W37?depot=Old+Mill'
    """
    chosen = {"reading": "" if reading == "as_closed" else reading, "depot": depot}
    kept = {name: text for name, text in chosen.items() if text}
    return f"/week/{_part(week)}" + ("?" + urlencode(kept) if kept else "")


def money_url(depot: str = "") -> str:
    """Address cost at risk row by row, of a depot or of all."""
    return "/money" + ("?" + urlencode({"depot": depot}) if depot else "")


def list_url(**filters: str) -> str:
    """Address the list of vehicles with filters; empty ones are left out.

    Examples
    --------
    >>> list_url(word="watch", depot="")
    '/vehicles?word=watch'
    """
    kept = {name: text for name, text in filters.items() if text}
    return "/vehicles" + ("?" + urlencode(kept) if kept else "")


def person_url(login: str) -> str:
    """Address one account in the setup."""
    return f"/setup/people/{_part(login)}"


def log_url(**filters: str) -> str:
    """Address the event log with filters; empty ones are left out.

    Examples
    --------
    >>> log_url(who="ann", what="")
    '/log?who=ann'
    """
    kept = {name: text for name, text in filters.items() if text}
    return "/log" + ("?" + urlencode(kept) if kept else "")


def paper_url(frame: Frame) -> str:
    """Address the sheet of styles that writes a page's title and the age of its data at the foot of paper.

    Examples
    --------
    >>> paper_url(Frame(title="Help", nav=()))
    '/paper.css?foot=Help'
    """
    parts = [frame.title]
    if frame.data_up_to is not None:
        parts.append(f"data up to {moment(frame.data_up_to)}")
    if frame.assessed_at is not None:
        parts.append(f"assessed {moment(frame.assessed_at)}")
    if frame.zone and len(parts) > 1:
        parts[-1] += f" ({frame.zone})"
    return "/paper.css?" + urlencode({"foot": ", ".join(parts)})


def problem_url(code: str) -> str:
    """Address the page that explains a problem type."""
    return f"/problems/{_part(code)}"


def setup_vehicle_url(vehicle: str, part: str = "") -> str:
    """Address one vehicle's page in the setup, or its `off-road`, `service` or `erase` part.

    Examples
    --------
    >>> setup_vehicle_url("A/7", "erase")
    '/setup/vehicles/A%2F7/erase'
    """
    return f"/setup/vehicles/{_part(vehicle)}" + (f"/{part}" if part else "")


def setup_sheet_url(sheet: str, revision: int, part: str = "") -> str:
    """Address one revision of a sheet, or its `approve` or `discard` part.

    Examples
    --------
    >>> setup_sheet_url("HARROW-24", 3)
    '/setup/sheets/HARROW-24/3'
    """
    return f"/setup/sheets/{_part(sheet)}/{revision}" + (f"/{part}" if part else "")


def setup_name_url(name: str) -> str:
    """Address the page of names with one name filled in."""
    return "/setup/names?" + urlencode({"name": name})
