"""What each form and call that changes something is called in the event log."""

from collections.abc import Mapping
from typing import Final

STEPS: Final[Mapping[str, str]] = {
    "/api/v1/vehicles": "vehicles loaded",
    "/api/v1/specs": "spec sheets loaded",
    "/api/v1/aliases": "names loaded",
    "/api/v1/work": "work loaded",
    "/api/v1/tickets/{ticket}/events": "step on a ticket",
    "/api/v1/refusals/{number}/release": "snapshot let in",
    "/plan/dates": "days given",
    "/plan/pins": "pin changed",
    "/complaints": "complaint logged",
    "/work/new": "ticket raised by hand",
    "/work/{ticket}/events": "step on a ticket",
    "/work/{ticket}/record": "finding recorded",
    "/work/{ticket}/record/undo": "finding taken back",
    "/coverage/held": "held-back snapshot settled",
    "/setup/costs": "cost file looked at",
    "/setup/costs/{number}": "cost file put in force",
    "/units": "units chosen",
    "/setup/vehicles/new": "vehicle added",
    "/setup/vehicles/{vehicle}": "vehicle changed",
    "/setup/vehicles/{vehicle}/off-road": "off the road",
    "/setup/vehicles/{vehicle}/service": "service changed",
    "/setup/vehicles/{vehicle}/erase": "vehicle erased",
    "/setup/sheets": "draft sheet",
    "/setup/sheets/{sheet}/{revision}/discard": "draft discarded",
    "/setup/sheets/{sheet}/{revision}/approve": "sheet in force",
    "/setup/names": "name mapped",
    "/setup/names/ignore": "name ignored",
    "/setup/names/heed": "name listed again",
    "/setup/devices": "token issued",
    "/setup/devices/rotate": "token replaced",
    "/setup/devices/revoke": "token revoked",
    "/setup/devices/move": "device moved",
    "/setup/load": "file looked at",
    "/setup/load/{number}": "file loaded",
    "/setup/retention/hold": "vehicle put on hold",
    "/setup/retention/lift": "hold lifted",
    "/account/password": "password changed",
    "/setup/people": "account made",
    "/setup/people/{login}": "account changed",
}
"""By address, as routes write it. What a step did not say itself is logged under these words."""

UNNAMED: Final = frozenset(
    {"/api/v1/snapshots", "/role", "/sign-in", "/sign-in/provider", "/sign-in/stay", "/sign-out"}
)
"""What leaves no such line: each snapshot names its device; signing in and out is logged as what it did."""


def step_of(method: str, route: str) -> str:
    """Name what a request does; one without words is named by its method and address."""
    return STEPS.get(route, f"{method} {route}")
