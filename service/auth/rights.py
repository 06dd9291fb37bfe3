"""Roles of people, and what each may do: one table, and one question asked of it."""

from collections.abc import Mapping
from typing import Final, Literal, get_args

Role = Literal["viewer", "mechanic", "lead", "manager", "analyst", "integrator", "admin"]
"""What a person is to the fleet; each account has one."""

Right = Literal[
    "read",
    "work",
    "complain",
    "plan",
    "money",
    "export",
    "sheets",
    "approve",
    "names",
    "vehicles",
    "devices",
    "costs",
    "people",
    "retention",
    "log",
]
"""What a route asks for.

read: pages that show; work: events of tickets, which of them is the life-cycle's own table; complain: record
a driver's complaint; plan: the plan of hours; money: costs at risk and budget; export: files; sheets, names,
vehicles, devices, costs: change them in the setup; approve: put a sheet in force that another person wrote;
people: accounts; retention: what is kept how long, and holds; log: the event log.
"""

ROLES: Final[tuple[Role, ...]] = get_args(Role)
RIGHTS: Final[tuple[Right, ...]] = get_args(Right)

ROLES_WITH: Final[Mapping[Right, tuple[Role, ...]]] = {
    "read": ROLES,
    "work": ("mechanic", "lead", "manager"),
    "complain": ("mechanic", "lead", "manager"),
    "plan": ("lead", "manager", "analyst"),
    "money": ("manager", "analyst", "admin"),
    "export": ("lead", "manager", "analyst", "integrator", "admin"),
    "sheets": ("integrator", "admin"),
    "approve": ("integrator", "admin"),
    "names": ("integrator", "admin"),
    "vehicles": ("integrator", "admin"),
    "devices": ("integrator", "admin"),
    "costs": ("manager", "analyst", "admin"),
    "people": ("admin",),
    "retention": ("admin",),
    "log": ("admin",),
}
"""Roles that have each right, in the order of `ROLES`."""

MASKED_FOR: Final[tuple[Role, ...]] = ("viewer", "analyst")
"""Roles that see only the last places of a VIN (ASVS 5.0.0 V8.2.3)."""


def may(role: str, right: Right) -> bool:
    """Tell whether a role has a right.

    Parameters
    ----------
    role : str
        One of `ROLES`; anything else, the empty one of nobody included, has no right.
    right : str
        One of `RIGHTS`.

    Examples
    --------
    >>> may("mechanic", "work"), may("viewer", "work"), may("", "read")
    (True, False, False)
    """
    return role in ROLES_WITH[right]
