"""What the schedule needs of the models, handed in: tests use small fakes, the service the real ones."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from models.findings import Assessment, Corrected, Trend
from models.panel import Daily, Fleet, Readings, Wish
from service.tickets.costs import CostTable, starting_costs
from service.tickets.rules import Rules


class Walker(Protocol):
    """Assesses one day after the other over the same history."""

    def at(self, day: int) -> Assessment:
        """Assess one day [days since 1970-01-01]."""
        ...

    def trends(self, day: int) -> tuple[Trend, ...]:
        """Give every followed series of every vehicle on a day, whether or not anything moved."""
        ...

    def corrected(self, day: int) -> tuple[Corrected, ...]:
        """Give the daily values that the comparison of a day works on."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """The models' front door.

    Parameters
    ----------
    summarise : callable
        `models.summarise.summarise`.
    walker : callable
        `models.compare.Replay`; what it says of a day depends only on rows up to that day.
    """

    summarise: Callable[[Readings, NDArray[np.float64]], Daily]
    walker: Callable[[Fleet, Daily, Wish], Walker]


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What the fleet's owner asks for.

    Parameters
    ----------
    zone : str
        The fleet's time zone (IANA name).
    wish : Wish
        What is asked of the models.
    rules : Rules
        Thresholds of the ticket rules.
    prices : CostTable
        Price of a workshop hour and of a visit that finds nothing; the fleet's own costs per cause are in
        the store and come first.
    workshop_hours : float or None
        Hours that the workshop has in a week [h]; None where not given.
    """

    zone: str = "UTC"
    wish: Wish = field(default_factory=Wish)
    rules: Rules = field(default_factory=Rules)
    prices: CostTable = field(default_factory=starting_costs)
    workshop_hours: float | None = None


def models_engine() -> Engine:
    """Give the real models; imported only when asked for, so that web processes stay light."""
    from models.compare import Replay
    from models.summarise import summarise

    return Engine(summarise=summarise, walker=Replay)
