"""What people may do to a ticket beside its life-cycle: the status stays, and the history tells."""

from collections.abc import Mapping
from typing import Final, Literal, get_args

from service.tickets.lifecycle import PEOPLE
from service.tickets.ticket import Role, Ticket, is_open

Aside = Literal["assign", "comment", "pin", "unpin", "sheet_wrong"]
"""What may be done without moving a ticket."""

ASIDES: Final[tuple[Aside, ...]] = get_args(Aside)

_ROLES: Final[Mapping[Aside, frozenset[Role]]] = {
    "assign": frozenset({"lead", "manager"}),
    "comment": frozenset(PEOPLE),
    "pin": frozenset({"lead", "manager"}),
    "unpin": frozenset({"lead", "manager"}),
    "sheet_wrong": frozenset({"mechanic", "lead"}),
}


def allowed_asides(ticket: Ticket, role: Role) -> tuple[Aside, ...]:
    """Name what a role may do to a ticket without moving it.

    A closed ticket takes comments only: nobody has it, and no plan keeps it. Whoever says that a sheet is
    wrong needs a sheet.
    """
    return tuple(one for one in ASIDES if role in _ROLES[one] and _fits(ticket, one))


def _fits(ticket: Ticket, one: Aside) -> bool:
    if one == "comment":
        return True
    if not is_open(ticket):
        return False
    if one == "unpin":
        return ticket.pinned_until is not None
    return one != "sheet_wrong" or bool(ticket.spec_sheet)
