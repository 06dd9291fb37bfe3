"""Made-up views of the money pages, the track record and the cost table."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Final

from dashboards.budget_page import BudgetView, CumulativeStep, Expected, TestedLine
from dashboards.costs_page import CostCells, CostRefused, CostsView, CostTrial, RevisionLine
from dashboards.money import (
    AtRisk,
    AvoidedLine,
    CauseLine,
    MoneyView,
    PeriodLine,
    Prices,
    RiskLine,
    SpentCell,
)
from dashboards.render import View
from dashboards.track import (
    BinLine,
    ComebackLine,
    FalseRate,
    Portion,
    TaughtLine,
    TrackView,
    VersionLine,
    Warning,
)

NOW: Final = datetime(2031, 9, 8, 2, 0, tzinfo=UTC)
PRICES: Final = Prices(
    currency="EUR", price_date=date(2031, 1, 1), revision=3, source="price list of spring", made_up=4
)
MONTHS: Final = [date(2031, 9 + place, 1) if place < 4 else date(2032, place - 3, 1) for place in range(12)]


def _cell(count: int, middle: str | None) -> SpentCell:
    cost = None if middle is None else Decimal(middle)
    return SpentCell(
        count=count,
        priced=count if cost else 0,
        middle=cost,
        least=None if cost is None else cost / 2,
        most=None if cost is None else cost * 2,
        per_distance=cost,
        per_hours=cost,
        total=Decimal("0.00") if cost is None else cost * count,
        few=count < 5,
    )


def _period(year: int) -> PeriodLine:
    return PeriodLine(
        first=date(year, 1, 1),
        last=date(year, 9, 7),
        repairs=61,
        total=Decimal("12345.60"),
        vehicle_days=98_765,
        distance_km=4_321_000.0,
        distance_covered=0.82,
        engine_hours=54_321.0,
        hours_covered=0.64,
        per_distance=Decimal("285.71"),
    )


def money() -> MoneyView:
    """Make the money page with everything on it."""
    row = RiskLine(
        ticket="V-0017-T2",
        vehicle="V-0017",
        depot="North",
        problem="idle airflow rising at warm idle",
        probability=0.41,
        planned=Decimal("136.00"),
        unplanned=Decimal("440.00"),
        at_risk=Decimal("124.64"),
    )
    return MoneyView(
        prices=PRICES,
        at_risk=AtRisk(
            mean=Decimal("249.28"),
            low=Decimal("0.00"),
            high=Decimal("512.10"),
            horizon_days=30,
            rows=(row, replace(row, ticket="V-0018-T1", vehicle="V-0018", depot="")),
        ),
        depot="",
        depots=("North", "South"),
        now=_period(2031),
        before=_period(2030),
        causes=(
            CauseLine(
                causes=("unmetered_air",),
                pooled=False,
                planned=_cell(9, "140.50"),
                unplanned=_cell(2, "410.00"),
                total=Decimal("2084.50"),
            ),
            CauseLine(
                causes=("charging_low", "voltage_drop"),
                pooled=True,
                planned=_cell(3, "80.00"),
                unplanned=_cell(0, None),
                total=Decimal("240.00"),
            ),
        ),
        unpriced=2,
        avoided=AvoidedLine(value=-0.4, low=-2.1, high=1.3, expected=2.6, came=3, tickets=7),
        may_edit=True,
    )


def budget() -> BudgetView:
    """Make the budget page with everything on it."""
    month = Expected(label="", month=MONTHS[0], mean=900.25, low=120.0, middle=830.0, high=2100.5, visits=4.2)
    rows = tuple(replace(month, month=day, mean=900.25 + 10 * place) for place, day in enumerate(MONTHS))
    cause = replace(month, month=None, label="battery_ageing")
    tested = TestedLine(
        month=date(2031, 7, 1),
        mean=800.0,
        low=100.0,
        middle=700.0,
        high=1500.0,
        spent=650.0,
        repairs=3,
        inside=True,
    )
    return BudgetView(
        prices=PRICES,
        as_of=date(2031, 8, 31),
        depot="North",
        depots=("North", "South"),
        total=replace(
            month, month=None, mean=11_463.0, low=8_000.0, middle=11_300.0, high=15_200.0, visits=50.0
        ),
        by_month=rows,
        by_cause=(cause, replace(cause, label="exhaust_leak_ahead_of_sensor", mean=400.0)),
        by_depot=(replace(cause, label="North"), replace(cause, label="")),
        seed=1,
        draws=2000,
        repairs_known=61,
        tickets=5,
        dispersion=1.7,
        tested=(tested, replace(tested, month=date(2031, 8, 1), spent=2600.0, inside=False)),
        tested_inside=1,
        cumulative=tuple(
            CumulativeStep(months=place, vehicles=60, mean=15.0 * place, low=10.0 * place, high=22.0 * place)
            for place in range(1, 13)
        ),
    )


def track() -> TrackView:
    """Make the track record of a fleet with some history."""
    share = Portion(count=31, of=40, share=0.775, low=0.625, high=0.877, enough=True)
    few = Portion(count=1, of=4, share=0.25, low=0.05, high=0.7, enough=False)
    none = Portion(count=0, of=0, share=None, low=0.0, high=1.0, enough=False)
    return TrackView(
        found=share,
        by_data=22,
        by_hand=2,
        without_proof=3,
        waiting=4,
        missed=few,
        complaints=17,
        warning=Warning(middle=18.5, low=14.0, high=23.5, count=31, enough=True),
        back=Portion(count=2, of=31, share=2 / 31, low=0.02, high=0.21, enough=True),
        comebacks=(ComebackLine(cause="unmetered_air", kind="repair", portion=few),),
        false_rate=FalseRate(count=9, vehicle_months=8300.0, rate=0.108, low=0.05, high=0.21, asked=0.1),
        bins=(
            BinLine(low=0.4, high=0.5, stated=0.44, portion=share, agrees=False),
            BinLine(low=0.5, high=0.6, stated=None, portion=none, agrees=None),
        ),
        brier=0.171,
        checked=40,
        undecided=12,
        taught=(TaughtLine(cause="unmetered_air", found=9, before=0.08, after=0.11),),
        versions=(VersionLine(method="direction 1", checked=40, brier=0.158),),
        may_export=True,
    )


def costs() -> CostsView:
    """Make the cost table as it stands."""
    line = CostCells(
        cause="unmetered_air",
        own=True,
        planned_hours=1.2,
        unplanned_hours=2.5,
        planned_parts=40.0,
        unplanned_parts=60.0,
        downtime=180.0,
        labour_rate=80.0,
        look_cost=56.0,
        planned=136.0,
        unplanned=440.0,
        price_date=date(2031, 1, 1),
        revision=3,
        source="price list of spring",
    )
    return CostsView(
        step="see",
        currency="EUR",
        revision=3,
        lines=(line, replace(line, cause="unknown", own=False, revision=0)),
        made_up=1,
        revisions=(RevisionLine(revision=3, causes=2, put_by="analyst", put_at=NOW, source="spring"),),
        trial=None,
        columns=("cause", "planned_hours"),
        pasted="",
    )


def looked_at() -> CostsView:
    """Make the look at a file of costs of which a line is refused."""
    refused = CostRefused(row=3, column="cause", code="unknown-word", detail="cause must be one of ...")
    trial = CostTrial(number=7, added=1, changed=2, same=3, refused=(refused,), unknown=("colour",))
    return replace(costs(), step="look", trial=trial)


def pages() -> dict[str, tuple[View, str]]:
    """Give every view with its title, by a name for files and test ids."""
    empty = replace(money(), at_risk=None, now=None, before=None, causes=(), may_edit=False)
    return {
        "money": (money(), "Money"),
        "money-empty": (empty, "Money"),
        "budget": (budget(), "Budget"),
        "budget-empty": (replace(budget(), total=None), "Budget"),
        "track": (track(), "Track record"),
        "costs": (costs(), "Cost table"),
        "costs-look": (looked_at(), "Cost table"),
    }
