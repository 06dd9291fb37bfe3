"""Two short forms about one vehicle: what its driver noticed, and a ticket raised by hand."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplaintView:
    """For anyone whom a driver tells something: recorded in twenty seconds, without a name."""

    vehicle: Annotated[str, "The fleet's own number; empty: it is still to be chosen."]
    vehicles: Annotated[tuple[str, ...], "Every vehicle's number, to choose from; empty when one is given."]
    form_key: Annotated[str, "Key that makes a repeated form count once."]
    may_raise: Annotated[bool, "Whether the reader may raise a ticket by hand instead."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RaiseView:
    """For whoever saw something in the workshop that no reading has shown yet."""

    vehicle: Annotated[str, "The fleet's own number."]
    causes: Annotated[tuple[str, ...], "Causes that may be suspected."]
    open_tickets: Annotated[tuple[str, ...], "Numbers of the vehicle's open tickets."]
    form_key: Annotated[str, "Key that makes a repeated form count once."]
