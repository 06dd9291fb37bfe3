"""Four comparison methods in a few lines each, on the same believed readings as the service.

They follow thirteen series a vehicle, know the work records (a repair or a battery change clears what they
have learned and closes their tickets) and hold at most one open ticket per vehicle and series; the pooled
method one per vehicle. One setting serves all fleets.

How the settings came about, which matters when their figures are read: up to eighteen settings at a time were
tried on tuning seeds 1 to 4, and picked by hand so that the methods come near figures published for such
methods. The generator's difficulty, too, was set while looking at these methods' results on tuning seeds. So
the fleets are not independent of the figures here, and methods that stay below their published figures may
flatter the service beside them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import IsolationForest
from sklearn.linear_model import Ridge

from ingest.parameters import COLUMN, PARAMETERS
from models.panel import Daily, Fleet
from models.statistics.charts import cusum, ewma_reach
from models.statistics.runlength import cusum_limit, ewma_width, wanted_run_length
from service.demo.fleet import History
from tests.bench.direct import fold, register, state_days
from tests.bench.score import Raised

Floats = NDArray[np.float64]

SERIES: Final = (
    ("LONGFT1", "warm_idle"), ("LONGFT2", "warm_idle"), ("LONGFT1", "cruise"), ("LONGFT2", "cruise"),
    ("IAC", "warm_idle"), ("TAC_PCT", "warm_idle"), ("VPWR", "warm_idle"), ("VPWR", "cruise"),
    ("VPWR", "koeo_soak"), ("CRANK_VMIN", "crank"), ("ECT", "cruise"), ("ECT-IAT", "koeo_soak"),
    ("MAP-BARO", "koeo_soak"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """Daily medians; `values` and `air_c`, `ac`, `baro` as below.

    Parameters
    ----------
    values : float array of shape (V, days, S)
        In the order of `SERIES`; NaN where there is no reading.
    covariates : float array of shape (V, days, S, 3)
        Outside air, air conditioning, outside pressure at the same reading.
    repaired : bool array of shape (V, days)
        Days after an evening with a repair, a cleared memory or a new battery.
    fleet : Fleet
        Vehicles in the order of the arrays, and their sheets.
    depot : int array of shape (V,)
        Place of the depot each vehicle stands in on the last day.
    first_day : int
        Days since 1970-01-01.
    """

    values: Floats
    covariates: Floats
    repaired: NDArray[np.bool_]
    fleet: Fleet
    depot: NDArray[np.integer]
    first_day: int


def make_panel(history: History) -> Panel:
    """Lay out the thirteen series of a history day by day."""
    return lay_out(
        register(history),
        fold(history),
        days=(history.first_day, history.days),
        depot=history.roster.depot[:, -1],
    )


def lay_out(
    fleet: Fleet, daily: Daily, *, days: tuple[int, int], depot: NDArray[np.integer] | None = None
) -> Panel:
    """Lay out the thirteen series of a fleet's daily summaries.

    Parameters
    ----------
    fleet : Fleet
        Whose work records tell repairs.
    daily : Daily
    days : (first, count)
        Of the history; the first since 1970-01-01.
    depot : int array of shape (V,) or None
        Where vehicles stand, if not where the register says.
    """
    first_day, count = days
    shape = (len(fleet.vehicles), count)
    grids, extra = [], []
    for code, state in SERIES:
        one, _, other = code.partition("-")
        column = daily.values[:, COLUMN[one]] - (daily.values[:, COLUMN[other]] if other else 0)
        grids.append(state_days(daily, shape, first_day, state, column))
        sides = (daily.values[:, COLUMN["IAT"]], daily.switched_on[:, 0], daily.values[:, COLUMN["BARO"]])
        extra.append(np.stack([state_days(daily, shape, first_day, state, side) for side in sides], axis=-1))
    repaired = np.zeros(shape, dtype=bool)
    for fact in fleet.work:
        day = fact.day + 1 - first_day
        if fact.kind in {"repair", "memory_cleared", "battery_replaced"} and 0 <= day < count:
            repaired[fact.vehicle, day] = True
    return Panel(
        values=np.stack(grids, axis=-1),
        covariates=np.stack(extra, axis=2),
        repaired=repaired,
        fleet=fleet,
        depot=fleet.depot if depot is None else depot,
        first_day=first_day,
    )


def _tickets(panel: Panel, alarm: NDArray[np.bool_], quiet_days: int = 28) -> tuple[Raised, ...]:
    """Open a ticket at an alarm; it closes at a repair or after some days without any alarm.

    `alarm` has shape (V, days, channels); each channel keeps its own ticket.
    """
    found = []
    vehicles, days, channels = alarm.shape
    last = np.full((vehicles, channels), -1)
    is_open = np.zeros((vehicles, channels), dtype=bool)
    for day in range(days):
        is_open[panel.repaired[:, day]] = False
        is_open &= last >= day - quiet_days
        for vehicle in np.unique(np.argwhere(alarm[:, day] & ~is_open)[:, 0]):
            new = int((alarm[vehicle, day] & ~is_open[vehicle]).sum())
            name, when = panel.fleet.vehicles[vehicle], panel.first_day + day
            found += [Raised(vehicle=name, day=when)] * new
        is_open |= alarm[:, day]
        last[alarm[:, day]] = day
    return tuple(found)


def _limits(panel: Panel) -> tuple[Floats, Floats]:
    sheets = panel.fleet.sheets
    low = np.full((len(sheets), len(SERIES)), -np.inf)
    high = np.full((len(sheets), len(SERIES)), np.inf)
    for row, sheet in enumerate(sheets):
        for code, state, least, most in sheet.limits:
            if (code, state) in SERIES:
                place = SERIES.index((code, state))
                low[row, place] = -np.inf if least is None else least
                high[row, place] = np.inf if most is None else most
        if sheet.soak_gap_degc is not None:
            gap = SERIES.index(("ECT-IAT", "koeo_soak"))
            low[row, gap], high[row, gap] = -sheet.soak_gap_degc, sheet.soak_gap_degc
    return low[panel.fleet.sheet], high[panel.fleet.sheet]


def spec_limits(panel: Panel) -> tuple[Raised, ...]:
    """Ticket when the median of the last five readings of a series is outside its sheet's band."""
    low, high = _limits(panel)
    alarm = np.zeros(panel.values.shape, dtype=bool)
    vehicles, days, channels = panel.values.shape
    newest = np.full((vehicles, channels, 5), np.nan)
    for day in range(days):
        newest[panel.repaired[:, day]] = np.nan
        reading = panel.values[:, day]
        seen = ~np.isnan(reading)
        newest[seen] = np.concatenate([newest[seen][:, 1:], reading[seen][:, None]], axis=1)
        middle = np.median(newest, axis=2)
        alarm[:, day] = seen & ((middle < low) | (middle > high))
    return _tickets(panel, alarm)


