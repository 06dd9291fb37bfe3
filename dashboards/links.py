"""Addresses of pages, in one place, so that a test can hold them against the router."""

from urllib.parse import quote, urlencode

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


def trend_url(vehicle: str, series: str, axis: str = "date") -> str:
    """Address one series of one vehicle; a derived one is named by its formula.

    Examples
    --------
    >>> trend_url("V-0017", "ECT-IAT@koeo_soak")
    '/vehicles/V-0017/trends?parameter=ECT-IAT&state=koeo_soak&axis=date'
    """
    formula, state = split(series)
    query = urlencode({"parameter": formula, "state": state, "axis": axis})
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


def week_url(week: str, reading: str = "as_closed") -> str:
    """Address the report of an ISO week, as closed or as known now.

    Examples
    --------
    >>> week_url("2031-W37", "as_known_now")
    '/week/2031-W37?reading=as_known_now'
    """
    return f"/week/{_part(week)}" + ("" if reading == "as_closed" else f"?reading={reading}")


def list_url(**filters: str) -> str:
    """Address the list of vehicles with filters; empty ones are left out.

    Examples
    --------
    >>> list_url(word="watch", depot="")
    '/vehicles?word=watch'
    """
    kept = {name: text for name, text in filters.items() if text}
    return "/vehicles" + ("?" + urlencode(kept) if kept else "")


def problem_url(code: str) -> str:
    """Address the page that explains a problem type."""
    return f"/problems/{_part(code)}"
