"""The analyst's files out of the store: the same rows for address, command line and lists."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.metadata import PackageNotFoundError, version
from typing import Any, BinaryIO, Final
from zoneinfo import ZoneInfo

from dashboards.exports import files
from dashboards.exports.columns import Dataset, dataset_of
from dashboards.exports.table import About, Columns
from ingest.parameters import CODES, FUEL_SYSTEM, PARAMETERS, SWITCHES
from ingest.records import Vehicle
from models.findings import Assessment, Finding, Trend
from service.schedule.knowledge import fleet_costs
from service.store import KeptSnapshot, Work
from service.tickets.costs import CostTable, cost_at_risk, starting_costs
from service.tickets.priority import ranked, vehicle_words
from service.tickets.ticket import EXPORT_COLUMNS, Ticket, is_open
from service.web.budget import budget_rows
from service.web.described import ERASED_ROWS, REMOVED_ROWS
from service.web.ground import gather
from service.web.query import EPOCH, number_day
from service.web.record import gather_record, record_rows, stated_by
from service.web.spending import Period, measure, narrowed, spending_rows, usual_period

Row = dict[str, Any]

ROWS_AT_ONCE: Final = 5_000
"""Snapshots held in memory at a time; chosen by us: some ten megabytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which rows of which dataset.

    Parameters
    ----------
    dataset : str
        One of `DATASETS`.
    as_of : date or None
        What was known at the end of this day in the fleet's zone; None for everything known now.
    vehicle, depot : str
        Filters; empty for all.
    from_day, to_day : date or None
        Period by day taken (snapshots) or raised (tickets), both included, in the fleet's zone.
    parameter, state : str
        Only snapshots with this reading, in this state; empty for all.
    """

    dataset: str
    as_of: date | None = None
    vehicle: str = ""
    depot: str = ""
    from_day: date | None = None
    to_day: date | None = None
    parameter: str = ""
    state: str = ""

    def about(self) -> About:
        """Say of the file what it holds; only filters that were set."""
        names = ("vehicle", "depot", "from_day", "to_day", "parameter", "state")
        filters = {name: str(getattr(self, name)) for name in names if getattr(self, name)}
        return About(as_of=self.as_of, filters=filters, version=program_version())


def program_version() -> str:
    """Tell the version of the program; `0` where it runs without being installed."""
    try:
        return version("forelamp")
    except PackageNotFoundError:
        return "0"


def end_of(day: date, fleet_zone: str) -> datetime:
    """Give the end of a day in the fleet's zone, aware UTC."""
    return datetime.combine(day + timedelta(days=1), time(), ZoneInfo(fleet_zone)).astimezone(UTC)


PARTS: Final[Mapping[str, str]] = {
    "snapshots": "snapshot",
    "trends": "trend",
    "tickets": "ticket",
    "risk": "assessment",
    "budget": "work_record",
    "cost_per_cause": "work_record",
    "track_record": "ticket",
}
"""Table of each dataset whose rows retention removes; erasures take rows of the first two."""


def about_of(work: Work, wanted: Wanted, fleet_zone: str) -> About:
    """Say of a file what it holds, and what its as-of date has lost since; nothing without an as-of."""
    about = wanted.about()
    if wanted.as_of is None:
        return about
    return _with_lost(work, about, (PARTS[wanted.dataset],), wanted.as_of, fleet_zone)


def loss_headers(about: About) -> dict[str, str]:
    """Say in headers of an answer what its as-of date has lost since."""
    return {ERASED_ROWS: str(about.erased_rows), REMOVED_ROWS: str(about.removed_rows)}


def lost_by(work: Work, as_of: date, fleet_zone: str) -> str:
    """Say in words what a day has lost since, of everything that pages of it are made from."""
    return _with_lost(work, About(), tuple(PARTS.values()), as_of, fleet_zone).lost_text


def _with_lost(work: Work, about: About, parts: tuple[str, ...], as_of: date, fleet_zone: str) -> About:
    since = end_of(as_of, fleet_zone)
    erased, removed = work.lost_rows(parts, since, up_to_day=number_day(as_of))
    return replace(about, erased_rows=erased, removed_rows=removed)


def export(work: Work, wanted: Wanted, form: str, sink: BinaryIO, *, fleet_zone: str) -> int:
    """Write one file.

    Parameters
    ----------
    work : Work
        A read-only unit of work: the file shows one state throughout.
    wanted : Wanted
        Which rows.
    form : str
        csv, json, parquet or xlsx.
    sink : binary file
        That can tell its place.
    fleet_zone : str
        Zone in which days begin and end.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    UnknownDataset, UnknownFormat, ExportTooLarge
        As their names say.
    """
    dataset = dataset_of(wanted.dataset)
    about = about_of(work, wanted, fleet_zone)
    return files.write(sink, form, dataset, columns_of(work, wanted, fleet_zone=fleet_zone), about)


