"""The coverage page: what cannot be seen, and who can mend it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.coverage import (
    CoverageLine,
    CoverageView,
    Doubt,
    FalseAlarms,
    Gap,
    Held,
    Outage,
    Refused,
    SheetGap,
    UnknownName,
)
from dashboards.rows import Learning
from dashboards.setup.names import NameLine
from ingest.records import SpecSheet, Vehicle
from models.findings import Assessment
from models.quality.coverage import LEARNING_DAYS
from service.auth.rights import may
from service.store import Absence, KeptRefusal, Work
from service.tickets.remarks import DOUBTS
from service.web.api.refusals import release
from service.web.errors import BadQuery
from service.web.forms import Form, go, read_form
from service.web.pages.drives import drive_for
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import count_words
from service.web.pages.situation import Situation, load_situation
from service.web.pages.tray import waiting_names
from service.web.query import choose, number_day
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])
settling = APIRouter(dependencies=[Depends(allow("names"))])

REFUSALS_READ: Final = 500
"""Newest refused items that samples are taken from; counts are over all; chosen by us."""

HELD_SHOWN: Final = 50
"""Held snapshots that can be chosen on the page; chosen by us."""

RELEASABLE: Final = frozenset({"unknown-vehicle", "conflicting-repeat", "future-time"})
"""Reasons that can go away by themselves or by registering a vehicle."""

STOPPED_TOGETHER: Final = 5
"""Vehicles that stop on one day and are told in one notice; chosen by us."""

_SILENT: Final = frozenset({"no_data", "silent", ""})
_UNUSABLE: Final = frozenset({"no_usable_state"})


@router.get("/coverage")
def coverage_page(request: Request) -> HTMLResponse:
    """Say what cannot be judged, why, and who must act, for manager and integrator."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
        sheets = {one.sheet: one for one in work.sheets(as_of_day=number_day(situation.today))}
        learned = count_learned(work, situation.newest.assessment)
        refusals = _load_refusals(work)
        view = make_view(situation, sheets, refusals, learned)
    if may(reader_of(request).role, "names"):
        view = replace(view, held=_held(refusals, situation.zone))
    frame = make_frame(request, "Coverage", newest=situation.newest, data_up_to=situation.data_up_to)
    return show(view, frame)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusals:
    """What was refused: counts over everything held, and the newest of each reason as a sample."""

    counts: Mapping[tuple[str, str], int]
    newest: Mapping[tuple[str, str], KeptRefusal]
    held: tuple[KeptRefusal, ...]
    names: tuple[NameLine, ...]
    left_out: int


def _load_refusals(work: Work) -> Refusals:
    newest: dict[tuple[str, str], KeptRefusal] = {}
    rows = work.refusals(limit=REFUSALS_READ).rows
    unknown = work.unknown_names()
    for one in rows:
        newest.setdefault((one.kind, one.code), one)
    return Refusals(
        counts=work.refusal_counts(),
        newest=newest,
        held=tuple(one for one in rows if one.kind == "quarantined")[:HELD_SHOWN],
        names=waiting_names(work, unknown),
        left_out=sum(one.count for one in unknown if not one.name),
    )


def _held(refusals: Refusals, zone: ZoneInfo) -> tuple[Held, ...]:
    return tuple(
        Held(
            number=one.number,
            code=one.code,
            detail=one.detail,
            vehicle=one.vehicle,
            source=one.source,
            received=one.received_at.astimezone(zone),
        )
        for one in refusals.held
    )


