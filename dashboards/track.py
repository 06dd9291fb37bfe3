"""Is this any good: how tickets ended, what was missed, false tickets, and stated probabilities checked."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """So many of so many, with a 95 % interval."""

    count: Annotated[int, "So many."]
    of: Annotated[int, "Of so many."]
    share: Annotated[float | None, "The share; None of nothing."]
    low: Annotated[float, "Lower end of its 95 % interval (Wilson)."]
    high: Annotated[float, "Upper end of its 95 % interval (Wilson)."]
    enough: Annotated[bool, "Whether there are ten or more; fewer are too few to say."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Warning:
    """Days of warning."""

    middle: Annotated[float | None, "Median [d]; None of nothing."]
    low: Annotated[float | None, "Lower end of its 95 % interval [d]; None with fewer than six."]
    high: Annotated[float | None, "Upper end of its 95 % interval [d]; None with fewer than six."]
    count: Annotated[int, "Tickets behind it."]
    enough: Annotated[bool, "Whether there are ten or more."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseRate:
    """False tickets against the number asked for."""

    count: Annotated[int, "Inspections that found nothing."]
    vehicle_months: Annotated[float, "Vehicle-months in service."]
    rate: Annotated[float | None, "Per 100 vehicle-months; None without any."]
    low: Annotated[float | None, "Lower end of its 95 % interval (exact Poisson)."]
    high: Annotated[float | None, "Upper end of its 95 % interval (exact Poisson)."]
    asked: Annotated[float, "False tickets asked for, per 100 vehicle-months."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComebackLine:
    """Repairs of one cause by one kind of work, and those that came back."""

    cause: Annotated[str, "Cause that the repair names."]
    kind: Annotated[str, "Kind of work, a code of `words.WORK`."]
    portion: Annotated[Portion, "Those that came back, of all."]


@dataclass(frozen=True, slots=True, kw_only=True)
class BinLine:
    """Statements of one range of probability beside what happened."""

    low: Annotated[float, "Lower edge."]
    high: Annotated[float, "Upper edge."]
    stated: Annotated[float | None, "Mean statement; None in an empty range."]
    portion: Annotated[Portion, "Those that came true, of all."]
    agrees: Annotated[bool | None, "Whether the mean statement lies in the interval; None in an empty range."]


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionLine:
    """One version of the method with what came of its statements."""

    method: Annotated[str, "Name and version; empty where tickets do not say."]
    checked: Annotated[int, "Statements that could be checked."]
    brier: Annotated[float, "Their Brier score."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaughtLine:
    """What this fleet's repairs have taught about one cause."""

    cause: Annotated[str, "Cause code."]
    found: Annotated[int, "Repairs that named it."]
    before: Annotated[float, "Its share before any finding, from the table of causes."]
    after: Annotated[float, "Its share now."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackView:
    """For everybody: how tickets ended, what was missed, and whether stated probabilities came true."""

    found: Annotated[Portion, "Tickets with a fault found, of those inspected."]
    by_data: Annotated[int, "Repairs proved by readings."]
    by_hand: Annotated[int, "Repairs verified by hand."]
    without_proof: Annotated[int, "Repairs closed without proof."]
    waiting: Annotated[int, "Repairs awaiting proof."]
    missed: Annotated[Portion, "Complaints of a fault without a ticket, of all complaints of a fault."]
    complaints: Annotated[int, "Complaints on record."]
    warning: Annotated[Warning, "Days between ticket and complaint, or the repair that forestalled it."]
    back: Annotated[Portion, "Repairs that came back, of all."]
    comebacks: Annotated[tuple[ComebackLine, ...], "The same by cause and kind of work."]
    false_rate: Annotated[FalseRate, "False tickets against the number asked for."]
    bins: Annotated[tuple[BinLine, ...], "Stated probabilities in ten ranges; empty without any."]
    brier: Annotated[float | None, "Brier score of the statements checked; None without any."]
    checked: Annotated[int, "Statements that could be checked."]
    undecided: Annotated[int, "Statements that a repair or the present overtook."]
    versions: Annotated[tuple[VersionLine, ...], "The Brier score of each version of the method."]
    taught: Annotated[
        tuple[TaughtLine, ...], "Causes whose share this fleet's repairs have moved, most first."
    ]
    may_export: Annotated[bool, "Whether the reader may take files."]
