"""How the fleet stands now: what list pages have in common, in a handful of statements."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from dashboards.rows import Urgency
from ingest.records import Vehicle
from models.findings import VehicleState
from service.store import Absence, LastSeen, Work
from service.tickets.priority import vehicle_words
from service.tickets.ticket import Ticket
from service.web.memory import Newest
from service.web.pages.frames import zone_of
from service.web.shell import Shell
from service.web.urgency import as_urgency


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """The fleet as the newest evaluation, today's tickets and the newest readings show it.

    Parameters
    ----------
    now : datetime
        Aware.
    today : date
        In the fleet's zone.
    zone : ZoneInfo
        The fleet's.
    newest : Newest
        The newest evaluation.
    vehicles : tuple of Vehicle
        Registered vehicles in service today, sorted by number; those off the road are left out.
    off_road : mapping of str to Absence
        Vehicles that are off the road today.
    registered : int
        Vehicles registered at all.
    states : mapping of str to VehicleState
        How each could be judged; vehicles that no evaluation has seen are missing.
    words : mapping of str to Urgency
        Standing of each vehicle in service.
    open_tickets : tuple of Ticket
        Sorted by number.
    seen : mapping of str to LastSeen
        Newest reading of each vehicle.
    zones : mapping of str to ZoneInfo
        Time zones of vehicles that name one.
    """

    now: datetime
    today: date
    zone: ZoneInfo
    newest: Newest
    vehicles: tuple[Vehicle, ...]
    registered: int
    states: Mapping[str, VehicleState]
    words: Mapping[str, Urgency]
    open_tickets: tuple[Ticket, ...]
    seen: Mapping[str, LastSeen]
    zones: Mapping[str, ZoneInfo]
    off_road: Mapping[str, Absence] = field(default_factory=dict)

    @property
    def data_up_to(self) -> datetime | None:
        """When the newest reading was taken; None before the first."""
        return max((one.taken_at for one in self.seen.values() if one.taken_at), default=None)

    def today_of(self, vehicle: str) -> date:
        """Give the day at a vehicle's depot: what is due on the 8th is late there from midnight on."""
        zone = self.zones.get(vehicle)
        return self.today if zone is None else self.now.astimezone(zone).date()

    def tickets_by_vehicle(self) -> dict[str, list[Ticket]]:
        """Group the open tickets by vehicle."""
        found: dict[str, list[Ticket]] = {}
        for ticket in self.open_tickets:
            found.setdefault(ticket.vehicle, []).append(ticket)
        return found


def load_situation(shell: Shell, work: Work) -> Situation:
    """Load how the fleet stands.

    Parameters
    ----------
    shell : Shell
        Settings, clock and memory.
    work : Work
        Unit of work of the request.

    Returns
    -------
    Situation
        A vehicle that no evaluation has seen cannot be judged; one whose service starts later is left out.
    """
    zone, now = zone_of(shell), shell.clock.now()
    today = now.astimezone(zone).date()
    newest = shell.memory.newest(work)
    registered = work.vehicles()
    absent = work.absent(today)
    serving = tuple(
        one
        for one in registered
        if (one.in_service_on is None or one.in_service_on <= today) and one.vehicle not in absent
    )
    open_tickets = work.tickets(open_only=True)
    states = {} if newest.assessment is None else {one.vehicle: one for one in newest.assessment.vehicles}
    known = [
        states.get(one.vehicle)
        or VehicleState(vehicle=one.vehicle, word="cannot_say", reason="", last_day=None, readings=0)
        for one in serving
    ]
    words = {name: as_urgency(word) for name, word in vehicle_words(known, open_tickets).items()}
    return Situation(
        now=now,
        today=today,
        zone=zone,
        newest=newest,
        vehicles=serving,
        registered=len(registered),
        states=states,
        words=words,
        open_tickets=open_tickets,
        seen={one.vehicle: one for one in work.last_seen()},
        zones={one.vehicle: ZoneInfo(one.time_zone) for one in registered if one.time_zone},
        off_road={vehicle: one for vehicle, one in absent.items() if not one.gone},
    )
