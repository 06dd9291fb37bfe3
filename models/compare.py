"""The models' front door, second step: the whole fleet on one day, or on every day in turn.

`compare` looks at one date; `Replay` walks many and gives the same answers, because everything that is
learned is learned on fixed dates and every residual uses only what was known on its own day.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from models.alarm.bootstrap import LEAST_HISTORY_DAYS, NOTHING, Chance
from models.alarm.chance import chance_of, say_chances, sum_up
from models.alarm.levels import run_length_of, set_levels
from models.alarm.limits import read_bands, running_medians
from models.alarm.switches import find_runs
from models.causes.table import directions
from models.changes.beginnings import list_beginnings
from models.changes.returns import find_falls
from models.changes.swaps import weigh_swaps
from models.findings import Assessment, Corrected, Trend
from models.learning.fit import fit_day_of, gather, learn, served
from models.panel import Daily, Fleet, Wish
from models.quality.coverage import count_presence, vehicle_states
from models.quality.plausible import implausible, read_checks
from models.quality.stuck import find_stuck, hold_back, unchanged
from models.telling.breaklist import list_breaks
from models.telling.corrected import write_corrected
from models.telling.events import fleet_events
from models.telling.opinion import second_opinions
from models.telling.remarks import charging_slopes, remark
from models.telling.report import METHOD, report
from models.telling.totals import read_totals, tell_totals
from models.telling.trends import write_trends
from models.verdict.judge import Verdict, judge
from models.verdict.scene import Scene
from models.verdict.segments import Starts, advance_starts, first_starts
from models.verdict.sound import CHANCE_EVERY_DAYS, draw

_LONG_AGO: Final = -1_000_000


def compare(fleet: Fleet, daily: Daily, day: int, wish: Wish) -> Assessment:
    """Assess the fleet as of one day.

    Parameters
    ----------
    fleet : Fleet
        With the work records known by that day; later ones are ignored.
    daily : Daily
        Summaries; rows of later days are ignored.
    day : int
        Evaluation day [days since 1970-01-01]; everything taken up to its end counts.
    wish : Wish

    Returns
    -------
    Assessment
    """
    return Replay(fleet, until(daily, day), wish).at(day)


def until(daily: Daily, day: int) -> Daily:
    """Keep the rows up to and including a day."""
    return daily.rows(daily.day <= day)


class Replay:
    """Assess the same fleet on many days, learning anew only on fit dates.

    Parameters
    ----------
    fleet : Fleet
        With all work records; each day sees only those done by then.
    daily : Daily
    wish : Wish
    """

    def __init__(self, fleet: Fleet, daily: Daily, wish: Wish) -> None:
        self.fleet = fleet
        self.wish = wish
        self._presence = count_presence(daily, len(fleet.vehicles))
        self._heard = len(daily) > 0
        self._material = gather(fleet, daily)
        self._checks = read_checks(fleet, daily)
        self._stuck = find_stuck(daily)
        self._totals = read_totals(daily)
        self._slopes = np.empty(0)
        self._chances: dict[int, Chance] = {}
        self._scene: Scene | None = None
        self._verdict: Verdict | None = None
        nothing = np.empty((0, 0), np.int32)
        self._starts: tuple[int, Starts] = (_LONG_AGO, Starts(running=nothing, settled=nothing, drifting={}))

    def scene(self, day: int) -> Scene:
        """Give the fleet under the fit that serves a day, learning it if the last one was for another."""
        fit_day = fit_day_of(day, self._material.first_day)
        if self._scene is None or self._scene.fit.fit_day != fit_day:
            self._scene = self._verdict = None  # of a large fleet the memory has no room for two
            self._scene = self._prepare(fit_day)
            self._slopes = charging_slopes(self._material, fit_day)
            self._starts = (_LONG_AGO, first_starts(self._scene))
        return self._scene

    def _prepare(self, fit_day: int) -> Scene:
        """Learn from everything up to a day, with levels from what chance shows in this fleet.

        What sound residuals show by chance is drawn anew every `CHANCE_EVERY_DAYS`.
        """
        drawn = fit_day - fit_day % CHANCE_EVERY_DAYS
        waiting = drawn not in self._chances and drawn - self._material.first_day >= LEAST_HISTORY_DAYS
        if waiting and drawn < fit_day:
            self._chances = {drawn: draw(self._learn(drawn))}
        bare = self._learn(fit_day)
        if waiting and drawn == fit_day:
            self._chances = {drawn: draw(bare)}
        days = fit_day - self._material.first_day
        return replace(bare, levels=set_levels(self.wish, self._chances.get(drawn, NOTHING), days=days))

    def _learn(self, fit_day: int) -> Scene:
        """Learn from everything up to a day; the levels are those of a fleet without a history."""
        material = served(self._material, fit_day)
        fit = learn(material, fit_day)
        swaps, falls = weigh_swaps(material, fit), find_falls(material, fit)
        sheets = (*self.fleet.sheets, None)
        return Scene(
            fleet=self.fleet,
            material=material,
            fit=fit,
            tables=tuple(directions(sheet) for sheet in sheets),
            naming=tuple(directions(sheet, naming=True) for sheet in sheets),
            bands=read_bands(self.fleet),
            medians=running_medians(material),
            runs=find_runs(material, fit),
            swaps=swaps,
            falls=falls,
            beginnings=list_beginnings(self.fleet, material, swaps, falls),
            levels=set_levels(self.wish),
            wish=self.wish,
        )

    def verdict(self, day: int) -> Verdict:
        """Give the bare evidence of a day, judged once for all that is asked about that day."""
        scene = self.scene(day)
        if self._verdict is not None and self._verdict.day == day:
            return self._verdict
        known, starts = self._starts
        if known < day:
            starts = advance_starts(scene, starts, (known, day))
        elif known > day:
            starts = advance_starts(scene, first_starts(scene), (_LONG_AGO, day))
        self._starts = (day, starts)
        self._verdict = judge(scene, day=day, start=starts.running)
        return self._verdict

    def at(self, day: int) -> Assessment:
        """Assess one day."""
        if not self._heard or day < self._material.first_day:
            return Assessment(
                day=day, method=METHOD, vehicles=vehicle_states(self.fleet, self._presence, day)
            )
        scene, verdict = self.scene(day), self.verdict(day)
        unusable = (*implausible(self.fleet, self._checks, day), *unchanged(self.fleet, self._stuck, day))
        findings = report(scene, verdict)
        chance = chance_of(verdict.score)
        findings = say_chances(findings, self.fleet.vehicles, chance)
        findings = tuple(
            sorted((*findings, *second_opinions(scene, verdict, findings)), key=lambda one: one.vehicle)
        )
        findings = hold_back(remark(scene, findings, unusable, self._slopes, day), unusable)
        findings = tell_totals(findings, self._totals, self._material.resets, self.fleet.vehicles, day)
        notes = (sum_up(findings, chance, self.wish), f"run_length:{run_length_of(scene.levels.ticket):.0f}")
        return Assessment(
            day=day,
            method=METHOD,
            findings=findings,
            vehicles=vehicle_states(self.fleet, self._presence, day, findings),
            breaks=list_breaks(scene, self._starts[1], day),
            events=fleet_events(self.fleet, scene.fit, day),
            unusable=unusable,
            notes=tuple(note for note in notes if note),
        )

    def trends(self, day: int) -> tuple[Trend, ...]:
        """Describe every followed series on a day."""
        return write_trends(self.scene(day), self.verdict(day)) if self._heard else ()

    def corrected(self, day: int) -> tuple[Corrected, ...]:
        """Give the values that the comparison of a day works on, of every followed series."""
        return write_corrected(self.scene(day), day) if self._heard else ()
