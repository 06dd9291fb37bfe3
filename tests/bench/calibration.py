"""Hold what tickets foretell against what then happened: days to the limit, and the 30-day probability.

A series has left its band on the first day on which the median of seven neighbouring true readings (before
logger and line) lies outside it. Forecasts are judged only on faults, and only where the answer is known
before a repair or the history's end hides it; leaving undecided ones out favours early crossings. A day that
a ticket says has passed counts as today, as a crossing in the past does.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ingest.parameters import COLUMN
from models.statistics.calibration import brier_score, fit_curve, reliability_table
from models.statistics.proportion import wilson
from service.demo.fleet import History
from tests.bench.score import Truth, truths
from tests.bench.table import grid, speed_of

FORECAST_AGES: Final = (0, 14)
"""Days after a ticket was raised on which its forecast is taken down."""

HORIZON_DAYS: Final = 30
YEAR_DAYS: Final = 365
NEIGHBOURS: Final = 7
LATELY_DAYS: Final = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What one ticket said on one day; days since 1970-01-01, None where it said "not within a year"."""

    vehicle: str
    day: int
    age: int
    parameter: str
    state: str
    limit_low: float | None
    limit_high: float | None
    reaches_low: int | None
    reaches_high: int | None
    probability_30d: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A forecast with its answers; None where they cannot be known."""

    forecast: Forecast
    truth: Truth
    covered: bool | None
    happened: bool | None


def leaves_band(history: History, forecast: Forecast) -> int | None:
    """Find the first day, on or after the forecast, on which the series lies outside its band.

    One that lay outside on most days of the two weeks before has left it already: the day of the forecast.

    Returns
    -------
    int or None
        Days since 1970-01-01; None where it stays inside to the history's end or has no band.
    """
    if forecast.limit_low is None and forecast.limit_high is None:
        return None
    vehicle = history.roster.names.index(forecast.vehicle)
    rows = history.rows
    here = (rows.vehicle == vehicle) & rows.among(forecast.state)
    values, days = history.clean[here, COLUMN[forecast.parameter]], rows.day[here] + history.first_day
    values, days = values[~np.isnan(values)], days[~np.isnan(values)]
    if len(values) < NEIGHBOURS:
        return None
    middle = np.median(np.lib.stride_tricks.sliding_window_view(values, NEIGHBOURS), axis=1)
    days = days[NEIGHBOURS // 2 : len(values) - NEIGHBOURS // 2]
    low = -np.inf if forecast.limit_low is None else forecast.limit_low
    high = np.inf if forecast.limit_high is None else forecast.limit_high
    outside = (middle < low) | (middle > high)
    lately = (days > forecast.day - LATELY_DAYS) & (days <= forecast.day)
    if lately.any() and outside[lately].mean() > 0.5:
        return forecast.day
    ahead = days[outside & (days >= forecast.day)]
    return int(ahead[0]) if len(ahead) else None


def judge(history: History, forecasts: Iterable[Forecast]) -> list[Judged]:
    """Answer every forecast about a fault that was active when it was made."""
    planted = {truth.vehicle: truth for truth in truths(history)}
    last = history.first_day + history.days - 1
    found = []
    for forecast in forecasts:
        truth = planted.get(forecast.vehicle)
        if truth is None or not truth.onset <= forecast.day < truth.end:
            continue
        seen_until = min(truth.end - 1, last)
        crossing = leaves_band(history, forecast)
        if crossing is not None and crossing > seen_until:
            crossing = None
        found.append(
            Judged(
                forecast=forecast,
                truth=truth,
                covered=_covered(forecast, crossing, seen_until),
                happened=_happened(forecast, truth, crossing, seen_until),
            )
        )
    return found


def _covered(forecast: Forecast, crossing: int | None, seen_until: int) -> bool | None:
    if forecast.limit_low is None and forecast.limit_high is None:
        return None
    year = forecast.day + YEAR_DAYS
    low = year if forecast.reaches_low is None else max(forecast.reaches_low, forecast.day)
    high = year if forecast.reaches_high is None else max(forecast.reaches_high, forecast.day)
    if crossing is None:
        return False if high < seen_until else None
    return low <= crossing <= high


def _happened(forecast: Forecast, truth: Truth, crossing: int | None, seen_until: int) -> bool | None:
    until = forecast.day + HORIZON_DAYS
    complained = forecast.day <= truth.complaint <= min(until, seen_until)
    if complained or (crossing is not None and crossing <= until):
        return True
    return False if seen_until >= until else None


def _row(name: str, items: Sequence[Judged]) -> list[str]:
    known = [item.covered for item in items if item.covered is not None]
    low, high = wilson(sum(known), len(known))
    share = f"{100 * sum(known) / len(known):.0f} % ({100 * low:.0f}-{100 * high:.0f})" if known else "-"
    return [name, str(len(items)), str(len(known)), share]


def coverage_table(items: Sequence[Judged]) -> str:
    """Show how often the 80 % interval of the day at the limit held the day, by age and speed."""
    rows = [["80 % interval of the day at the limit", "forecasts", "decided", "held it"]]
    for age in FORECAST_AGES:
        aged = [item for item in items if item.forecast.age == age]
        rows.append(_row(f"{age} days after raising", aged))
        for speed in sorted({speed_of(item.truth) for item in aged}):
            rows.append(_row(f"   {speed}", [item for item in aged if speed_of(item.truth) == speed]))
    return grid(rows)


def probability_table(items: Sequence[Judged]) -> str:
    """Show stated against observed 30-day shares, and the Brier score beside that of the overall share.

    The last line is the curve that would set the statements right.
    """
    pairs = [
        (item.forecast.probability_30d, item.happened)
        for item in items
        if item.forecast.probability_30d is not None and item.happened is not None
    ]
    stated, happened = [p for p, _ in pairs], [float(y) for _, y in pairs]
    rows = [["stated 30-day probability", "forecasts", "mean stated", "happened", "95 % interval"]]
    for one in reliability_table(happened, stated, bins=5):
        if one.count:
            held = f"{one.observed_low:.2f}-{one.observed_high:.2f}"
            rows.append([f"{one.low:.1f}-{one.high:.1f}", str(one.count), f"{one.stated:.2f}",
                         f"{one.observed:.2f}", held])  # fmt: skip
    if not pairs:
        return grid(rows)
    overall = float(np.mean(happened))
    ours, climate = brier_score(happened, stated), brier_score(happened, [overall] * len(pairs))
    skill = "" if climate == 0 else f", skill {1 - ours / climate:.2f}"
    curve = fit_curve(happened, stated)
    return (
        grid(rows)
        + f"\nBrier score {ours:.3f} against {climate:.3f} for the overall share {overall:.2f}{skill}"
        + f"\nlogit line that would correct them: offset {curve.offset:+.2f}, slope {curve.slope:.2f};"
        + f" a stated 0.50 should read {float(curve.apply(0.5)):.2f}"
    )
