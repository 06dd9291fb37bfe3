"""The models' front door, second step: the whole fleet on one day, or on every day in turn.

`compare` looks at one date; `Replay` walks many and gives the same answers, because everything that is learned is
learned on fixed dates and every residual uses only what was known on its own day.
"""

from dataclasses import dataclass

from models.breaks import list_breaks
from models.causes import Directions
from models.coverage import vehicle_states
from models.events import fleet_events
from models.findings import Assessment
from models.fit import Fit, Material, fit_day_of, gather, learn
from models.judge import Verdict, judge, sheet_directions
from models.levels import Levels, set_levels
from models.limits import Bands, Medians, read_bands, running_medians
from models.panel import Daily, Fleet, Wish
from models.report import METHOD, report
from models.segments import baseline_starts


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
    keep = daily.day <= day
    return Daily(
        vehicle=daily.vehicle[keep],
        day=daily.day[keep],
        state=daily.state[keep],
        readings=daily.readings[keep],
        values=daily.values[keep],
        switched_on=daily.switched_on[keep],
    )


@dataclass(slots=True, kw_only=True, eq=False)
class _Kept:
    """What a walk keeps between days: the newest fit, by its date."""

    fit: Fit | None = None
    fits: int = 0


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
        self._daily = daily
        self._material: Material = gather(fleet, daily)
        self._tables: tuple[Directions, ...] = sheet_directions(fleet)
        self._bands: Bands = read_bands(fleet)
        self._medians: Medians = running_medians(self._material)
        self._levels: Levels = set_levels(wish)
        self._kept = _Kept()

    def fit_for(self, day: int) -> Fit:
        """Give the fit that serves a day, learning it if the last one was for another."""
        fit_day = fit_day_of(day, self._material.first_day)
        if self._kept.fit is None or self._kept.fit.fit_day != fit_day:
            self._kept = _Kept(fit=learn(self._material, fit_day), fits=self._kept.fits + 1)
        assert self._kept.fit is not None  # noqa: S101 - set just above
        return self._kept.fit

    def verdict(self, day: int) -> Verdict:
        """Give the bare evidence of a day."""
        fit = self.fit_for(day)
        start = baseline_starts(
            self.fleet, self._material, fit, self._tables, day=day, screen=self._levels.watch
        )
        return judge(
            self.fleet,
            self._material,
            fit,
            self._tables,
            self._bands,
            self._medians,
            day=day,
            start=start,
            screen=self._levels.watch,
        )

    def at(self, day: int) -> Assessment:
        """Assess one day."""
        if not len(self._daily):
            return Assessment(day=day, method=METHOD, vehicles=vehicle_states(self.fleet, self._daily, day))
        verdict = self.verdict(day)
        fit = self.fit_for(day)
        findings = report(
            self.fleet, self._material, fit, verdict, self._tables, self._bands, self._levels, self.wish
        )
        return Assessment(
            day=day,
            method=METHOD,
            findings=findings,
            vehicles=vehicle_states(self.fleet, self._daily, day, findings),
            breaks=list_breaks(self.fleet, self._material.found_resets, day),
            events=fleet_events(self.fleet, fit, day),
        )