@settling.post("/coverage/held")
def settle_held(request: Request, form: Form = Depends(read_form)) -> Response:
    """Let held snapshots in, or list them no more, with a reason; what still cannot come in stays held."""
    shell, who, reason = shell_of(request), reader_of(request).login, form.get("reason")
    numbers = [int(one) for one in form.all("number") if one.isdecimal()]
    what = choose("do", form.get("do"), ("release", "discard"))
    if not numbers or not reason:
        raise BadQuery("number and reason", "nothing", "at least one snapshot and a reason")
    if what == "discard":
        with shell.store.begin() as work:
            now = shell.clock.now()
            count = work.discard(numbers, now=now)
            named = ", ".join(str(one) for one in numbers)
            work.log_event(
                at=now, who=who, what="discarded", subject=f"refusal {named}", before=str(count), after=reason
            )
            work.commit()
        return go("/coverage#aside", saved="discarded")
    for number in numbers:
        with shell.store.begin() as work:
            release(shell, work, number, who, reason=reason)
            work.commit()
    return go("/coverage#aside", saved="released")


def count_learned(work: Work, said: Assessment | None, vehicle: str = "") -> dict[str, Learning]:
    """Count how far the baselines of learning vehicles have come, of one vehicle or all that learn."""
    if said is None:
        return {}
    names = [one.vehicle for one in said.vehicles if one.word == "learning" and vehicle in ("", one.vehicle)]
    days = work.days_in_state("warm_idle", names, up_to_day=said.day) if names else {}
    return {name: Learning(series="@warm_idle", have=have, need=LEARNING_DAYS) for name, have in days.items()}


def make_view(
    situation: Situation, sheets: Mapping[str, SpecSheet], refusals: Refusals, learned: Mapping[str, Learning]
) -> CoverageView:
    """Put the page together.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    sheets : mapping of str to SpecSheet
        Sheets on file, by name.
    refusals : Refusals
        What was refused.
    learned : mapping of str to Learning
        How far each learning vehicle has come.

    Returns
    -------
    CoverageView
        Vehicles that stopped together are one notice and stay in the list.
    """
    lines = [
        _line(one, situation, sheets, learned) for one in situation.vehicles if gap_of(one.vehicle, situation)
    ]
    lines += [_away(vehicle, absence, situation) for vehicle, absence in sorted(situation.off_road.items())]
    lines.sort(key=lambda line: (_ORDER.index(line.kind), line.vehicle))
    return CoverageView(
        counts=count_words(situation.words.values()),
        lines=tuple(lines),
        outages=_outages(situation, lines),
        without_sheet=_sheet_gaps(situation.vehicles, sheets),
        quarantined=_refused("quarantined", refusals, situation.zone),
        rejected=_refused("rejected", refusals, situation.zone),
        unknown_names=tuple(
            UnknownName(
                name=one.name,
                count=one.count,
                sample=", ".join(one.samples),
                devices=len(one.devices) + one.more_devices,
            )
            for one in refusals.names
        ),
        held=(),
        left_out=refusals.left_out,
        doubts=_doubts(situation),
        false_alarms=false_alarms_of(said.notes) if (said := situation.newest.assessment) else None,
    )


def _doubts(situation: Situation) -> tuple[Doubt, ...]:
    said, serving = situation.newest.assessment, {one.vehicle for one in situation.vehicles}
    return tuple(
        Doubt(vehicle=one.vehicle, series=one.series, reason=DOUBTS[one.reason])
        for one in (() if said is None else said.unusable)
        if one.vehicle in serving
    )


def false_alarms_of(notes: Iterable[str]) -> FalseAlarms | None:
    """Read out of an assessment's notes what is to be expected by chance.

    Examples
    --------
    >>> false_alarms_of(["chance:12:2", "run_length:1000"])
    FalseAlarms(months=1000, shown=12, chance=2)
    >>> false_alarms_of([]) is None
    True
    """
    found = {code: values for code, *values in (note.split(":") for note in notes)}
    if "run_length" not in found:
        return None
    shown, chance = found.get("chance", ("0", "0"))
    return FalseAlarms(months=int(found["run_length"][0]), shown=int(shown), chance=int(chance))


_ORDER: Final[tuple[Gap, ...]] = ("silent", "unusable", "partial", "learning", "off_road")


