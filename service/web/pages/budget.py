"""The budget page: the coming year's cost, and past months' budgets held against what was spent."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Final

import numpy as np
from fastapi import APIRouter, Depends, Request
from numpy.typing import NDArray
from starlette.responses import HTMLResponse

from dashboards.budget_page import BudgetView, CumulativeStep, Expected, TestedLine
from ingest.parameters import CAUSES
from models.money.budget import MINOR, Budget
from models.money.recurrence import MeanCumulative
from service.store import Work
from service.tickets.costs import starting_costs
from service.web.backtest import TestedMonth, back_test, inside_of
from service.web.budget import counted_tickets, cumulative, forecast, months_ahead
from service.web.ground import Ground, gather
from service.web.pages.frames import make_frame, show, today_of
from service.web.pages.money import prices_of
from service.web.query import choose
from service.web.readers import allow
from service.web.shell import Shell, shell_of

router = APIRouter(dependencies=[Depends(allow("money"))])

STEPS: Final = 60
"""Steps of the cumulative curve that are drawn and listed; chosen by us."""

Z95: Final = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A budget as it was made, with its test."""

    ground: Ground
    budget: Budget
    tested: tuple[TestedMonth, ...]
    curve: MeanCumulative
    dispersion: float


@dataclass(slots=True)
class BudgetMemory:
    """Holds the budgets of the newest facts: making one takes a second or two."""

    _key: object = None
    _made: dict[str, Made] = field(default_factory=dict)

    def made(self, work: Work, ground: Ground, depot: str, key: object) -> Made:
        """Give a depot's budget, made anew only when the facts behind it changed."""
        if self._key != key:
            self._key, self._made = key, {}
        if depot not in self._made:
            own = of_depot(ground, depot) if depot else ground
            self._made[depot] = Made(
                ground=own,
                budget=forecast(own),
                tested=back_test(work, own),
                curve=cumulative(own, costs=True),
                dispersion=cumulative(own, costs=False).dispersion,
            )
        return self._made[depot]


MEMORY: Final = BudgetMemory()


def of_depot(ground: Ground, depot: str) -> Ground:
    """Keep one depot's vehicles, with their work and tickets."""
    names = {one.vehicle for one in ground.vehicles if one.depot == depot}
    return replace(
        ground,
        vehicles=tuple(one for one in ground.vehicles if one.vehicle in names),
        work=tuple(one for one in ground.work if one.vehicle in names),
        tickets=tuple(one for one in ground.tickets if one.vehicle in names),
    )


@router.get("/money/budget")
def budget_page(request: Request, depot: str = "") -> HTMLResponse:
    """Show manager and analyst what the coming twelve months will cost, and how past budgets held."""
    shell = shell_of(request)
    today = today_of(shell)
    with shell.store.begin(readonly=True) as work:
        newest = shell.memory.newest(work)
        ground = gather(work, today, None)
        depots = tuple(sorted({one.depot for one in ground.vehicles if one.depot})) if ground else ()
        choose("depot", depot, ("", *depots))
        made = (
            None if ground is None else MEMORY.made(work, ground, depot, _key(shell, ground, newest.made_at))
        )
    view = _view(made, depot, depots)
    return show(view, make_frame(request, "Budget", newest=newest))


def _key(shell: Shell, ground: Ground, made_at: datetime | None) -> object:
    """Name the facts that a budget stands on, so that any change makes a new one."""
    return (
        shell.store.url,
        made_at,
        ground.as_of,
        ground.costs.revision if ground.own_costs else 0,
        len(ground.vehicles),
        hash(ground.work),
        tuple((one.ticket, one.version) for one in ground.tickets),
    )


def _view(made: Made | None, depot: str, depots: tuple[str, ...]) -> BudgetView:
    if made is None:
        return BudgetView(
            prices=prices_of(starting_costs(), has_own=False),
            as_of=None,
            depot=depot,
            depots=depots,
            total=None,
            by_month=(),
            by_cause=(),
            by_depot=(),
            seed=0,
            draws=0,
            repairs_known=0,
            tickets=0,
            dispersion=1.0,
            tested=(),
            tested_inside=0,
            cumulative=(),
        )
    budget, ground = made.budget, made.ground
    visits = budget.visits
    return BudgetView(
        prices=prices_of(ground.costs, has_own=ground.own_costs),
        as_of=ground.as_of,
        depot=depot,
        depots=depots,
        total=_expected(budget.total, (), visits.sum()),
        by_month=tuple(
            _expected(budget.month, (place,), visits[place].sum(), month=month)
            for place, month in enumerate(months_ahead(ground.as_of))
        ),
        by_cause=_by_mean(
            [
                _expected(budget.cause, (place,), visits[:, place].sum(), label=cause)
                for place, cause in enumerate(CAUSES)
            ]
        ),
        by_depot=_by_mean(
            [
                _expected(budget.depot, (place,), visits[:, :, place].sum(), label=name)
                for place, name in enumerate(ground.depots)
            ]
        ),
        seed=budget.seed,
        draws=budget.draws,
        repairs_known=budget.history,
        tickets=counted_tickets(ground),
        dispersion=made.dispersion,
        tested=tuple(_tested(one) for one in made.tested),
        tested_inside=inside_of(made.tested)[0],
        cumulative=_steps(made.curve),
    )


def _expected(
    spread: object, where: tuple[int, ...], visits: float, *, month: date | None = None, label: str = ""
) -> Expected:
    mean, low, middle, high = (
        int(getattr(spread, name)[where]) / MINOR for name in ("mean", "p10", "p50", "p90")
    )
    return Expected(
        label=label, month=month, mean=mean, low=low, middle=middle, high=high, visits=float(visits)
    )


def _by_mean(rows: Sequence[Expected]) -> tuple[Expected, ...]:
    """Sort the dearest first; what never costs anything in any simulated year is left out."""
    return tuple(sorted((row for row in rows if row.mean), key=lambda row: (-row.mean, row.label)))


def _tested(one: TestedMonth) -> TestedLine:
    return TestedLine(
        month=one.month,
        mean=one.mean,
        low=one.low,
        middle=one.middle,
        high=one.high,
        spent=one.spent,
        repairs=one.repairs,
        inside=one.inside,
    )


def _steps(curve: MeanCumulative) -> tuple[CumulativeStep, ...]:
    count = len(curve.age)
    if not count:
        return ()
    chosen: NDArray[np.int64] = np.unique(
        np.linspace(0, count - 1, min(STEPS, count)).round().astype(np.int64)
    )
    half = Z95 * np.sqrt(curve.variance)
    return tuple(
        CumulativeStep(
            months=float(curve.age[place]),
            vehicles=int(curve.at_risk[place]),
            mean=float(curve.mean[place]),
            low=float(max(0.0, curve.mean[place] - half[place])),
            high=float(curve.mean[place] + half[place]),
        )
        for place in chosen
    )
