"""What every page is set in: title, ways around, age of the data, notices, zone, units, form token."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

Units = Literal["metric", "us"]
"""How quantities are shown; everything comes in in the parameter's default unit."""

BannerKind = Literal["practice", "stale", "failed", "saved", "refused", "removed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One way to another page."""

    href: Annotated[str, "Address, from `dashboards.links`."]
    text: Annotated[str, "Words shown."]
    current: Annotated[bool, "Whether it is the page being read."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Banner:
    """One notice above the page."""

    kind: Annotated[BannerKind, "Which notice; its standing sentence is in `dashboards.words.BANNERS`."]
    detail: Annotated[str, "What follows the standing sentence; may be empty."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """How long the reader's sign-in lasts from the moment at which the page was made."""

    left_s: Annotated[int, "Time until it ends unless it is used [s]."]
    idle_s: Annotated[int, "Longest time without use [s]."]
    can_stay: Annotated[bool, "Whether using it puts the end off; not once its longest time runs out."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What surrounds every page. Times come in already in the zone that is to be shown."""

    title: Annotated[str, "Heading of the page: its one h1."]
    nav: Annotated[tuple[Link, ...], "Main ways, in order, the current one marked."]
    zone: Annotated[str, "Name of the time zone shown, such as `Europe/Oslo`; empty when no times are."] = ""
    data_up_to: Annotated[datetime | None, "Newest reading received; None: none yet, or not said here."] = (
        None
    )
    assessed_at: Annotated[
        datetime | None, "End of the last good evaluation; None: none yet, or not said."
    ] = None
    banners: Annotated[tuple[Banner, ...], "Notices, the gravest first."] = ()
    units: Annotated[Units, "Metric or US units."] = "metric"
    role: Annotated[str, "Role of the reader, a key of `dashboards.words.ROLES`; empty for nobody."] = ""
    login: Annotated[str, "Login of the reader; empty for nobody and in the practice fleet."] = ""
    roles: Annotated[tuple[str, ...], "Roles to look around in, of the practice fleet; else empty."] = ()
    token: Annotated[str, "Token that every form sends back; empty where none is used."] = ""
    session: Annotated[Session | None, "The reader's sign-in; None for nobody and in the practice fleet."] = (
        None
    )
    here: Annotated[str, "Address of this page with its query, so that forms can come back to it."] = ""
