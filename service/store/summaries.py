"""Daily summaries: folded from touched days, loaded for evaluation."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from models.panel import Daily, Fleet, Readings
from service.store.unit import Unit

Summarise = Callable[[Readings, NDArray[np.float64]], Daily]
"""Signature of `models.summarise.summarise`: readings and soak hours per vehicle in, daily rows out."""


class Summaries(Unit):
    """Daily summaries and the facts that go with them."""

    def touched_count(self) -> int:
        """Count vehicle-days that wait to be folded."""
        raise NotImplementedError

    def fold_touched(self, summarise: Summarise, *, limit: int = 5_000) -> int:
        """Fold up to `limit` touched vehicle-days and give their count; 0 when none is left. Commit after each call."""
        raise NotImplementedError

    def daily(
        self,
        vehicles: Sequence[str] | None = None,
        *,
        from_day: int | None = None,
        up_to_day: int | None = None,
    ) -> Daily:
        """Load daily rows; `vehicle` is the place in the given list, by default all vehicles sorted by number."""
        raise NotImplementedError

    def day_range(self) -> tuple[int, int] | None:
        """Give the first and last local day with a daily summary; None where there is none."""
        raise NotImplementedError

    def fleet_facts(self, *, as_of_day: int, known_work_until: int | None = None) -> Fleet:
        """Build the models' fleet: vehicles sorted by number, sheets in force, depots on that day, work done by then."""
        raise NotImplementedError
