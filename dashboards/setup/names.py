"""Names that nobody knows, what they could mean, and what is read again once they are known."""

from dataclasses import dataclass
from typing import Annotated

from dashboards.setup.parts import Again, Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class NameLine:
    """One name that no alias explains."""

    name: Annotated[str, "As it came, with its unit."]
    unit: Annotated[str, "Unit written with it; empty for none."]
    count: Annotated[int, "Snapshots that carried it."]
    samples: Annotated[tuple[str, ...], "A few values."]
    devices: Annotated[tuple[str, ...], "A few devices that sent it."]
    more_devices: Annotated[int, "Devices beside those named."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AliasLine:
    """One name that has a meaning."""

    scope: Annotated[str, "device, sheet or fleet."]
    scope_id: Annotated[str, "Which device or sheet; empty for the fleet."]
    name: Annotated[str, "Name."]
    parameter: Annotated[str, "Parameter code."]
    unit: Annotated[str, "Unit; empty for the default one."]
    vacuum: Annotated[bool, "Counts down from the barometric pressure of the same snapshot."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed for one name."""

    name: Annotated[str, "Name."] = ""
    scope: Annotated[str, "Scope."] = "fleet"
    scope_id: Annotated[str, "Device or sheet."] = ""
    parameter: Annotated[str, "Parameter code."] = ""
    unit: Annotated[str, "Unit."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupNamesView:
    """For the integrator: names nobody knows, to map or to ignore."""

    unknown: Annotated[tuple[NameLine, ...], "Names that wait, the most frequent first."]
    ignored: Annotated[tuple[str, ...], "Names that somebody chose to ignore."]
    aliases: Annotated[tuple[AliasLine, ...], "Names that have a meaning."]
    parameters: Annotated[tuple[str, ...], "Parameter codes to choose from."]
    units: Annotated[tuple[str, ...], "Units to choose from."]
    again: Annotated[Again | None, "Reading stored snapshots again; None where it was never asked for."]
    typed: Annotated[Typed, "What was typed, when it was not taken."]
    errors: Annotated[tuple[Fault, ...], "What was not taken."]
