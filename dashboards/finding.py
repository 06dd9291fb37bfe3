"""The form of findings on a page of its own."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingView:
    """For the mechanic with gloves on: what was found and done, in four taps and without typing."""

    ticket: Annotated[str, "Number of the ticket."]
    version: Annotated[int, "Version read; the form sends it back."]
    vehicle: Annotated[str, "The fleet's own number."]
    problem: Annotated[str, "The problem in few plain words."]
    causes: Annotated[tuple[str, ...], "Causes offered first, the likeliest ones; may be empty."]
    other_causes: Annotated[tuple[str, ...], "All other causes, behind 'something else'."]
    odometer_km: Annotated[float | None, "Odometer of the newest snapshot [km]; None without one."]
    form_key: Annotated[str, "Key that makes a repeated form count once."]