def _own_normal(panel: Panel, values: Floats, readings: int) -> tuple[Floats, NDArray[np.bool_]]:
    """Give each reading's own baseline, and whether it lies after the baseline's readings.

    The baseline is the mean of the first `readings` readings since the last repair, clipped at the
    quartiles' fences.
    """
    vehicles, days, channels = values.shape
    base = np.full(values.shape, np.nan)
    after = np.zeros(values.shape, dtype=bool)
    for vehicle in range(vehicles):
        edges = [0, *np.flatnonzero(panel.repaired[vehicle]), days]
        for first, last in pairwise(edges):
            for channel in range(channels):
                part = values[vehicle, first:last, channel]
                seen = np.flatnonzero(~np.isnan(part))
                if len(seen) <= readings:
                    continue
                low, high = np.percentile(part[seen[:readings]], [25, 75])
                fence = 1.5 * (high - low)
                start = np.clip(part[seen[:readings]], low - fence, high + fence)
                base[vehicle, first:last, channel] = start.mean()
                after[vehicle, first + seen[readings] : last, channel] = True
    return base, after


def _spread(panel: Panel, values: Floats) -> Floats:
    """Give the robust sd of a reading about its vehicle's own 60-day level, by sheet; shape (V, S).

    Not below half an encoding step, as coarse quantities have days without any scatter.
    """
    vehicles, days, channels = values.shape
    whole = days // 60 * 60
    parts = values[:, :whole].reshape(vehicles * (whole // 60), 60, channels)
    rest = np.abs(parts - _middle(parts)[:, None]).reshape(vehicles, whole, channels)
    out = np.zeros((len(panel.fleet.sheets), channels))
    for kind in np.unique(panel.fleet.sheet):
        mine = rest[panel.fleet.sheet == kind]
        out[kind] = 1.4826 * _middle(mine.reshape(1, -1, channels))[0]
    floor = np.array([0.5 * PARAMETERS[code.partition("-")[0]].step for code, _ in SERIES])
    return np.asarray(np.maximum(np.nan_to_num(out), np.maximum(floor, 1e-3))[panel.fleet.sheet])


EWMA_EXCESS: Final = 4.4
"""How far the smoothed values of sound tuning fleets stray beyond what independent normal readings would need
[sd]; picked by hand."""


def ewma(panel: Panel, weight: float = 0.1, readings: int = 15) -> tuple[Raised, ...]:
    """Ticket when a vehicle's own exponentially weighted mean leaves its baseline by many of its sd."""
    limit = round(ewma_width(weight, wanted_run_length(0.1, series=len(SERIES))), 1) + EWMA_EXCESS
    base, after = _own_normal(panel, panel.values, readings)
    spread = _spread(panel, panel.values)
    held = np.zeros((panel.values.shape[0], panel.values.shape[2]))
    alarm = np.zeros(panel.values.shape, dtype=bool)
    reach = float(ewma_reach(weight, limit))
    for day in range(panel.values.shape[1]):
        held[panel.repaired[:, day]] = 0
        z = (panel.values[:, day] - base[:, day]) / spread
        seen = ~np.isnan(z) & after[:, day]
        held[seen] += weight * (z[seen] - held[seen])
        alarm[:, day] = seen & (np.abs(held) > reach)
    return _tickets(panel, alarm)


def isolation_forest(panel: Panel, quantile: float = 0.015, baseline_days: int = 56) -> tuple[Raised, ...]:
    """Ticket when a vehicle's trend features look odd beside those of its sheet: weekly, unsupervised.

    Features are the means of the last three weeks of every series minus the vehicle's first eight weeks,
    in units of the reading's scatter, after the pooled adjustment; missing ones are 0. Learned on the weeks
    so far, threshold at a quantile of them.
    """
    values = _adjusted(panel)
    values = np.clip(values / _spread(panel, values)[:, None, :], -6, 6)
    vehicles, days, channels = values.shape
    weeks, first = days // 7, baseline_days // 7
    split = values[:, : weeks * 7].reshape(vehicles, weeks, 7, channels)
    cut, seen = np.nan_to_num(split).sum(axis=2), (~np.isnan(split)).sum(axis=2)
    sums, counts = cut.cumsum(axis=1), seen.cumsum(axis=1)
    own = sums[:, first - 1] / np.maximum(counts[:, first - 1], 1)
    total = sums[:, 3:] - sums[:, :-3]
    count = counts[:, 3:] - counts[:, :-3]
    features = np.where(count > 1, total / np.maximum(count, 1) - own[:, None], 0.0)
    alarm = np.zeros((vehicles, days, 1), dtype=bool)
    for kind in np.unique(panel.fleet.sheet):
        mine = np.flatnonzero(panel.fleet.sheet == kind)
        for week in range(first + 4, weeks):
            if (week - first) % 8 == 4:
                past = features[mine, first - 3 : week - 3].reshape(-1, channels)
                forest = IsolationForest(n_estimators=100, random_state=0).fit(past)
                level = np.quantile(forest.score_samples(past), quantile)
            odd = forest.score_samples(features[mine, week - 3]) < level
            alarm[mine[odd], week * 7 + 6, 0] = True
    return _tickets(panel, alarm)


def _middle(values: Floats) -> Floats:
    """Median over the second axis, NaN where there is nothing."""
    known = np.sort(values, axis=1)
    count = (~np.isnan(values)).sum(axis=1)
    low = np.take_along_axis(known, np.maximum((count - 1) // 2, 0)[:, None], axis=1)[:, 0]
    high = np.take_along_axis(known, np.minimum(count // 2, values.shape[1] - 1)[:, None], axis=1)[:, 0]
    return np.asarray(np.where(count > 0, (low + high) / 2, np.nan), dtype=np.float64)


def _adjusted(panel: Panel) -> Floats:
    """Take out weather, air conditioning and pressure, pooled within vehicles; then the depot's week."""
    out = panel.values.copy()
    kinds = panel.fleet.sheet
    for kind in np.unique(kinds):
        mine = np.flatnonzero(kinds == kind)
        for channel in range(len(SERIES)):
            values = out[mine, :, channel]
            values = values - _middle(values)[:, None]
            side = panel.covariates[mine, :, channel]
            known = np.maximum((~np.isnan(side)).sum(axis=1, keepdims=True), 1)
            side = np.nan_to_num(side - np.nansum(side, axis=1, keepdims=True) / known)
            seen = ~np.isnan(values)
            if seen.sum() > 50:
                spread = 4 * np.median(np.abs(values[seen])) + 1e-6
                fit = Ridge(alpha=1.0).fit(side[seen], np.clip(values[seen], -spread, spread))
                values[seen] -= fit.predict(side[seen])
            out[mine, :, channel] = values
    shifted = out.copy()
    for depot in np.unique(panel.depot):
        mine = np.flatnonzero(panel.depot == depot)
        for day in range(out.shape[1]):
            window = out[mine, max(0, day - 6) : day + 1].reshape(-1, len(SERIES))
            common = _middle(window[None])[0]
            shifted[mine, day] -= np.where(np.isnan(common), 0, common)
    return shifted


CUSUM_EXCESS: Final = 5.2
"""How far the sums of sound tuning fleets climb above the limit that independent normal readings would need
[spread]; picked by hand: slow wander and moving baselines, which no run-length table knows."""


def cusum_threshold(slack: float) -> float:
    """Give the limit [spread], for one false ticket in 1,000 vehicle-months.

    What independent normal readings would need, and the measured excess on top.
    """
    run_length = wanted_run_length(0.1, series=len(SERIES))
    return round(cusum_limit(slack, run_length), 1) + CUSUM_EXCESS


def pooled_cusum(
    panel: Panel, slack: float = 1.25, readings: int = 20, learn_days: int = 150
) -> tuple[Raised, ...]:
    """Ticket by a two-sided CUSUM on residuals pooled over the sheet, one ticket a vehicle.

    Residuals are scaled, per sheet and series, by their spread about the frozen baselines in the first
    `learn_days` days, which carries the baselines' own error and the slow part of the noise. The adjustment
    sees the whole history at once, which flatters it.
    """
    values = _adjusted(panel)
    base, after = _own_normal(panel, values, readings)
    rest = np.where(after, values - base, np.nan)
    spread = _spread(panel, values)
    for kind in np.unique(panel.fleet.sheet):
        mine = panel.fleet.sheet == kind
        early = np.abs(rest[mine, :learn_days]).reshape(1, -1, len(SERIES))
        spread[mine] = np.fmax(spread[mine], 1.4826 * _middle(early)[0])
    z = np.clip(rest / spread[:, None], -3, 3).swapaxes(1, 2)
    restart = np.broadcast_to(panel.repaired[:, None, :], z.shape)
    days = z.shape[-1]
    sums = cusum(z.reshape(-1, days), slack, restart=restart.reshape(-1, days))
    worst = np.maximum(sums.high, sums.low).reshape(z.shape).max(axis=1)
    return _tickets(panel, worst[..., np.newaxis] > cusum_threshold(slack))


RIVALS: Final[dict[str, Callable[[Panel], tuple[Raised, ...]]]] = {
    "spec limits, 5-reading median": spec_limits,
    "EWMA per vehicle": ewma,
    "weekly isolation forest": isolation_forest,
    "pooled + common mode + CUSUM": pooled_cusum,
}
