"""The money pages' pictures: each with a sentence that says what it shows."""

from collections.abc import Sequence

from markupsafe import Markup

from dashboards import formats, range_svg
from dashboards.budget_page import CumulativeStep, Expected, TestedLine
from dashboards.range_svg import Band
from dashboards.track import BinLine
from dashboards.words import CAUSES, say


def months(rows: Sequence[Expected], currency: str) -> Markup:
    """Draw the coming months' ranges."""
    bands = [
        Band(label=formats.month(row.month)[:3], low=row.low, middle=row.middle, high=row.high)
        for row in rows
    ]
    dearest = max(rows, key=lambda row: row.mean)
    text = (
        f"{len(rows)} months from {formats.month(rows[0].month)}; the dearest is expected to be "
        f"{formats.month(dearest.month)} with {formats.money(dearest.mean, currency)} "
        f"(80 %: {formats.money(dearest.low, currency)} to {formats.money(dearest.high, currency)})."
    )
    return range_svg.upright(bands, text)


def lines(rows: Sequence[Expected], currency: str, what: str) -> Markup:
    """Draw the ranges of causes or depots, one below the other."""
    bands = [Band(label=_name(row.label), low=row.low, middle=row.middle, high=row.high) for row in rows]
    first = rows[0] if rows else None
    text = f"Expected cost by {what}."
    if first is not None:
        dearest = f"{_name(first.label)} with {formats.money(first.mean, currency)}"
        text = f"Expected cost by {what}; the dearest is {dearest}."
    return range_svg.level(bands, text)


def tested(rows: Sequence[TestedLine], currency: str) -> Markup:
    """Draw past months' budgets with what was spent."""
    bands = [
        Band(
            label=formats.month(row.month)[:3], low=row.low, middle=row.middle, high=row.high, came=row.spent
        )
        for row in rows
    ]
    inside = sum(row.inside for row in rows)
    spent = formats.money(sum(row.spent for row in rows), currency)
    budgeted = formats.money(sum(row.mean for row in rows), currency)
    held = f"In {inside} of {len(rows)} months what was spent lay inside the 80 % range"
    text = f"{held}; {budgeted} budgeted, {spent} spent."
    return range_svg.upright(bands, text)


def cumulative(steps: Sequence[CumulativeStep], currency: str) -> Markup:
    """Draw the mean cumulative cost per vehicle with its interval."""
    last = steps[-1]
    text = (
        f"After {last.months:.0f} months a vehicle has cost {formats.money(last.mean, currency)} on average "
        f"(95 %: {formats.money(last.low, currency)} to {formats.money(last.high, currency)})."
    )
    return range_svg.staircase(
        [(one.months, one.mean, one.low, one.high) for one in steps], text, "months watched"
    )


def stated(bins: Sequence[BinLine]) -> Markup:
    """Draw how often statements came true beside what was stated."""
    bands = [
        (
            one.stated or 0.0,
            Band(label="", low=one.portion.low, middle=one.portion.share or 0.0, high=one.portion.high),
        )
        for one in bins
        if one.stated is not None
    ]
    return range_svg.reliability(bands, agreement(bins))


def agreement(bins: Sequence[BinLine]) -> str:
    """Say in how many ranges that hold a statement what happened agrees with what was stated."""
    told = [one.agrees for one in bins if one.agrees is not None]
    agree = f"In {sum(told)} of {len(told)} ranges with statements"
    return f"{agree} what was stated lies inside the 95 % interval of what came true."


def _name(label: str) -> str:
    return say(CAUSES, label) if label else "no depot given"
