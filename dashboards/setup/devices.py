"""Devices and their tokens: who may send, who does, and which device sits where."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from dashboards.setup.parts import Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenLine:
    """One token, without its secret."""

    name: Annotated[str, "Name of the device or program."]
    prefix: Annotated[str, "First characters, to recognise it."]
    scopes: Annotated[tuple[str, ...], "What it allows."]
    vehicles: Annotated[tuple[str, ...], "Vehicles it may send for; empty for all."]
    seen_at: Annotated[datetime | None, "Last call; None before the first."]
    clock_minutes: Annotated[
        float | None, "Minutes its clock is ahead; None where within five, or not known."
    ]
    expires_at: Annotated[datetime | None, "When it ends; None for never."]
    ended: Annotated[bool, "Whether it was revoked or has expired."]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceLine:
    """A device in a vehicle."""

    device: Annotated[str, "Device."]
    vehicle: Annotated[str, "The fleet's own number."]
    since: Annotated[date, "First day."]
    until: Annotated[date | None, "Last day; None: still there."]
    told: Annotated[bool, "Whether a person said so; else readings did."]
    doubt: Annotated[str, "What readings say against it; empty for nothing."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A new token, shown this once."""

    name: Annotated[str, "Name of the device or program."]
    secret: Annotated[str, "The token."]
    command: Annotated[str, "A command to paste that sends one reading; empty where it may not send."]
    vehicle: Annotated[str, "Vehicle of that reading; empty for none."]
    overlap_until: Annotated[datetime | None, "Until when the one before still works; None for none."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedToken:
    """What was typed for a new token."""

    name: Annotated[str, "Name."] = ""
    scopes: Annotated[tuple[str, ...], "Scopes chosen."] = ("send",)
    vehicles: Annotated[str, "Vehicles, parted by spaces or commas."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupDevicesView:
    """For the integrator: tokens and devices."""

    issued: Annotated[Issued | None, "Token just made; None otherwise."]
    tokens: Annotated[tuple[TokenLine, ...], "Tokens, those in use first."]
    devices: Annotated[tuple[DeviceLine, ...], "Devices: doubtful ones first, then by name."]
    more: Annotated[int, "Entries beside those; each is on its vehicle's page."]
    vehicles: Annotated[tuple[str, ...], "Vehicles to choose from."]
    scopes: Annotated[tuple[str, ...], "Scopes to choose from."]
    typed: Annotated[TypedToken, "What was typed, when it was not taken."]
    errors: Annotated[tuple[Fault, ...], "What was not taken."]
    today: Annotated[str, "Today's date, YYYY-MM-DD, for the field."]
