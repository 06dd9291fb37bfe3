"""Budgets of practice fleets held against what they then spent, on seeds that nothing was tuned on.

Run as a program: `python -m tests.bench.spending 2001 2002 2003`. For each seed a practice fleet is built and
replayed day by day, as `forelamp demo` does; then each past month's budget is made as of the day before it.
"""

import sys
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from models.statistics.proportion import wilson
from service.cli.demo import build_fleet
from service.cli.opened import Opened
from service.clock import Clock
from service.settings import Settings
from service.store import open_store
from service.web.backtest import TestedMonth, back_test, inside_of
from service.web.ground import gather

LAST: Final = date(2031, 9, 7)
NOW: Final = datetime(2031, 9, 8, 12, 30, tzinfo=UTC)


def measure_fleet(seed: int, *, vehicles: int = 60, days: int = 420) -> tuple[TestedMonth, ...]:
    """Build one fleet and test its budgets.

    Parameters
    ----------
    seed : int
        Of the fleet.
    vehicles, days : int
        Its size and the length of its history.
    """
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'forelamp.db'}"
        store = open_store(url)
        store.migrate()
        settings = Settings(home=Path(folder), database_url=url, practice=True)
        build_fleet(
            Opened(settings=settings, clock=Clock(lambda: NOW), store=store),
            LAST,
            vehicles=vehicles,
            days=days,
            seed=seed,
        )
        with store.begin(readonly=True) as work:
            ground = gather(work, LAST, None)
            found = () if ground is None else back_test(work, ground)
        store.close()
    return found


def main(seeds: list[int]) -> None:
    """Print each fleet's months inside the 80 % range, and all fleets' together."""
    told: list[TestedMonth] = []
    for seed in seeds:
        months = measure_fleet(seed)
        told += months
        inside, count = inside_of(months)
        below = sum(one.spent < one.low for one in months)
        budgeted, spent = sum(one.mean for one in months), sum(one.spent for one in months)
        line = f"seed {seed}: {inside} of {count} inside, {below} below, {count - inside - below} above"
        sys.stdout.write(f"{line}; budgeted {budgeted:,.0f}, spent {spent:,.0f}\n")
        sys.stdout.flush()
    inside, count = inside_of(told)
    low, high = wilson(inside, count)
    sys.stdout.write(f"all: {inside} of {count} inside ({100 * low:.0f}-{100 * high:.0f} %, 80 % stated)\n")


if __name__ == "__main__":
    main([int(one) for one in sys.argv[1:]])