def columns_of(work: Work, wanted: Wanted, *, fleet_zone: str) -> Iterator[Columns]:
    """Give the rows of a dataset as columns, piece by piece; parameters as in `export`."""
    dataset = dataset_of(wanted.dataset)
    if wanted.dataset == "snapshots":
        for rows in _snapshot_rows(work, wanted, fleet_zone):
            yield as_columns(dataset, rows)
        return
    if wanted.dataset == "trends":
        for rows in _trend_pieces(work, wanted):
            yield as_columns(dataset, rows)
        return
    yield as_columns(dataset, _ROWS[wanted.dataset](work, wanted, fleet_zone))


def as_columns(dataset: Dataset, rows: Sequence[Row]) -> Columns:
    """Turn rows into the columns of their dataset."""
    return {name: [row[name] for row in rows] for name in dataset.names}


def _day(wanted: Wanted) -> int | None:
    return None if wanted.as_of is None else number_day(wanted.as_of)


def _facts(work: Work) -> dict[str, Vehicle]:
    return {one.vehicle: one for one in work.vehicles()}


def _who(facts: Mapping[str, Vehicle], name: str) -> Row:
    known = facts.get(name)
    return {
        "vehicle": name,
        "depot": "" if known is None else known.depot,
        "spec_sheet": "" if known is None else known.spec_sheet,
    }


def ticket_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:
    """Give one row for each ticket, as it stood then, sorted by number."""
    moment = None if wanted.as_of is None else end_of(wanted.as_of, fleet_zone)
    zone = ZoneInfo(fleet_zone)
    found = work.tickets(vehicle=wanted.vehicle, depot=wanted.depot, as_of=moment)
    return [
        {name: getattr(ticket, name) for name in EXPORT_COLUMNS}
        for ticket in found
        if _within(ticket.raised_at.astimezone(zone).date(), wanted)
    ]


def _within(day: date, wanted: Wanted) -> bool:
    return (wanted.from_day is None or day >= wanted.from_day) and (
        wanted.to_day is None or day <= wanted.to_day
    )


_SAME: Final = (
    "series", "parameter", "state", "unit", "direction", "baseline", "baseline_from", "baseline_to",
    "baseline_days", "recent_days", "noise", "drift_per_week", "drift_low", "drift_high", "strength",
    "limit_low", "limit_high", "outside", "reaches_limit_on", "reaches_limit_low", "reaches_limit_high",
    "peers_low", "peers_high", "peers", "segment_from", "segment_reason",
)  # fmt: skip
"""Columns of trends that are fields of a reading under the same name."""


def trend_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:  # noqa: ARG001 - as the others
    """Give one row for each followed series, by vehicle and series, of the newest evaluation by then."""
    return [row for rows in _trend_pieces(work, wanted) for row in rows]


def _trend_pieces(work: Work, wanted: Wanted) -> Iterator[list[Row]]:
    """Give the rows of `trend_rows`, those of some vehicles after the others."""
    day = work.trend_day(_day(wanted))
    if day is None:
        return
    facts = _facts(work)
    for found in work.trend_pieces(day, vehicle=wanted.vehicle):
        rows = [_trend(one, day, facts) for one in found]
        yield [row for row in rows if wanted.depot in ("", row["depot"])]


def _trend(trend: Trend, day: int, facts: Mapping[str, Vehicle]) -> Row:
    same = {name: getattr(trend.reading, name) for name in _SAME}
    return {"as_of": day, **_who(facts, trend.vehicle), "value": trend.reading.level, **same}


def risk_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:
    """Give one row for each vehicle of the newest evaluation not after the as-of, sorted by number."""
    assessment = work.assessment(_day(wanted))
    if assessment is None:
        return []
    moment = None if wanted.as_of is None else end_of(wanted.as_of, fleet_zone)
    tickets = work.tickets(as_of=moment)
    by_vehicle: dict[str, list[Ticket]] = {}
    for ticket in ranked(one for one in tickets if is_open(one)):
        by_vehicle.setdefault(ticket.vehicle, []).append(ticket)
    words = vehicle_words(assessment.vehicles, tickets)
    findings = _gravest_by_vehicle(assessment)
    facts = _facts(work)
    costs = fleet_costs(work.costs(as_of=moment), starting_costs())
    rows = []
    for state in sorted(assessment.vehicles, key=lambda one: one.vehicle):
        own = by_vehicle.get(state.vehicle, [])
        rows.append(
            {
                "as_of": assessment.day,
                **_who(facts, state.vehicle),
                "standing": words[state.vehicle],
                "reason": state.reason,
                "last_reading_on": state.last_day,
                "readings_28d": state.readings,
                "open_tickets": len(own),
                "ticket": own[0].ticket if own else "",
                "due_by": own[0].due_by if own else None,
                **_stakes(findings.get(state.vehicle), costs),
            }
        )
    return [
        row for row in rows if wanted.vehicle in ("", row["vehicle"]) and wanted.depot in ("", row["depot"])
    ]


def _gravest_by_vehicle(assessment: Assessment) -> dict[str, Finding]:
    found: dict[str, Finding] = {}
    for one in assessment.findings:
        if one.vehicle not in found or _gravity(one) > _gravity(found[one.vehicle]):
            found[one.vehicle] = one
    return found


