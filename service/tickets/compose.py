"""Fill a ticket from what a finding says: columns, evidence, checks and what would change the verdict."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Final

from models.findings import Finding, SeriesReading
from models.panel import SheetFacts
from service.tickets.checks import cautions_for, consequence_of, first_checks
from service.tickets.costs import CostTable
from service.tickets.matching import series_of
from service.tickets.priority import Stakes, due_by, gain_of, saved_by, word_for
from service.tickets.remarks import remark_lines
from service.tickets.rules import RULES_VERSION, Rules
from service.tickets.sentence import evidence
from service.tickets.ticket import PRIORITIES, Detail, Priority, Ticket, Versions
from service.tickets.track import TrackCounts, track_record
from service.tickets.words import (
    day_words,
    is_difference,
    is_relative,
    listed,
    number,
    relative_change,
    short_name,
    to_date,
    with_unit,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleFacts:
    """What a ticket says about its vehicle beside the readings."""

    depot: str = ""
    spec_sheet: str = ""
    sheet: SheetFacts | None = None


NO_FACTS: Final = VehicleFacts()


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What one evaluation knows apart from findings.

    Parameters
    ----------
    as_of_day : int
        Evaluation day [days since 1970-01-01].
    at : datetime
        Time that the evaluation stamps, aware UTC.
    method : str
        Name and version of the models.
    rules : Rules
        The owner's settings.
    vehicles : mapping of str to VehicleFacts
        By the fleet's own number.
    costs : CostTable or None
        The fleet's own cost table; None orders by consequence class.
    track : mapping of str to TrackCounts
        How earlier tickets ended, by likeliest cause.
    """

    as_of_day: int
    at: datetime
    method: str
    rules: Rules
    vehicles: Mapping[str, VehicleFacts] = field(default_factory=dict)
    costs: CostTable | None = None
    track: Mapping[str, TrackCounts] = field(default_factory=dict)

    @property
    def on(self) -> date:
        """Evaluation day as a date."""
        return to_date(self.as_of_day)


def filled(ticket: Ticket, finding: Finding, others: Sequence[Finding], setting: Setting) -> Ticket:
    """Give the ticket with the finding's numbers in it; status, people and history stay.

    Parameters
    ----------
    ticket : Ticket
        As it stands; a new one has only number, vehicle and times.
    finding : Finding
        The strongest one that bears on the ticket.
    others : sequence of Finding
        Further ones that bear on it.
    setting : Setting
        What the evaluation knows apart from findings.
    """
    facts = setting.vehicles.get(finding.vehicle, NO_FACTS)
    lead = finding.lead
    stakes = _stakes(finding, facts)
    limit_low = _date(lead.reaches_limit_low)
    priority = _priority(ticket, stakes, setting)
    named = [*finding.causes[:3], *[("", None)] * 3]
    detail = _detail(finding, others, facts, setting)
    series = [*ticket.series, *(name for one in (finding, *others) for name in series_of(one))]
    return replace(
        ticket,
        depot=facts.depot,
        spec_sheet=facts.spec_sheet,
        parameter=lead.parameter,
        state=lead.state,
        direction=lead.direction,
        value=lead.level,
        baseline=lead.baseline,
        limit_low=lead.limit_low,
        limit_high=lead.limit_high,
        drift_per_week=lead.drift_per_week,
        reaches_limit_on=_date(lead.reaches_limit_on),
        reaches_limit_low=limit_low,
        reaches_limit_high=_date(lead.reaches_limit_high),
        probability_30d=finding.probability_30d,
        priority=priority,
        priority_on=ticket.priority_on if priority == ticket.priority and ticket.detail else setting.on,
        cause_1=named[0][0],
        cause_1_p=named[0][1],
        cause_2=named[1][0],
        cause_2_p=named[1][1],
        cause_3=named[2][0],
        cause_3_p=named[2][1],
        evidence=detail.sentence,
        group=finding.group if ticket.group == "unknown" else ticket.group,
        series=tuple(dict.fromkeys(series)),
        unit=lead.unit,
        onset_day=finding.onset_day if ticket.onset_day is None else ticket.onset_day,
        score=finding.score,
        probability_fault=finding.probability_fault,
        probability_crossing=finding.probability_crossing,
        consequence=stakes.consequence,
        gain=None if setting.costs is None else gain_of(stakes, setting.costs),
        saved=None if setting.costs is None else saved_by(stakes, setting.costs),
        due_by=due_by(
            ticket.raised_at.date(), stakes.consequence, limit_low, as_of=setting.on, before=ticket.due_by
        ),
        detail=detail,
    )


def _priority(ticket: Ticket, stakes: Stakes, setting: Setting) -> Priority:
    """Let the word rise at once and fall slowly, so that it does not flicker at an edge."""
    word, rules = word_for(stakes, setting.costs), setting.rules
    if ticket.detail is None or PRIORITIES.index(word) <= PRIORITIES.index(ticket.priority):
        return word
    if ticket.priority_on is not None and (setting.on - ticket.priority_on).days < rules.calm_days:
        return ticket.priority
    likelier = min(1.0, stakes.probability_30d * (1.0 + rules.calm_share))
    word = word_for(replace(stakes, probability_30d=likelier), setting.costs)
    return PRIORITIES[max(PRIORITIES.index(word), PRIORITIES.index(ticket.priority))]


