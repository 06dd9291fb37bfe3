"""Made-up views, one for each page, for tests and for looking at the pages."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

import numpy as np

from dashboards.account import AccountView, SignInLine
from dashboards.again import AgainView, Kept
from dashboards.api_docs import (
    ApiAnswer,
    ApiBody,
    ApiDocsView,
    ApiField,
    ApiOperation,
    ApiValue,
    Kind,
)
from dashboards.chart import Chart, Corrected, Mark, Point
from dashboards.charting import build_chart, learning_chart
from dashboards.coverage import (
    CoverageLine,
    CoverageView,
    Doubt,
    FalseAlarms,
    Held,
    Outage,
    Refused,
    SheetGap,
    UnknownName,
)
from dashboards.dictionary import dictionary_view
from dashboards.exports_page import ExportsView
from dashboards.finding import FindingView
from dashboards.frame import Banner, Frame, Link, Session, Units
from dashboards.glossary import help_view
from dashboards.jobs import JobsView, NextRun, Run
from dashboards.log import LogLine, LogView
from dashboards.people import Issued, PeopleView, PersonLine, PersonView
from dashboards.plan import PlanLeft, PlanTicket, PlanView, PlanVisit
from dashboards.problem import Conflict, FieldProblem, ProblemView
from dashboards.render import View
from dashboards.reporting import ComplaintView, RaiseView
from dashboards.rows import Counts, EventLine, Learning, Money, Moved, TicketLine, Urgency
from dashboards.sign_in import AwayView, SignInView
from dashboards.ticket import (
    Action,
    Cause,
    Check,
    HistoryLine,
    JobSheetView,
    Proof,
    RankPart,
    TicketLink,
    TicketView,
    TrackRecord,
    Undo,
    Versions,
)
from dashboards.vehicle import Segment, SheetField, Suspicion, VehicleView, WorkDone
from dashboards.vehicles import DepotLine, VehicleLine, VehiclesView
from dashboards.week import Change, CostAtRisk, CoverageCounts, FleetMap, MapRow, PastDue, WeekView
from dashboards.work import WorkView
from models.findings import SeriesReading
from service.auth.rights import ROLES
from service.tickets.checks import cautions_for
from tests.dashboards import money_samples, setup_samples

NOW: Final = datetime(2031, 9, 8, 2, 0, tzinfo=UTC)
DAY: Final = (NOW.date() - date(1970, 1, 1)).days
SHEET: Final = ("HARROW-24", 2, "shop manual p. 6-12")
COUNTS: Final = Counts(in_service=412, pull_in_now=4, plan_this_week=5, watch=31, steady=349, cannot_say=23)
ORDER: Final[tuple[Urgency, ...]] = ("pull_in_now", "plan_this_week", "watch", "steady", "cannot_say")


def frame(title: str, here: str = "/week", units: Units = "metric") -> Frame:
    """Make a frame with every kind of notice that stands for long."""
    ways = ("week", "vehicles", "work", "coverage", "exports", "jobs")
    return Frame(
        title=title,
        nav=tuple(Link(href=f"/{way}", text=way.capitalize(), current=here == f"/{way}") for way in ways),
        zone="Europe/Oslo",
        data_up_to=NOW,
        assessed_at=NOW + timedelta(minutes=10),
        banners=(Banner(kind="practice"),),
        units=units,
        role="manager",
        roles=ROLES,
        session=Session(left_s=3600, idle_s=3600, can_stay=True),
        token="token-1",  # noqa: S106 - made up
        here=here,
    )


def reading(series: str = "IAC@warm_idle", **changes: object) -> SeriesReading:
    """Make the numbers of a drifting series."""
    made = SeriesReading(
        series=series,
        parameter="IAC",
        state="warm_idle",
        unit="%",
        direction="up",
        baseline=19.04,
        level=26.03,
        baseline_from=DAY - 120,
        baseline_to=DAY - 80,
        baseline_days=22,
        recent_days=9,
        noise=0.8,
        drift_per_week=0.62,
        drift_low=0.41,
        drift_high=0.83,
        strength=7.1,
        limit_low=15.0,
        limit_high=28.0,
        reaches_limit_on=DAY + 14,
        reaches_limit_low=DAY + 7,
        reaches_limit_high=DAY + 25,
        peers_low=17.2,
        peers_high=22.1,
        peers=11,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def points(days: int = 120, start: float = 19.0, rise: float = 7.0) -> tuple[Point, ...]:
    """Make readings that rise in the second half, with a gap, odd ones and late ones."""
    noise = np.random.default_rng(7)
    found = []
    for day in range(days):
        if 40 < day < 52 or day % 7 == 6:
            continue
        value = start + rise * max(0, day - days / 2) / (days / 2) + float(noise.normal(0, 0.8))
        found.append(
            Point(
                at=NOW - timedelta(days=days - day, hours=-5),
                value=round(value, 2),
                odometer_km=44_000 + 61.0 * day,
                excluded="load_on" if day in (20, 75) else "",
                late=day in (90, 91),
            )
        )
    return tuple(found)


def chart(**changes: object) -> Chart:
    """Make the chart of idle airflow with everything that a chart can show."""
    marks = (
        Mark(on=NOW.date() - timedelta(days=112), kind="memory_cleared", odometer_km=44_488),
        Mark(on=NOW.date() - timedelta(days=70), kind="repair", detail="plugs", odometer_km=47_050),
    )
    made = build_chart("V-0017", reading(), points(), sheet=SHEET, marks=marks)
    return replace(made, **changes)  # type: ignore[arg-type]


def charts() -> tuple[Chart, ...]:
    """Make several series of one vehicle: with and without limits, a gap, a change, one that learns."""
    volts = reading(
        "VPWR@warm_idle", unit="V", baseline=14.21, level=14.19, limit_low=13.4, limit_high=15.0,
        drift_per_week=-0.01, drift_low=-0.02, drift_high=0.0, peers_low=14.0, peers_high=14.4,
        reaches_limit_on=None, reaches_limit_low=None, reaches_limit_high=None,
    )  # fmt: skip
    gap = reading(
        "ECT-IAT@koeo_soak", unit="degC", baseline=0.4, level=0.7, limit_low=None, limit_high=None,
        peers_low=None, peers_high=None, peers=3, drift_per_week=0.02, drift_low=-0.1, drift_high=0.1,
    )  # fmt: skip
    flow = reading("ln MAF@cruise", baseline=275.0, level=273.0, limit_low=None, limit_high=None,
                   peers_low=270.0, peers_high=281.0)  # fmt: skip
    learning = learning_chart("V-0017", "LONGFT1@cruise", "%", points(8, 1.5, 0), have=3, need=20)
    return (
        chart(),
        build_chart("V-0017", volts, points(120, 14.2, 0), sheet=SHEET),
        build_chart("V-0017", gap, points(120, 0.5, 0), sheet=SHEET),
        build_chart("V-0017", flow, points(120, 274, -2), sheet=None),
        learning,
    )


def line(vehicle: str = "V-0017", **changes: object) -> TicketLine:
    """Make a ticket line."""
    made = TicketLine(
        ticket=f"{vehicle}-T2",
        vehicle=vehicle,
        urgency="pull_in_now",
        status="accepted",
        problem="Idle airflow rising; close to the sheet's limit",
        first_check="Read the load inputs (A/C, steering pressure, park/neutral)",
        minutes=2,
        due_by=date(2031, 9, 12),
        booked_on=date(2031, 9, 10),
        assignee="bench 2",
        depot="North",
        hours=1.5,
        raised_on=date(2031, 8, 30),
        closed_on=None,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def week() -> WeekView:
    """Make a full week."""
    pull = (
        line(),
        line("V-0103", problem="Charging voltage falling", first_check="Belt and its tension", minutes=3),
        line("V-0291", urgency="plan_this_week", problem="Fuel trim rising, bank 1",
             first_check="Hoses and intake gasket", minutes=10, days_late=3, due_by=date(2031, 9, 5)),
    )  # fmt: skip
    moves: tuple[tuple[int, Urgency | None, Urgency, str, str], ...] = (
        (17, "watch", "pull_in_now", "new_readings", "idle airflow +0.6 % a week"),
        (61, "plan_this_week", "watch", "repair", "throttle cleaned 4 Sep"),
        (88, "steady", "cannot_say", "data_stopped", "last reading 29 Aug"),
        (140, "cannot_say", "steady", "data_back", ""),
        (155, "watch", "steady", "sheet_revised", "HARROW-24 revision 2"),
        (201, "steady", "watch", "late_readings", ""),
        (300, None, "cannot_say", "in_service", ""),
    )
    changes = tuple(
        Change(vehicle=f"V-0{place:03}", before=before, after=after, reason=reason, detail=detail)
        for place, before, after, reason, detail in moves
    )
    late = tuple(
        PastDue(
            ticket=f"V-0{place:03}-T1", vehicle=f"V-0{place:03}", problem=problem,
            due_by=date(2031, 9, 8 - days), days_late=days, holding=holding,
        )
        for place, days, problem, holding in (
            (291, 3, "fuel trim rising", "parts"),
            (44, 2, "idle airflow falling", "no_date"),
            (212, 1, "voltage at rest low", "not_accepted"),
        )
    )  # fmt: skip
    noise = np.random.default_rng(3)
    rows = tuple(
        MapRow(
            vehicle=f"V-{place:04}",
            words=tuple(ORDER[int(k)] for k in np.sort(noise.integers(0, 5, 12))[::-1]),
        )
        for place in range(1, 21)
    )
    return WeekView(
        week="2031-W37",
        starts_on=date(2031, 9, 8),
        previous="2031-W36",
        following="",
        reading="as_closed",
        closed_at=NOW + timedelta(hours=4),
        late_readings=14,
        counts=COUNTS,
        needed_hours=14.5,
        workshop_hours=20.0,
        pull_in=pull,
        changes=changes,
        first_week=False,
        past_due=late,
        coverage=CoverageCounts(silent=9, partial=6, unusable=3, learning=5, off_road=4, without_sheet=12),
        cost=CostAtRisk(
            sum=Money(mean=18_240, low=11_900, high=27_300, currency="EUR"),
            horizon_days=30,
            price_date=date(2031, 1, 1),
            revision=3,
            rows_at="/money",
        ),
        ways=(
            Link(href="/plan", text="Plan the hours"),
            Link(href="/track-record", text="Is this any good?"),
        ),
        events=(
            EventLine(
                on=date(2031, 9, 3),
                scope="depot North",
                moved=(
                    Moved(series="LONGFT1@warm_idle", unit="%", shift=3.1),
                    Moved(series="LONGFT1@cruise", unit="%", shift=3.4),
                ),
                vehicles=84,
                fuel=("0", "10"),
            ),
        ),
        fleet_map=FleetMap(
            weeks=tuple(f"2031-W{n}" for n in range(26, 38)),
            rows=rows,
            counts=tuple(replace(COUNTS, watch=20 + n, cannot_say=34 - n) for n in range(12)),
            left_out=392,
        ),
    )


def empty_week() -> WeekView:
    """Make a week in which nothing happened and nothing is known of costs."""
    return replace(
        week(),
        counts=replace(COUNTS, pull_in_now=0, plan_this_week=0, steady=358),
        pull_in=(),
        changes=(),
        past_due=(),
        cost=None,
        events=(),
        fleet_map=None,
        late_readings=0,
        workshop_hours=None,
        needed_hours=None,
    )


def ticket() -> TicketView:
    """Make a ticket with every part."""
    return TicketView(
        ticket="V-0017-T2",
        version=4,
        vehicle="V-0017",
        depot="North",
        time_zone="Europe/Oslo",
        status="accepted",
        urgency="pull_in_now",
        consequence=2,
        problem="Idle airflow rising; close to the sheet's limit",
        sentence="V-0017: idle air control (IAC) at warm idle rose from 19.0 % (own normal, "
        "11 May-20 Jun 2031, 22 days with readings) to 26.0 % (9 days with readings up to 8 Sep 2031); "
        "+0.6 % a week (80 %: +0.4 to +0.8). Sheet HARROW-24 revision 2, "
        "shop manual p. 6-12, allows 15.0-28.0 %. At this rate it "
        "leaves the limits about 22 Sep 2031 (80 %: 15 Sep-3 Oct 2031). 11 like vehicles: 17.2-22.1 %.",
        chart=chart(),
        other_charts=charts()[1:3],
        checks=(
            Check(
                text="Read the load inputs: A/C, steering pressure, park/neutral",
                minutes=2,
                cause="load_switch_stuck",
                likelihood=0.2,
                good="All follow the switches: go on to the throttle bore.",
                bad="One reads on all the time: trace that input.",
                tools="reader",
            ),
            Check(
                text="Look at throttle bore and plate",
                minutes=10,
                cause="throttle_deposits",
                likelihood=0.5,
                good="Clean: look at the idle passages.",
                bad="Deposits: clean by the maker's method, then relearn idle.",
            ),
        ),
        cautions=(
            "Chock the wheels and set the parking brake; a fan can start with the key off.",
            "Save codes and freeze frame before clearing anything.",
            "Clearing or disconnecting wipes learned values.",
        ),
        proof=Proof(
            have=2,
            need=5,
            days=1,
            need_days=3,
            text="Needs warm idle on 2 more days; relearn pending.",
            until=date(2031, 9, 29),
            before_repair=(NOW - timedelta(days=12),),
        ),
        history=(
            HistoryLine(at=NOW, who="lead", event="book", detail="10 Sep, 1.5 h"),
            HistoryLine(at=NOW - timedelta(days=8), who="system", event="raise"),
        ),
        raised_at=NOW - timedelta(days=8),
        due_by=date(2031, 9, 12),
        days_late=0,
        booked_on=date(2031, 9, 10),
        deferred_until=None,
        resting_since=None,
        pinned_until=date(2031, 9, 14),
        inspected_on=date(2031, 9, 2),
        assignee="bench 2",
        series=(reading(), reading("VPWR@warm_idle", unit="V", baseline=14.2, level=14.2, limit_low=None)),
        looked_at=("Supply voltage is steady.", "Coolant and intake air agree after a soak."),
        change_my_mind=("3 warm-idle readings at or below 22.0 % put this to rest.",),
        causes=(Cause(code="throttle_deposits", probability=0.5), Cause(code="unknown", probability=0.5)),
        probability_30d=0.62,
        probability_crossing=0.58,
        probability_fault=0.8,
        track_record=TrackRecord(found=31, of=40, low=0.62, high=0.88),
        rank=(RankPart(name="gain of acting now", text="EUR 210"),),
        versions=Versions(
            sheet="HARROW-24",
            revision=2,
            rule="drift",
            method="scan 1",
            data_up_to=NOW.date(),
        ),
        links=(
            TicketLink(
                kind="comeback_of",
                ticket="V-0017-T1",
                done_then="idle passage cleaned",
                not_then=("relearn",),
            ),
        ),
        actions=(
            Action(event="start"),
            Action(event="book", needs=("on", "hours")),
            Action(event="defer", needs=("on", "reason"), confirm=True),
            Action(event="dismiss", needs=("reason",), reasons=("sensor_or_logger", "sheet_wrong")),
            Action(event="assign", needs=("assignee",), text="bench 2"),
        ),
        may_record=True,
        record_causes=("throttle_deposits", "load_switch_stuck", "unmetered_air"),
        other_causes=("charging_low",),
        form_key="k-1",
        undo=Undo(record="00ff", kind="repair", until=NOW + timedelta(minutes=10)),
    )


def long_ticket() -> TicketView:
    """Make a ticket as long as they come: every caution of a leak, six checks."""
    found = (("unmetered_air", 0.5), ("fuel_delivery_low", 0.3), ("unknown", 0.2))
    return replace(
        ticket(), cautions=tuple(one.text for one in cautions_for(found)), checks=ticket().checks * 3
    )


def vehicle() -> VehicleView:
    """Make a vehicle with a full history."""
    return VehicleView(
        vehicle="V-0017",
        readings_from=date(2029, 8, 1),
        urgency="pull_in_now",
        why="Idle airflow has risen for eight weeks and is close to the sheet's limit.",
        vin="*************0017",
        depot="North",
        time_zone="Europe/Oslo",
        odometer_km=51_320,
        in_service_on=date(2029, 3, 1),
        last_reading_at=NOW,
        notes="roof rack",
        sheet="HARROW-24",
        sheet_known=True,
        revision=2,
        source="shop manual p. 6-12",
        sheet_fields=(SheetField(name="Displacement", text="2.4 l"),),
        open_tickets=(line(),),
        past_tickets=(line(ticket="V-0017-T1", status="verified", closed_on=date(2031, 7, 1)),),
        backfilled=(date(2031, 3, 1), date(2031, 6, 30), date(2031, 7, 2)),
        doubts=(Doubt(vehicle="V-0017", series="ECT@cruise", reason="the same value for weeks"),),
        suspicions=(Suspicion(sentence="Short-term trim swings more.", held_back="too_few_days"),),
        charts=charts(),
        chosen="",
        axis="date",
        drive="",
        learning=(Learning(series="LONGFT1@cruise", have=3, need=20),),
        not_here=("LONGFT2",),
        conditions_unknown=True,
        segments=(Segment(starts_on=date(2031, 5, 19), reason="memory_cleared", found=True),),
        work=(
            WorkDone(done_at=NOW - timedelta(days=70), kind="repair", cause="unknown",
                     ticket="V-0017-T1", labour_hours=1.2, parts_cost=48.5, notes="plugs"),
            WorkDone(done_at=NOW - timedelta(days=90), kind="complaint", notes="rough idle"),
        ),
        may_complain=True,
        may_raise=True,
        form_key="k-2",
    )  # fmt: skip


def series_alone() -> VehicleView:
    """Make the page of one series whose picture answers to the pointer."""
    return replace(vehicle(), charts=(corrected_chart(),), chosen="IAC@warm_idle", live=True)


def corrected_chart() -> Chart:
    """Make the chart with corrected days as well."""
    made = chart()
    days = tuple(
        Corrected(on=point.at.date(), value=point.value - 0.2, odometer_km=point.odometer_km)
        for point in made.points
    )
    return replace(made, corrected=days)


def work() -> WorkView:
    """Make a work list with every part."""
    return WorkView(
        depot="North",
        depots=("North", "South"),
        mine=(line(), line("V-0291", urgency="plan_this_week", days_late=3, due_by=date(2031, 9, 5))),
        unassigned=(line("V-0103", assignee="", booked_on=None, status="raised"),),
        others=(line("V-0009"),),
        proof=(line("V-0061", status="done", urgency="watch"),),
        resting=(line("V-0200", resting=True, urgency="watch", due_by=None),),
        following="/work?page=2",
        hidden=3,
        next_due=date(2031, 9, 12),
    )


def vehicles() -> VehiclesView:
    """Make a page of the vehicle list."""
    rows = tuple(
        VehicleLine(
            vehicle=f"V-{place:04}",
            urgency=ORDER[place % 5],
            why="idle airflow rising",
            depot="North" if place % 2 else "",
            sheet="HARROW-24" if place % 3 else "",
            last_reading_on=NOW.date() if place % 4 else None,
            open_tickets=place % 2,
        )
        for place in range(1, 13)
    )
    return VehiclesView(
        rows=rows,
        counts=COUNTS,
        total=412,
        registered=416,
        depots=(DepotLine(depot="North", counts=COUNTS), DepotLine(depot="", counts=COUNTS)),
        query="V-",
        depot="",
        word="",
        sort="urgency",
        first=1,
        previous="/vehicles?page=0",
        following="/vehicles?page=2",
    )


def coverage() -> CoverageView:
    """Make a coverage page with every kind of gap."""
    return CoverageView(
        counts=COUNTS,
        lines=(
            CoverageLine(vehicle="V-0088", depot="North", kind="silent", reason="silent",
                         last_reading_on=date(2031, 8, 29)),
            CoverageLine(vehicle="V-0090", depot="", kind="partial", reason="no_warm_idle",
                         last_reading_on=NOW.date(), missing=("warm_idle",)),
            CoverageLine(vehicle="V-0300", depot="", kind="learning", reason="learning",
                         last_reading_on=NOW.date(),
                         learning=(Learning(series="IAC@warm_idle", have=3, need=20),)),
            CoverageLine(vehicle="V-0400", depot="", kind="off_road", reason="off_road",
                         last_reading_on=None, until=date(2031, 10, 1)),
        ),
        outages=(Outage(vehicles=50, since=NOW, shared="depot South"),),
        without_sheet=(SheetGap(sheet="", vehicles=("V-0301",)),
                       SheetGap(sheet="ELM-3", vehicles=("V-0302",))),
        quarantined=(
            Refused(code="value-out-of-range", count=12, sample="ECT 400 degC", newest=NOW, releasable=False),
        ),
        rejected=(Refused(code="no-offset", count=2, sample="row 7", newest=NOW, releasable=False),),
        unknown_names=(UnknownName(name="Coolant [degF]", count=220, sample="190, 194", devices=2),),
        held=(
            Held(
                number=3,
                code="unknown-vehicle",
                detail="Nobody registered a vehicle 'V-0099'.",
                vehicle="V-0099",
                source="L-222",
                received=NOW,
            ),
        ),
        left_out=4,
        doubts=(Doubt(vehicle="V-0017", series="MAF@warm_idle", reason="measured air flow does not fit"),),
        false_alarms=FalseAlarms(months=1000, shown=12, chance=2),
    )  # fmt: skip


def exports() -> ExportsView:
    """Make the exports page."""
    return ExportsView(
        dataset="tickets",
        format="csv",
        as_of=date(2031, 9, 1),
        from_day=date(2030, 1, 1),
        to_day=None,
        vehicle="",
        depot="North",
        depots=("North", "South"),
        rows=118,
        first_data_on=date(2030, 6, 1),
        trends_on=NOW.date(),
        lost="3 rows to erasure and 12,400 rows to retention",
        link="/exports/tickets.csv?as_of=2031-09-01&depot=North",
        command="forelamp export tickets --format csv --as-of 2031-09-01",
    )


def problem() -> ProblemView:
    """Make an error page with every part."""
    return ProblemView(
        type="transition-not-allowed",
        status=409,
        title="The ticket cannot do that now.",
        detail="V-0017-T2 is dismissed.",
        what_to_do="Open the ticket and choose one of the allowed steps.",
        errors=(FieldProblem(where="on", text="must be a working day"),),
        conflicts=(Conflict(field="status", theirs="in work", mine="accepted"),),
        allowed=("reopen", "undo"),
        back="/work/V-0017-T2",
        request_id="r-1",
        kept=(Kept(name="on", text="2031-09-14"),),
        again=AgainView(
            action="/work/V-0017-T2/events",
            kept=(Kept(name="event", text="book"), Kept(name="on", text="2031-09-14")),
        ),
    )


def jobs() -> JobsView:
    """Make the jobs page."""
    return JobsView(
        upcoming=(NextRun(job="nightly", due=NOW + timedelta(days=1)),),
        runs=(
            Run(job="nightly", due=NOW, started=NOW, ended=NOW + timedelta(minutes=4), outcome="done",
                counts=(("vehicles", 412), ("tickets_raised", 2)), error=""),
            Run(job="weekly", due=NOW, started=NOW, ended=None, outcome="failed", counts=(),
                error="disk full"),
        ),
    )  # fmt: skip


def again() -> AgainView:
    """Make a form that was not taken."""
    kept = (
        Kept(name="reason", text="sheet_wrong"),
        Kept(name="note", text="The limit is of another engine."),
    )
    return AgainView(action="/work/V-0017-T2/events", kept=kept)


def finding() -> FindingView:
    """Make the form of findings."""
    return FindingView(
        ticket="V-0017-T2",
        version=4,
        vehicle="V-0017",
        problem="idle airflow rising at warm idle",
        causes=("throttle_deposits", "load_switch_stuck"),
        other_causes=("charging_low",),
        odometer_km=48_211,
        form_key="k-3",
    )


def complaint(vehicle: str = "") -> ComplaintView:
    """Make the form of a complaint."""
    return ComplaintView(
        vehicle=vehicle,
        vehicles=() if vehicle else ("V-0017", "V-0018"),
        form_key="k-4",
        may_raise=True,
    )


def raise_form() -> RaiseView:
    """Make the form that raises a ticket by hand."""
    return RaiseView(vehicle="V-0017", causes=("charging_low",), open_tickets=("V-0017-T2",), form_key="k-5")


def visit(vehicle: str = "V-0017", **changes: Any) -> PlanVisit:
    """Make a visit of one ticket."""
    plain = PlanVisit(
        vehicle=vehicle,
        why="past_due",
        pinned=True,
        total_hours=1.8,
        tickets=(PlanTicket(line=line(vehicle), version=4, work_hours=1.5),),
        day=date(2031, 9, 10),
        leave_out=f"/plan?hours=20&out={vehicle}",
    )
    return replace(plain, **changes)


def plan() -> PlanView:
    """Make a plan with every part."""
    return PlanView(
        hours=20.0,
        usable=17.0,
        reserve=0.15,
        used=3.6,
        setup_hours=0.3,
        depot="North",
        depots=("North", "South"),
        visits=(visit("V-0009", why="in_work", pinned=False, day=None), visit()),
        left_out=(
            PlanLeft(visit=visit("V-0103", day=None), reason="by_hand", put_back="/plan?hours=20"),
            PlanLeft(
                visit=visit("V-0104", day=None, pinned=False, why="rank"), reason="hours_end", put_back=""
            ),
        ),
        pins_lack=3.2,
        musts_lack=3.2,
        past_due=(
            PastDue(
                ticket="V-0291-T1",
                vehicle="V-0291",
                problem="charging voltage falling",
                due_by=date(2031, 9, 5),
                days_late=3,
                holding="parts",
            ),
        ),
        from_records=("throttle_deposits",),
        without=("V-0103",),
        may_book=True,
        form_key="k-6",
        pin_key="k-7",
    )


def api_docs() -> ApiDocsView:
    """Give the description of one address and one value."""
    field = ApiField(
        name="limit",
        place="query",
        kinds=(Kind(text="integer"), Kind(text="all", exact=True)),
        meaning="Rows of a page.",
        required=True,
    )
    return ApiDocsView(
        summary="Reads and writes what the pages show.",
        operations=(
            ApiOperation(
                anchor="list_tickets",
                method="GET",
                path="/api/v1/tickets",
                summary="Lists tickets.",
                scope="read",
                parameters=(field,),
                bodies=(
                    ApiBody(media_type="application/json", kinds=(Kind(text="Page", href="#v"),), meaning=""),
                ),
                answers=(
                    ApiAnswer(
                        status="200",
                        meaning="Tickets.",
                        media_types=("application/json",),
                        codes=("bad-cursor",),
                    ),
                ),
            ),
        ),
        values=(ApiValue(name="Page", meaning="One page.", fields=(replace(field, place=""),)),),
    )


def sign_in() -> SignInView:
    """Make a sign-in page after a sign-in that ended while a form was open."""
    kept = (
        Kept(name="reason", text="sheet_wrong"),
        Kept(name="note", text="The limit is of another engine."),
    )
    return SignInView(
        reason="ended",
        wait_s=60,
        login="ann",
        provider="Harrow sign-in",
        following="/work",
        action="/work/V-0017-T2/events",
        kept=kept,
        files_lost=True,
    )


def away() -> AwayView:
    """Make the page that leads to the sign-in provider."""
    return AwayView(provider="Harrow sign-in", address="https://id.example/authorise?client_id=forelamp")


def account() -> AccountView:
    """Make an account whose password somebody else set."""
    return AccountView(
        login="ann",
        role="mechanic",
        depot="North",
        depot_only=True,
        must_change=True,
        error="The two new passwords differ.",
        shortest=12,
        ends_at=NOW + timedelta(hours=9),
        idle_minutes=60,
        sign_ins=(
            SignInLine(at=NOW, what="signed in", source="192.0.2.7"),
            SignInLine(at=NOW - timedelta(days=1), what="sign-in refused", source=""),
        ),
    )


def _people() -> tuple[PersonLine, ...]:
    line = PersonLine(
        login="ann",
        role="admin",
        depot="",
        depot_only=False,
        disabled=False,
        seen_at=NOW,
        password_until=None,
        through_provider=False,
    )
    later = NOW + timedelta(days=7)
    return (
        line,
        replace(line, login="bob", role="mechanic", depot="North", depot_only=True, password_until=later),
        replace(line, login="eve", role="viewer", disabled=True, seen_at=None),
    )


def people() -> PeopleView:
    """Make the list of accounts, just after one was made."""
    issued = Issued(login="bob", password="k3wq-8d2n-rt5v-y7xc-h4mp", until=NOW + timedelta(days=7))  # noqa: S106
    return PeopleView(
        people=_people(), roles=ROLES, depots=("North", "South"), issued=issued, error="Taken.", typed="ann"
    )


def person() -> PersonView:
    """Make one account."""
    return PersonView(
        person=replace(_people()[1], through_provider=True),
        roles=ROLES,
        depots=("North", "South"),
        issued=None,
        error="The last administrator.",
    )


def log() -> LogView:
    """Make a page of the event log."""
    line = LogLine(
        number=412,
        at=NOW,
        who="ann",
        what="account changed",
        subject="bob",
        before="viewer",
        after="mechanic, North only",
        source="192.0.2.7",
    )
    return LogView(
        lines=(line, replace(line, number=411, who="command line", before="", after="", source="")),
        who="",
        what="account changed",
        subject="",
        following="/log?what=account+changed&cursor=abc",
    )


def pages() -> dict[str, tuple[View, str]]:
    """Give every view with its title, by a name for files and test ids."""
    return {
        "week": (week(), "Week 37, 2031"),
        "week-empty": (empty_week(), "Week 37, 2031"),
        "vehicles": (vehicles(), "Vehicles"),
        "vehicle": (vehicle(), "V-0017"),
        "series": (series_alone(), "V-0017: idle airflow"),
        "work": (work(), "My work"),
        "finding": (finding(), "V-0017: what did you find?"),
        "complaint": (complaint(), "A driver's complaint"),
        "complaint-here": (complaint("V-0017"), "V-0017: a driver's complaint"),
        "raise": (raise_form(), "V-0017: raise a ticket"),
        "plan": (plan(), "Plan"),
        "plan-empty": (
            replace(plan(), visits=(), left_out=(), pins_lack=0.0, musts_lack=0.0, used=0.0, past_due=()),
            "Plan",
        ),
        "ticket": (ticket(), "Ticket V-0017-T2"),
        "sheet": (JobSheetView(ticket=long_ticket()), "Job sheet V-0017-T2"),
        "coverage": (coverage(), "Coverage"),
        "exports": (exports(), "Exports"),
        "dictionary": (dictionary_view(), "Dictionary"),
        "help": (help_view(), "Help"),
        "problem": (problem(), "Not possible"),
        "jobs": (jobs(), "Jobs"),
        **setup_samples.pages(),
        **money_samples.pages(),
        "again": (again(), "The form is of an earlier visit"),
        "api_docs": (api_docs(), "The API"),
        "sign-in": (sign_in(), "Sign in"),
        "away": (away(), "To the sign-in"),
        "account": (account(), "Your account"),
        "people": (people(), "People"),
        "person": (person(), "Account bob"),
        "log": (log(), "Event log"),
    }