def gap_of(vehicle: str, situation: Situation) -> Gap | None:
    """Tell the kind of a vehicle's gap.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    situation : Situation
        How the fleet stands.

    Returns
    -------
    Gap or None
        None for a vehicle that can be judged.
    """
    state = situation.states.get(vehicle)
    if state is None or state.reason in _SILENT:
        return "silent" if state is None or state.word == "cannot_say" else None
    if state.word == "learning":
        return "learning"
    if state.word != "cannot_say":
        return None
    return "unusable" if state.reason in _UNUSABLE else "partial"


def _line(
    vehicle: Vehicle, situation: Situation, sheets: Mapping[str, SpecSheet], learned: Mapping[str, Learning]
) -> CoverageLine:
    state = situation.states.get(vehicle.vehicle)
    seen = situation.seen.get(vehicle.vehicle)
    taken = None if seen is None else seen.taken_at
    reason = "no_data" if state is None else state.reason
    if state is None and taken is not None:
        reason = "learning"
    return CoverageLine(
        vehicle=vehicle.vehicle,
        depot=vehicle.depot,
        kind=gap_of(vehicle.vehicle, situation) or "silent",
        reason=reason,
        last_reading_on=None if taken is None else taken.astimezone(situation.zone).date(),
        missing=_MISSING.get(reason, ()),
        drive=drive_for(reason, sheets.get(vehicle.spec_sheet)),
        learning=(learned[vehicle.vehicle],) if vehicle.vehicle in learned else (),
    )


def _away(vehicle: str, absence: Absence, situation: Situation) -> CoverageLine:
    seen = situation.seen.get(vehicle)
    taken = None if seen is None else seen.taken_at
    return CoverageLine(
        vehicle=vehicle,
        depot="",
        kind="off_road",
        reason="off_road",
        last_reading_on=None if taken is None else taken.astimezone(situation.zone).date(),
        since=absence.since,
        until=absence.until,
    )


_MISSING: Final[Mapping[str, tuple[str, ...]]] = {
    "no_warm_idle": ("warm_idle",),
    "no_cruise": ("cruise",),
    "no_soak": ("koeo_soak",),
}


def _outages(situation: Situation, lines: Iterable[CoverageLine]) -> tuple[Outage, ...]:
    """Find loggers that stopped on one day: they have a common cause, and make one notice."""
    silent: dict[date, list[CoverageLine]] = {}
    for line in lines:
        if line.kind == "silent" and line.last_reading_on is not None:
            silent.setdefault(line.last_reading_on, []).append(line)
    found = []
    for _, stopped in sorted(silent.items()):
        if len(stopped) < STOPPED_TOGETHER:
            continue
        depots = {line.depot for line in stopped}
        last = [situation.seen[line.vehicle].taken_at for line in stopped]
        since = max(moment for moment in last if moment is not None)
        shared = f"depot {depots.pop()}" if len(depots) == 1 and "" not in depots else "the same day"
        found.append(Outage(vehicles=len(stopped), since=since.astimezone(situation.zone), shared=shared))
    return tuple(found)


def _sheet_gaps(vehicles: Iterable[Vehicle], sheets: Mapping[str, SpecSheet]) -> tuple[SheetGap, ...]:
    gaps: dict[str, list[str]] = {}
    for vehicle in vehicles:
        if vehicle.spec_sheet not in sheets:
            gaps.setdefault(vehicle.spec_sheet, []).append(vehicle.vehicle)
    return tuple(SheetGap(sheet=sheet, vehicles=tuple(found)) for sheet, found in sorted(gaps.items()))


def _refused(kind: str, refusals: Refusals, zone: ZoneInfo) -> tuple[Refused, ...]:
    lines = []
    for (found_kind, code), count in sorted(refusals.counts.items(), key=lambda item: -item[1]):
        sample = refusals.newest.get((found_kind, code))
        if found_kind != kind or sample is None:
            continue
        lines.append(
            Refused(
                code=code,
                count=count,
                sample=sample.detail,
                newest=sample.received_at.astimezone(zone),
                releasable=code in RELEASABLE,
            )
        )
    return tuple(lines)