def _stakes(finding: Finding, facts: VehicleFacts) -> Stakes:
    readings = _all_readings(finding)
    return Stakes(
        probability_30d=finding.probability_30d,
        probability_crossing=finding.probability_crossing,
        probability_fault=finding.probability_fault,
        consequence=consequence_of(finding.causes),
        causes=finding.causes,
        recent_days=max(reading.recent_days for reading in readings),
        states=len({reading.state for reading in readings}),
        has_sheet=facts.sheet is not None,
    )


def _detail(finding: Finding, others: Sequence[Finding], facts: VehicleFacts, setting: Setting) -> Detail:
    readings: dict[str, SeriesReading] = {}
    for one in (finding, *others):
        for reading in _all_readings(one):
            readings.setdefault(reading.series, reading)
    sheet = facts.sheet
    top = finding.causes[0][0] if finding.causes else "unknown"
    return Detail(
        sentence=evidence(finding, sheet=sheet, as_of_day=setting.as_of_day),
        readings=tuple(readings.values()),
        quiet=finding.quiet,
        causes=finding.causes,
        checks=first_checks(finding.causes),
        cautions=cautions_for(finding.causes),
        also_looked_at=_also_looked_at(finding, tuple(readings.values())[1:]),
        would_change=_would_change(finding, setting),
        track_record=track_record(top, setting.track.get(top, TrackCounts())),
        versions=Versions(
            sheet=sheet.sheet if sheet else "",
            revision=sheet.revision if sheet else None,
            source=sheet.source if sheet else "",
            rule=finding.rule,
            method=finding.method,
            rules_version=RULES_VERSION,
            data_up_to=setting.on,
        ),
        notes=finding.notes,
    )


def _all_readings(finding: Finding) -> tuple[SeriesReading, ...]:
    rest = tuple(reading for reading in finding.series if reading.series != finding.lead.series)
    return (finding.lead, *rest)


def _also_looked_at(finding: Finding, moved: tuple[SeriesReading, ...]) -> tuple[str, ...]:
    quiet = set(finding.quiet)
    lines = [_moved_line(reading) for reading in moved]
    if any(name.startswith("VPWR@") for name in quiet):
        lines.append("Supply voltage is steady.")
    if "ECT-IAT@koeo_soak" in quiet:
        lines.append("Coolant and intake air agree after a soak.")
    lines.extend(_bank_lines(quiet, {reading.series for reading in (finding.lead, *moved)}))
    if quiet:
        lines.append(f"Did not move: {listed(tuple(short_name(name) for name in finding.quiet))}.")
    if not lines:
        lines.append("No other series of this vehicle can be judged yet.")
    return (*lines, *remark_lines(finding.notes))


def _moved_line(reading: SeriesReading) -> str:
    name = short_name(reading.series)
    if is_relative(reading.series):
        return f"Moved too: {name} by {relative_change(reading.baseline, reading.level):+.1f} %."
    difference = is_difference(reading.series)
    before = number(reading.baseline, reading.unit, difference=difference)
    after = number(reading.level, reading.unit, difference=difference)
    return f"Moved too: {name} from {before} to {with_unit(after, reading.unit)}."


def _bank_lines(quiet: set[str], moved: set[str]) -> list[str]:
    lines = []
    for state in ("warm_idle", "cruise"):
        one, other = f"LONGFT1@{state}", f"LONGFT2@{state}"
        if one in moved and other in moved:
            lines.append(f"Both banks moved ({state.replace('_', ' ')}).")
        elif (one in moved and other in quiet) or (other in moved and one in quiet):
            lines.append(f"Only one bank moved ({state.replace('_', ' ')}).")
    return lines


def _would_change(finding: Finding, setting: Setting) -> tuple[str, ...]:
    lead, rules = finding.lead, setting.rules
    back = lead.level - rules.proof_undone * (lead.level - lead.baseline)
    side = "or less" if lead.direction == "up" else "or more"
    if is_relative(lead.series):
        change = relative_change(lead.baseline, back)
        rest = f"Readings within {abs(change):.1f} % of its own normal"
    else:
        text = number(back, lead.unit, difference=is_difference(lead.series))
        rest = f"Readings of {with_unit(text, lead.unit)} {side}"
    return (
        f"{rest} on {rules.proof_days} days ({short_name(lead.series)}) speak against it.",
        f"If codes were cleared, the battery was disconnected or work was done since "
        f"{day_words(finding.onset_day)}, record it: the comparison then starts anew.",
        "A driver's complaint makes it likelier; an inspection that finds nothing makes it less likely.",
    )


def _date(day: int | None) -> date | None:
    return None if day is None else to_date(day)
