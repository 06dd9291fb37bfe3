"""What the reader of a ticket may do with it now, as buttons and small forms."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from dashboards.ticket import Action
from service.tickets import lifecycle
from service.tickets.aside import Aside, allowed_asides
from service.tickets.effects import PAUSE_REASONS, Event
from service.tickets.errors import TransitionRefused
from service.tickets.rules import Rules
from service.tickets.ticket import DISMISS_REASONS, Ticket
from service.web.moving import RECORDING, Mover, allowed_events

DEFER_REASONS: Final = ("needed_on_the_road", "next_service", "workshop_full", "risk_accepted")
REOPEN_REASONS: Final = ("not_fixed", "closed_in_error")
PROVEN_BY: Final = ("own_reader", "road_test")
"""Reasons offered for a pick; programs may give others. Chosen by us, so that nobody needs to type."""

DEFER_DAYS: Final = 14
PIN_DAYS: Final = 7
"""Days ahead that forms fill in; chosen by us."""

_NOT_OFFERED: Final = RECORDING | {"comeback"}
"""Recorded through the form of findings; a comeback follows from a new ticket."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When somebody looks, and what stands around the ticket.

    Parameters
    ----------
    at : datetime
        Aware UTC.
    today : date
        In the vehicle's zone.
    hours : float
        Hours that the visit is expected to take [h].
    others : sequence of str
        Numbers of other open tickets of the vehicle.
    rules : Rules
        The owner's settings.
    """

    at: datetime
    today: date
    hours: float
    others: Sequence[str]
    rules: Rules


def offers_of(ticket: Ticket, mover: Mover, moment: Moment) -> tuple[Action, ...]:
    """List what somebody may do with a ticket, the life-cycle's steps first.

    Parameters
    ----------
    ticket : Ticket
        As it stands.
    mover : Mover
        The reader.
    moment : Moment
        When, and what stands around.

    Returns
    -------
    tuple of Action
        Empty for whoever only reads.
    """
    steps = [
        _step(event, ticket, moment)
        for event in allowed_events(ticket, mover)
        if event not in _NOT_OFFERED and _is_possible(event, ticket, mover, moment)
    ]
    asides = [_aside(one, ticket, moment) for one in asides_of(ticket, mover)]
    return (*steps, *asides)


def asides_of(ticket: Ticket, mover: Mover) -> tuple[Aside, ...]:
    """Name what somebody may do to a ticket without moving it."""
    return allowed_asides(ticket, mover.own[0]) if mover.own else ()


def _is_possible(event: Event, ticket: Ticket, mover: Mover, moment: Moment) -> bool:
    if event == "merge":
        return bool(moment.others)
    if event != "undo":
        return True
    try:
        role = mover.role_for(ticket, event)
        lifecycle.apply(ticket, event, role=role, at=moment.at, by=mover.name, rules=moment.rules)
    except TransitionRefused:
        return False
    return True


def _step(event: Event, ticket: Ticket, moment: Moment) -> Action:
    if event == "book":
        day = next_working_day(moment.today, moment.rules)
        return Action(event=event, needs=("on", "hours"), day=day, hours=round(moment.hours, 1))
    if event == "defer":
        return Action(
            event=event,
            needs=("on", "reason"),
            reasons=DEFER_REASONS,
            day=moment.today + timedelta(days=DEFER_DAYS),
            confirm=ticket.consequence == 1,
        )
    needs: dict[Event, tuple[tuple[str, ...], tuple[str, ...]]] = {
        "pause": (("reason",), PAUSE_REASONS),
        "dismiss": (("reason",), DISMISS_REASONS),
        "verify_by_hand": (("reason", "readings"), PROVEN_BY),
        "merge": (("other",), tuple(moment.others)),
        "reopen": (("reason",), REOPEN_REASONS),
    }
    asked, reasons = needs.get(event, ((), ()))
    return Action(event=event, needs=asked, reasons=reasons)


def _aside(one: Aside, ticket: Ticket, moment: Moment) -> Action:
    if one == "assign":
        return Action(event=one, needs=("assignee",), text=ticket.assignee)
    if one == "comment":
        return Action(event=one, needs=("note",))
    if one == "pin":
        return Action(event=one, needs=("until",), day=moment.today + timedelta(days=PIN_DAYS))
    return Action(event=one)


def next_working_day(today: date, rules: Rules) -> date:
    """Give the first working day after a day."""
    return next(
        day
        for day in (today + timedelta(days=ahead) for ahead in range(1, 15))
        if day.weekday() in rules.working_days
    )
