"""Fleets to be measured: our own, or one by another hand. Both are asked the same."""

import tempfile
import time
from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Final, Literal, Protocol

from models.panel import Wish
from service.demo.fleet import History, healthy_fleet, make_fleet, strengths_of
from tests.bench.calibration import Judged, judge
from tests.bench.rivals import Panel, lay_out, make_panel
from tests.bench.routes import (
    Outcome,
    Stored,
    by_columns,
    by_files,
    fold_columns,
    read_stored,
    through_store,
    walk_columns,
)
from tests.bench.score import Key, key_of
from tests.bench.strangers.maker import KINDS, Kind, make

Maker = Literal["own", "physics", "signals", "loops"]

MAKERS: Final[tuple[Maker, ...]] = ("own", *KINDS)

HEALTHY_DAYS: Final = 182
"""Length of a sound fleet's history."""


class Measured(Protocol):
    """A fleet with its truth, its panel for the comparison methods, and ways from it to tickets."""

    @property
    def key(self) -> Key:
        """What was planted."""

    @property
    def made(self) -> str:
        """What was made, in words."""

    @property
    def stored(self) -> Stored:
        """The fleet as the models see it."""

    def panel(self) -> Panel:
        """Give the panel of the comparison methods."""

    def outcome(self, *, every: int, wish: Wish) -> Outcome:
        """Give the service's tickets."""

    def judge(self, outcome: Outcome) -> list[Judged]:
        """Hold forecasts against what happened; nothing where true readings are not known."""


class Own:
    """A fleet of our own generator."""

    def __init__(self, history: History, made_s: float, *, direct: bool) -> None:
        self.history, self.direct, self.key = history, direct, key_of(history)
        self.made = f"{len(history.rows)} snapshots made in {made_s:.1f} s"

    @property
    def stored(self) -> Stored:
        """The fleet as the models see it."""
        return fold_columns(self.history)

    def panel(self) -> Panel:
        """Give the panel of the comparison methods."""
        return make_panel(self.history)

    def outcome(self, *, every: int, wish: Wish) -> Outcome:
        """Give the service's tickets."""
        if self.direct:
            return by_columns(self.history, every=every, wish=wish)
        with tempfile.TemporaryDirectory() as folder:
            return by_files(self.history, Path(folder), every=every, wish=wish)

    def judge(self, outcome: Outcome) -> list[Judged]:
        """Hold forecasts against what happened."""
        return judge(self.history, outcome.forecasts)


class OtherHand:
    """A fleet by another hand; `direct` loads it once and walks without the store."""

    def __init__(self, kind: Kind, seed: int, size: tuple[int, int], *, healthy: bool, direct: bool) -> None:
        begun = time.perf_counter()
        vehicles, days = size
        self.stranger = make(kind, seed, vehicles, days, healthy=healthy)
        self.direct, self.key = direct, self.stranger.key
        self.made = f"{self.stranger.name} made in {time.perf_counter() - begun:.1f} s"

    @cached_property
    def _loaded(self) -> tuple[Stored, Mapping[str, int], float]:
        begun = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            stored, counts = read_stored(self.stranger.files, Path(folder) / "fleet.db", self.key.last_day)
        return stored, counts, time.perf_counter() - begun

    @property
    def stored(self) -> Stored:
        """The fleet as the models see it."""
        return self._loaded[0]

    def panel(self) -> Panel:
        """Give the panel of the comparison methods, from the store's daily summaries."""
        stored = self.stored
        return lay_out(stored.material.fleet, stored.daily, days=(self.key.first_day, self.key.days))

    def outcome(self, *, every: int, wish: Wish) -> Outcome:
        """Give the service's tickets."""
        first, last = self.key.first_day, self.key.last_day
        if not self.direct:
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "fleet.db"
                return through_store(self.stranger.files, path, (first, last), every=every, wish=wish)
        stored, counts, loading = self._loaded
        outcome = walk_columns(stored, range(first, last + 1, every), wish=wish)
        return replace(outcome, counts=counts, seconds={"load": loading, **outcome.seconds})

    def judge(self, _outcome: Outcome) -> list[Judged]:
        """Judge nothing: true readings, before logger and line, are not known."""
        return []


def fleet_of(
    maker: Maker,
    seed: int,
    *,
    vehicles: int,
    days: int,
    per_day: float,
    direct: bool,
    pace: float = 1.0,
) -> Measured:
    """Make a fleet with faults.

    `per_day` and `pace` count for our own only, the others have their own. A pace other than 1 makes every
    fault take so many times as long, and none of the quick ones.
    """
    if maker != "own":
        return OtherHand(maker, seed, (vehicles, days), healthy=False, direct=direct)
    begun = time.perf_counter()
    strengths = None if pace == 1.0 else replace(strengths_of(seed), pace=pace, quick=0.0)
    history = make_fleet(seed, vehicles=vehicles, days=days, per_day=per_day, strengths=strengths)
    return Own(history, time.perf_counter() - begun, direct=direct)


def sound_fleet_of(maker: Maker, seed: int, *, vehicles: int, direct: bool) -> Measured:
    """Make a fleet of 26 weeks without faults."""
    if maker != "own":
        return OtherHand(maker, seed, (vehicles, HEALTHY_DAYS), healthy=True, direct=direct)
    begun = time.perf_counter()
    history = healthy_fleet(seed, vehicles=vehicles)
    return Own(history, time.perf_counter() - begun, direct=direct)
