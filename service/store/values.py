"""Plain values that the store takes and returns beside those of the other rooms. Times are aware UTC."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.batch import Refusal
from ingest.records import CostLine

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What became of one arrival.

    Parameters
    ----------
    accepted, duplicates : int
        Snapshots newly kept, and snapshots that were kept already (or twice in the same arrival).
    quarantined, rejected : tuple of Refusal
        In order of their place in the arrival; the store's own findings included.
    """

    accepted: int
    duplicates: int
    quarantined: tuple[Refusal, ...] = ()
    rejected: tuple[Refusal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """What became of loaded rows: each is counted once, or refused."""

    added: int = 0
    changed: int = 0
    same: int = 0
    refused: tuple[Refusal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Page(Generic[T]):
    """One page of a list; `cursor` asks for the next one and is empty after the last."""

    rows: tuple[T, ...]
    cursor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSnapshot:
    """One stored snapshot.

    Parameters
    ----------
    vehicle, device, given_id : str
        As sent; empty where not given.
    taken_at, received_at : datetime
        Aware UTC.
    day : int
        Local day in the vehicle's time zone [days since 1970-01-01].
    odometer_km : float or None
        [km]
    claim, state : str
        Declared and supported operating state; empty where none.
    state_note : str
        Why `state` is empty or differs from `claim`.
    values : mapping of str to float
        Readings in default units by code; missing ones are left out.
    switches : mapping of str to bool
        Switches that were reported.
    extra : str
        JSON object of what has no column; empty where there is none.
    """

    vehicle: str
    taken_at: datetime
    received_at: datetime
    day: int
    device: str = ""
    given_id: str = ""
    odometer_km: float | None = None
    claim: str = ""
    state: str = ""
    state_note: str = ""
    values: Mapping[str, float] = field(default_factory=dict)
    switches: Mapping[str, bool] = field(default_factory=dict)
    extra: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRefusal:
    """One refused item as it is kept.

    Parameters
    ----------
    number : int
        Running number, for listing and releasing.
    kind : str
        `quarantined` or `rejected`.
    code, detail, field, vehicle, payload
        As in `ingest.batch.Refusal`.
    source : str
        Who sent it: name of a token or file.
    received_at : datetime
        When it came.
    released_at : datetime or None
        When it was released; None while it is held.
    """

    number: int
    kind: str
    code: str
    detail: str
    field: str
    vehicle: str
    payload: str
    source: str
    received_at: datetime
    released_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownName:
    """A name that no catalogue entry or alias explains; `name` is empty for dropped personal fields."""

    source: str
    name: str
    count: int
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Rereading:
    """How far stored snapshots have been read again; `finished_at` is None while it goes on.

    Parameters
    ----------
    put_by, put_at
        Who asked for it, and when.
    seen, changed : int
        Snapshots looked at so far, and those among them that gained a value.
    unconverted : int
        Manifold vacuums among them that stay as they came, for want of a barometer or for being negative.
    """

    put_by: str
    put_at: datetime
    seen: int
    changed: int
    unconverted: int
    finished_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NameSample:
    """One value of an unknown name from one device, as it came."""

    name: str
    device: str
    sample: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OffRoad:
    """Days on which a vehicle is off the road and is not expected to send; `until` None: not known yet."""

    number: int
    vehicle: str
    since: date
    until: date | None
    reason: str
    put_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Absence:
    """Why a vehicle is not in service on a day: gone for good, or off the road (`until` None: not known)."""

    gone: bool
    since: date
    until: date | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceLink:
    """A device in a vehicle between two days, as a person says it; `until` None: still there."""

    number: int
    device: str
    vehicle: str
    since: date
    until: date | None
    put_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenUse:
    """When a token was last used, and how far its sender's clock was ahead then [s]; None where not known."""

    name: str
    seen_at: datetime | None
    clock_offset_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file that somebody looks at before loading it."""

    number: int
    kind: str
    format: str
    file: str
    body: bytes
    put_by: str
    put_at: datetime
    loaded_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Erasure:
    """How many rows of what were erased, when and by whom; `name` is what the vehicle is called since."""

    name: str
    at: datetime
    put_by: str
    rows: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A vehicle of which nothing may be removed; `lifted_at` is None while that holds."""

    number: int
    vehicle: str
    reason: str
    put_by: str
    put_at: datetime
    lifted_by: str = ""
    lifted_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """First day that is kept of each class [days since 1970-01-01]; None where all of it is kept."""

    readings: int | None = None
    trends: int | None = None
    tickets: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """What retention removes of one table in one calendar month.

    Parameters
    ----------
    kind : str
        Class: `readings`, `trends` or `tickets`.
    part : str
        Name of the table.
    from_day, to_day : int
        First and last day [days since 1970-01-01].
    vehicles : int
        Of how many vehicles; 0 where the table knows none.
    rows : int
        How many rows.
    """

    kind: str
    part: str
    from_day: int
    to_day: int
    vehicles: int
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """A portion that was removed, when and by whom."""

    at: datetime
    put_by: str
    portion: Portion


@dataclass(frozen=True, slots=True, kw_only=True)
class LastSeen:
    """Newest reading of one vehicle; None where there is none yet."""

    vehicle: str
    taken_at: datetime | None
    received_at: datetime | None
    odometer_km: float | None
    device: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circumstances:
    """What belongs to the rows of `Readings` beside their values; n rows in the same order.

    Parameters
    ----------
    odometer_km : float64 array of shape (n,)
        NaN where not reported [km].
    received_us : int64 array of shape (n,)
        When each was received [microseconds since 1970-01-01T00:00Z].
    """

    odometer_km: NDArray[np.float64]
    received_us: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """What one vehicle was exposed to between two days.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    days : int
        Days with at least one reading.
    distance_km : float or None
        Odometer, largest less smallest [km]; None with fewer than two odometer readings.
    odometer_days : int
        Days between the first and the last day with an odometer reading; 0 with fewer than two.
    """

    vehicle: str
    days: int
    distance_km: float | None
    odometer_days: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineUse:
    """How long one vehicle's engine was seen running: days with readings of the time since start, and hours.

    Each run counts with the longest time since its start that was read [h]: it ran at least so long.
    """

    vehicle: str
    days: int
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of a job in the ledger; `outcome` is empty while it runs, then `done` or `failed`."""

    job: str
    due_at: datetime
    owner: str
    attempt: int
    started_at: datetime
    beat_at: datetime
    finished_at: datetime | None = None
    outcome: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    error: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenReport:
    """A weekly report as it was; `body` is its JSON text, never changed."""

    week: str
    body: str
    frozen_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One account. Workshop and office staff only; drivers have none.

    Parameters
    ----------
    login : str
        Unique, lower case.
    role : str
        One of the roles people may have.
    password : str
        Encoded password hash; never the password.
    disabled_at : datetime or None
        None where not disabled.
    depot : str
        Depot that comes first for this person; empty for none.
    depot_only : bool
        Whether vehicles and tickets of other depots are kept from this person.
    password_until : datetime or None
        End of a password that somebody else set; None for one that the person chose.
    subject : str
        Digest of who it is at the sign-in provider; empty while nobody has come through it.
    """

    login: str
    role: str
    password: str
    created_at: datetime
    disabled_at: datetime | None = None
    preferences: Mapping[str, str] = field(default_factory=dict)
    depot: str = ""
    depot_only: bool = False
    password_until: datetime | None = None
    subject: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """One signed-in browser, found by the digest of its cookie."""

    digest: str
    login: str
    created_at: datetime
    expires_at: datetime
    seen_at: datetime
    way: str = "password"


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """A browser on its way to the sign-in provider and back.

    Parameters
    ----------
    digest : str
        Of the cookie that only this browser has.
    source : str
        Key of the address that it left from.
    at : datetime
        When, aware.
    following : str
        Address of this service to go to afterwards.
    action : str
        Address of a form that came too late; empty for none.
    draft : tuple of (name, text)
        That form's fields.
    """

    digest: str
    source: str
    at: datetime
    following: str = "/"
    action: str = ""
    draft: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempts:
    """Failed sign-ins counted under one key.

    Parameters
    ----------
    failures : int
        Since the last good one.
    locked_until : datetime or None
        None where the next try may come at once.
    """

    failures: int = 0
    locked_until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """On whose behalf a unit of work writes, for the event log.

    Parameters
    ----------
    who : str
        Login of the person, or name of the token.
    what : str
        What the request is; logged where the work does not say it more exactly.
    subject : str
        What it is about.
    source : str
        Address it came from; may be empty.
    at : datetime
        Aware.
    """

    who: str
    what: str
    subject: str
    source: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One line of the event log: who did what to which thing, and what it was before and after."""

    number: int
    at: datetime
    who: str
    what: str
    subject: str
    before: str = ""
    after: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost(CostLine):
    """A line of the cost table as kept; `revision` is the table's that brought it, counted from 1."""

    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CostRevision:
    """One revision of the cost table: how many causes it changed, who brought it and when."""

    revision: int
    causes: int
    put_by: str
    put_at: datetime
    currency: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptWork:
    """One work record as kept, with when and by whom it was recorded.

    `odometer_km`, `relearn_done` and `parts` come from the form of findings; None and empty from files.
    """

    number: str
    vehicle: str
    done_at: datetime
    day: int
    kind: str
    cause: str
    ticket: str
    parts_cost: float | None
    labour_hours: float | None
    notes: str
    recorded_at: datetime
    recorded_by: str
    odometer_km: float | None = None
    relearn_done: bool | None = None
    parts: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSheet:
    """Standing of one revision of a spec sheet.

    Parameters
    ----------
    sheet, revision
        Which one.
    standing : str
        `draft` or `in_force`.
    in_force_from : date or None
        First day in force; None for the whole history.
    put_by, approved_by : str
        Who brought it, who put it in force.
    """

    sheet: str
    revision: int
    standing: str
    in_force_from: date | None
    put_by: str
    approved_by: str
    put_at: datetime
    approved_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """Whether the store can be used: reachable, and its tables as this version needs them."""

    database: str
    reachable: bool
    revision: str
    wanted: str
    detail: str = ""

    @property
    def ready(self) -> bool:
        """Reachable and at the right revision."""
        return self.reachable and self.revision == self.wanted
