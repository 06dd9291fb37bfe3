"""What findings do to tickets: raise, update, wake, come back; and what their absence does: rest."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from models.findings import Finding
from service.tickets.bench import Bench, Fact
from service.tickets.checks import cause_table
from service.tickets.compose import Setting, filled
from service.tickets.effects import Facts
from service.tickets.matching import REPAIRS, WorkDone, best_match, is_fresh, is_quiet, last_closed
from service.tickets.ticket import Ticket
from service.tickets.words import date_words, short_name, to_day

_RESTABLE: Final = frozenset({"raised", "accepted", "reopened"})

MATERIAL_NOISE: Final = 0.5
MATERIAL_PROBABILITY: Final = 0.05
MATERIAL_DAYS: Final = 3
STALE_DAYS: Final = 7
"""A ticket's numbers are renewed when the level moved by half a day's noise, a probability by 5 points or the
limit date by 3 days, and at least every 7 days. Chosen by us: people must not be told of a change every
night, nor find their form outdated by one."""


def hear_findings(
    bench: Bench,
    findings: Sequence[Finding],
    *,
    records: Sequence[WorkDone],
    can_rest: bool,
    mute: frozenset[str],
    cured: frozenset[str] = frozenset(),
) -> None:
    """Bring one vehicle's findings to its tickets.

    Parameters
    ----------
    bench : Bench
        The vehicle's tickets.
    findings : sequence of Finding
        Strongest first.
    records : sequence of WorkDone
        Work done on the vehicle and complaints, any age.
    can_rest : bool
        Whether missing evidence means something: the vehicle reports and is judged.
    mute : frozenset of str
        Series that cannot be judged; a ticket about one does not rest.
    cured : frozenset of str
        Tickets whose readings after a repair say that it is cured. After a repair that failed the new
        baseline holds the fault, so missing evidence means nothing without them.
    """
    heard: dict[str, list[Finding]] = {}
    for finding in findings:
        number = _bring(bench, finding, records)
        if number:
            heard.setdefault(number, []).append(finding)
    for ticket in bench.open_tickets():
        if ticket.status != "done":
            eased = can_rest and (ticket.done_day is None or ticket.ticket in cured)
            _renew(bench, ticket, heard.get(ticket.ticket, []), can_rest=eased, mute=mute)


def _bring(bench: Bench, finding: Finding, records: Sequence[WorkDone]) -> str:
    """Find or raise the ticket of a finding and give its number; empty where there is none."""
    rules = bench.setting.rules
    waiting = bench.open_tickets()
    ticket = best_match([t for t in waiting if t.status != "done"], finding, rules)
    if ticket is not None:
        return ticket.ticket
    if finding.tier != "ticket" or finding.held_back:
        return ""
    if best_match([t for t in waiting if t.status == "done"], finding, rules) is not None:
        return ""  # its repair is still being proved; the proof decides
    before = last_closed(bench.tickets(), finding)
    if before is not None and _is_held(before, finding, records, bench.setting):
        return ""
    return _open(bench, finding, before, known=known_repairs(records)).ticket


def _is_held(before: Ticket, finding: Finding, records: Sequence[WorkDone], setting: Setting) -> bool:
    if before.status == "dismissed" and before.reason != "fixed_elsewhere":
        return is_quiet(before, finding, records, setting.rules)
    done_day = before.done_day
    if done_day is None:
        done_day = to_day((before.closed_at or before.updated_at).date())
    return not is_fresh(finding, as_of_day=setting.as_of_day, done_day=done_day, rules=setting.rules)


def known_repairs(records: Sequence[WorkDone]) -> tuple[str, ...]:
    """Name the repairs without a ticket number: evidence judged with them speaks in spite of them."""
    return tuple(record.number for record in records if record.kind in REPAIRS and not record.ticket)


def _open(bench: Bench, finding: Finding, before: Ticket | None, *, known: tuple[str, ...]) -> Ticket:
    setting = bench.setting
    linked = before is not None and _is_comeback(before, setting)
    empty = Ticket(
        ticket=bench.next_number(),
        vehicle=bench.vehicle,
        raised_at=setting.at,
        updated_at=setting.at,
        comeback_of=before.ticket if before is not None and linked else "",
        passed=known,
    )
    ticket = filled(empty, finding, (), setting)
    facts = _facts(finding)
    opened = bench.open(ticket, note=_reason(ticket, finding), facts=facts)
    if before is not None and linked:
        note = f"Came back as {opened.ticket}."
        bench.move(before, "comeback", facts=Facts(other=opened), note=note)
    return opened


def _is_comeback(before: Ticket, setting: Setting) -> bool:
    closed = before.closed_at or before.updated_at
    return setting.at - closed <= timedelta(days=setting.rules.comeback_days) and not before.comeback_by


def _renew(
    bench: Bench, ticket: Ticket, findings: Sequence[Finding], *, can_rest: bool, mute: frozenset[str]
) -> None:
    if not findings:
        _ease(bench, ticket, can_rest=can_rest, mute=mute)
        return
    if ticket.eased_on is not None:
        ticket = bench.change(ticket, replace(ticket, eased_on=None), event="update")
    spoken = [finding for finding in findings if not finding.held_back]
    strong = [finding for finding in spoken if finding.tier == "ticket"]
    if strong and ticket.status in _RESTABLE and ticket.resting_since is not None:
        since = date_words(ticket.resting_since)
        ticket = bench.move(ticket, "wake", note=f"The evidence is back; it had rested since {since}.")
    if not spoken or (ticket.resting_since is not None and not strong):
        return
    fresh = filled(ticket, spoken[0], spoken[1:], bench.setting)
    if _is_material(ticket, fresh, bench.setting):
        bench.change(ticket, fresh, event="update", note=_news(ticket, fresh), facts=_facts(spoken[0]))


def _ease(bench: Bench, ticket: Ticket, *, can_rest: bool, mute: frozenset[str]) -> None:
    """Count the quiet days of a ticket, and lay it to rest when they last."""
    if ticket.status not in _RESTABLE or ticket.resting_since is not None or ticket.detail is None:
        return
    if not can_rest or ticket.detail.readings[0].series in mute or "" in mute:
        return
    on, rules = bench.setting.on, bench.setting.rules
    if ticket.eased_on is None:
        bench.change(ticket, replace(ticket, eased_on=on), event="update")
    elif (on - ticket.eased_on).days >= rules.rest_days:
        since = date_words(ticket.eased_on)
        bench.move(ticket, "rest", note=f"The evidence has eased since {since}; resting, not closed.")


def _is_material(before: Ticket, after: Ticket, setting: Setting) -> bool:
    if before.detail is None or after.detail is None:
        return True
    # A ticket's words, cause or verdict never lag behind; its decimals may, for a few days.
    if _verdict(before) != _verdict(after):
        return True
    noise = after.detail.readings[0].noise
    then, now = before.reaches_limit_on, after.reaches_limit_on
    return (
        abs((after.value or 0.0) - (before.value or 0.0)) >= MATERIAL_NOISE * noise > 0
        or abs((after.probability_30d or 0.0) - (before.probability_30d or 0.0)) >= MATERIAL_PROBABILITY
        or (then is None) != (now is None)
        or (then is not None and now is not None and abs((now - then).days) >= MATERIAL_DAYS)
        or (setting.on - before.detail.versions.data_up_to).days >= STALE_DAYS
    )


def _verdict(ticket: Ticket) -> tuple[object, ...]:
    detail = ticket.detail
    return (
        ticket.priority,
        ticket.cause_1,
        ticket.parameter,
        ticket.state,
        ticket.direction,
        ticket.due_by,
        ticket.series,
        ticket.consequence,
        (ticket.limit_low, ticket.limit_high, ticket.depot, ticket.spec_sheet),
        None if detail is None else (detail.readings[0].outside, detail.versions.revision),
    )


def _news(before: Ticket, after: Ticket) -> str:
    """Say what a person would notice; empty text when only decimals moved."""
    news = []
    if before.cause_1 != after.cause_1 and after.cause_1:
        news.append(f"Likeliest cause is now: {cause_table().causes[after.cause_1].words}.")
    if before.priority != after.priority:
        news.append(f"Priority is now {after.priority.replace('_', ' ')}.")
    was_outside = before.detail is not None and before.detail.readings[0].outside
    if after.detail is not None and after.detail.readings[0].outside and not was_outside:
        news.append("The limits are left.")
    added = [short_name(name) for name in after.series if name not in before.series]
    if added:
        news.append(f"Now also shown by: {', '.join(added)}.")
    return " ".join(news)


def _reason(ticket: Ticket, finding: Finding) -> str:
    words = cause_table().causes[ticket.cause_1].words if ticket.cause_1 else "no cause named"
    what = {"limit": "the sheet's limits are left", "outlier": "the vehicle stands apart from its like"}
    return f"Raised: {what.get(finding.rule, 'a drift passes the ticket level')}; likeliest cause: {words}."


def _facts(finding: Finding) -> dict[str, Fact]:
    return {
        "score": float(finding.score),
        "ticket_level": float(finding.ticket_level),
        "series": finding.lead.series,
        "level": float(finding.lead.level),
        "probability_30d": float(finding.probability_30d),
    }