def _gravity(finding: Finding) -> tuple[bool, float, float]:
    """Rank findings of a vehicle: those that may become tickets first, then by probability and evidence."""
    return (finding.tier == "ticket" and not finding.held_back, finding.probability_30d, finding.score)


def _stakes(finding: Finding | None, costs: CostTable | None) -> Row:
    if finding is None:
        nothing = (
            "probability_30d",
            "probability_crossing",
            "probability_fault",
            "cause_1_p",
            "cost_at_risk",
        )
        return {**dict.fromkeys(nothing), "cause_1": "", "currency": ""}
    cause, share = finding.causes[0] if finding.causes else ("", None)
    cost = None
    if costs is not None:
        cost = round(cost_at_risk(finding.probability_30d, finding.causes, costs), 2)
    return {
        "probability_30d": finding.probability_30d,
        "probability_crossing": finding.probability_crossing,
        "probability_fault": finding.probability_fault,
        "cause_1": cause,
        "cause_1_p": share,
        "cost_at_risk": cost,
        "currency": "" if costs is None else costs.currency,
    }


def _snapshot_rows(work: Work, wanted: Wanted, fleet_zone: str) -> Iterator[list[Row]]:
    zone = ZoneInfo(fleet_zone)
    start = None if wanted.from_day is None else datetime.combine(wanted.from_day, time(), zone)
    end = None if wanted.to_day is None else end_of(wanted.to_day, fleet_zone)
    known = None if wanted.as_of is None else end_of(wanted.as_of, fleet_zone)
    in_depot = None
    if wanted.depot:
        in_depot = {name for name, one in _facts(work).items() if one.depot == wanted.depot}
    cursor = ""
    while True:
        page = work.snapshots(
            vehicle=wanted.vehicle,
            state=wanted.state,
            from_at=start,
            to_at=end,
            known_at=known,
            limit=ROWS_AT_ONCE,
            cursor=cursor,
        )
        yield [
            _snapshot(one)
            for one in page.rows
            if (in_depot is None or one.vehicle in in_depot)
            and (not wanted.parameter or wanted.parameter in one.values)
        ]
        cursor = page.cursor
        if not cursor:
            return


def _snapshot(kept: KeptSnapshot) -> Row:
    return {
        "vehicle": kept.vehicle,
        "taken_at": kept.taken_at,
        "received_at": kept.received_at,
        "state": kept.state,
        "state_claimed": kept.claim,
        "device": kept.device,
        "id": kept.given_id,
        "odometer_km": kept.odometer_km,
        **{name: kept.switches.get(name) for name in SWITCHES},
        **{code: _value(code, kept.values.get(code)) for code in CODES},
    }


def _value(code: str, value: float | None) -> float | str | bool | None:
    kind = PARAMETERS[code].kind
    if value is None:
        return None
    if kind == "code":
        return FUEL_SYSTEM[int(value)]
    return bool(value) if kind == "flag" else value


def _known(work: Work, wanted: Wanted, fleet_zone: str) -> tuple[date, datetime | None]:
    """Give the day that files of sums speak of and its end; without an as-of the newest with readings."""
    if wanted.as_of is not None:
        return wanted.as_of, end_of(wanted.as_of, fleet_zone)
    days = work.day_range()
    return (EPOCH if days is None else EPOCH + timedelta(days=days[1])), None


def _budget_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:
    rows = budget_rows(work, *_known(work, wanted, fleet_zone))
    return [row for row in rows if wanted.depot in ("", row["depot"])]


def _spending_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:
    """Give what repairs of a period have cost by cause; the last year where no period is named."""
    as_of, known_at = _known(work, wanted, fleet_zone)
    ground = gather(work, as_of, known_at)
    if ground is None:
        return []
    own = narrowed(ground, vehicle=wanted.vehicle, depot=wanted.depot)
    period = usual_period(ground, wanted.from_day, wanted.to_day)
    return spending_rows(measure(work, own, period, known_at), own)


def _record_rows(work: Work, wanted: Wanted, fleet_zone: str) -> list[Row]:
    """Give the track record of the tickets raised in a period; of all where none is named."""
    as_of, known_at = _known(work, wanted, fleet_zone)
    ground = gather(work, as_of, known_at)
    if ground is None:
        return []
    own = narrowed(ground, vehicle=wanted.vehicle, depot=wanted.depot)
    zone = ZoneInfo(fleet_zone)
    kept = [one for one in own.tickets if _within(one.raised_at.astimezone(zone).date(), wanted)]
    names = {one.ticket for one in kept}
    stated = [pair for pair in stated_by(work, known_at) if pair[0].ticket in names]
    period = None
    if wanted.from_day or wanted.to_day:
        period = Period(first=wanted.from_day or EPOCH, last=wanted.to_day or as_of)
    return record_rows(gather_record(own, kept, stated, as_of, period), as_of)


_ROWS: Final[Mapping[str, Callable[[Work, Wanted, str], list[Row]]]] = {
    "tickets": ticket_rows,
    "trends": trend_rows,
    "risk": risk_rows,
    "budget": _budget_rows,
    "cost_per_cause": _spending_rows,
    "track_record": _record_rows,
}
