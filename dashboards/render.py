"""View and frame in, page out: the one place that knows which template belongs to which view."""

from collections.abc import Mapping
from functools import cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined

from dashboards import (
    assets,
    chart_svg,
    figures,
    fleet_svg,
    formats,
    links,
    money_figures,
    sentences,
    series,
    words,
)
from dashboards.account import AccountView
from dashboards.again import AgainView
from dashboards.api_docs import ApiDocsView
from dashboards.budget_page import BudgetView
from dashboards.costs_page import CostsView
from dashboards.coverage import CoverageView
from dashboards.dictionary import DictionaryView
from dashboards.exports_page import ExportsView
from dashboards.finding import FindingView
from dashboards.frame import Frame
from dashboards.help import HelpView
from dashboards.jobs import JobsView
from dashboards.log import LogView
from dashboards.money import MoneyView
from dashboards.people import PeopleView, PersonView
from dashboards.plan import PlanView
from dashboards.problem import ProblemView
from dashboards.reporting import ComplaintView, RaiseView
from dashboards.setup.devices import SetupDevicesView
from dashboards.setup.home import SetupView
from dashboards.setup.names import SetupNamesView
from dashboards.setup.retention import SetupRetentionView
from dashboards.setup.sheets import SetupSheetsView, SetupSheetView
from dashboards.setup.uploads import UploadView
from dashboards.setup.vehicles import SetupVehiclesView, SetupVehicleView
from dashboards.sign_in import AwayView, SignInView
from dashboards.ticket import JobSheetView, TicketView
from dashboards.track import TrackView
from dashboards.vehicle import VehicleView
from dashboards.vehicles import VehiclesView
from dashboards.week import WeekView
from dashboards.work import WorkView

View = (
    WeekView
    | VehiclesView
    | VehicleView
    | WorkView
    | TicketView
    | JobSheetView
    | CoverageView
    | ExportsView
    | DictionaryView
    | HelpView
    | ProblemView
    | JobsView
    | SetupView
    | SetupVehiclesView
    | SetupVehicleView
    | SetupSheetsView
    | SetupSheetView
    | SetupNamesView
    | SetupDevicesView
    | SetupRetentionView
    | UploadView
    | AgainView
    | MoneyView
    | BudgetView
    | TrackView
    | CostsView
    | FindingView
    | ComplaintView
    | RaiseView
    | PlanView
    | ApiDocsView
    | SignInView
    | AwayView
    | AccountView
    | PeopleView
    | PersonView
    | LogView
)

TEMPLATES: Final[Mapping[type, str]] = {
    WeekView: "week.html",
    VehiclesView: "vehicles.html",
    VehicleView: "vehicle.html",
    WorkView: "work.html",
    TicketView: "ticket.html",
    JobSheetView: "sheet.html",
    CoverageView: "coverage.html",
    ExportsView: "exports.html",
    DictionaryView: "dictionary.html",
    HelpView: "help.html",
    ProblemView: "problem.html",
    JobsView: "jobs.html",
    SetupView: "setup/home.html",
    SetupVehiclesView: "setup/vehicles.html",
    SetupVehicleView: "setup/vehicle.html",
    SetupSheetsView: "setup/sheets.html",
    SetupSheetView: "setup/sheet.html",
    SetupNamesView: "setup/names.html",
    SetupDevicesView: "setup/devices.html",
    SetupRetentionView: "setup/retention.html",
    UploadView: "setup/upload.html",
    AgainView: "again.html",
    MoneyView: "money.html",
    BudgetView: "budget.html",
    TrackView: "track.html",
    CostsView: "costs.html",
    FindingView: "finding.html",
    ComplaintView: "complaint.html",
    RaiseView: "raise.html",
    PlanView: "plan.html",
    ApiDocsView: "api_docs.html",
    SignInView: "sign_in.html",
    AwayView: "away.html",
    AccountView: "account.html",
    PeopleView: "people.html",
    PersonView: "person.html",
    LogView: "log.html",
}
"""Template of each view. In a template the view is `view` and the frame is `frame`; nothing else comes in."""


@cache
def environment() -> Environment:
    """Build the template environment: escaped output, unknown names are errors."""
    made = Environment(
        loader=PackageLoader("dashboards", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        lstrip_blocks=True,
    )
    made.globals.update(links=links, words=words, sentences=sentences, asset=assets.address)
    made.globals.update(series_name=series.series_name)
    made.globals.update(money_figures=money_figures)
    made.filters.update(formats.FILTERS)
    made.globals.update(
        chart_svg=chart_svg.draw,
        weeks_svg=fleet_svg.draw_weeks,
        weeks_sentence=fleet_svg.weeks_sentence,
        figures_json=figures.page_json,
    )
    return made


def render(view: View, frame: Frame) -> str:
    """Render a page.

    Parameters
    ----------
    view : one of the page dataclasses
        What the page says; times in the zone to show, quantities in default units.
    frame : Frame
        What surrounds it.

    Returns
    -------
    str
        A whole HTML document, UTF-8.
    """
    return environment().get_template(TEMPLATES[type(view)]).render(view=view, frame=frame)
