"""One evaluation: fold what arrived, assess the fleet, bring the findings to the tickets, keep it all.

Run twice for the same date it changes nothing the second time. Run late it is the same as on time, with what
is known now. As of a date before the newest evaluation it keeps the assessment and leaves the tickets alone:
they live forward only; `replay` walks them anew.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Final

from models.findings import Assessment, Corrected, Trend
from models.panel import Daily, Fleet
from service.schedule.engine import Engine, Terms, Walker
from service.schedule.errors import TooContested
from service.schedule.knowledge import fleet_costs, to_prove, vehicle_facts, weigh_repairs, work_done
from service.store import AlreadyThere, StaleVersion, Store
from service.store.work import Work
from service.tickets.costs import CostTable
from service.tickets.matching import WorkDone
from service.tickets.reconcile import Action, Knowledge, reconcile
from service.tickets.ticket import Ticket
from service.tickets.words import to_date, to_day

ATTEMPTS: Final = 5
"""How often tickets are reconciled anew when people change them meanwhile; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What an evaluation did.

    Parameters
    ----------
    as_of : date
        Evaluation date.
    vehicles, findings : int
        Vehicles looked at, findings of both tiers.
    folded : int
        Vehicle-days folded before.
    actions : mapping of str to int
        Ticket actions by kind.
    opened : tuple of str
        Numbers of new tickets.
    notes : tuple of str
        What deserves a word.
    """

    as_of: date
    vehicles: int
    findings: int
    folded: int
    actions: Mapping[str, int] = field(default_factory=dict)
    opened: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def counts(self) -> dict[str, int]:
        """Give the figures for the ledger of runs."""
        base = {"vehicles": self.vehicles, "findings": self.findings, "folded": self.folded}
        return base | {f"tickets_{kind}": count for kind, count in sorted(self.actions.items())}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Material:
    """What evaluations of one or many dates know beside readings; records may be of later days."""

    fleet: Fleet
    work: tuple[WorkDone, ...]
    sheet_of: dict[str, str]
    costs: CostTable | None
    gone: Mapping[str, date] = field(default_factory=dict)


def evaluate(store: Store, *, as_of: date, now: datetime, terms: Terms, engine: Engine) -> Report:
    """Evaluate the fleet as of one date.

    Parameters
    ----------
    store : Store
        Open and migrated.
    as_of : date
        Everything taken and done up to the end of this local date counts.
    now : datetime
        When the evaluation is made, aware.
    terms : Terms
        What the fleet's owner asks for.
    engine : Engine
        The models.

    Raises
    ------
    TooContested
        People kept changing the same tickets.
    StoreError
        The store refused.
    """
    store.reread_all(now)
    folded = store.fold_all(engine.summarise)
    day = to_day(as_of)
    with store.begin(readonly=True) as work:
        material = load_material(work, up_to_day=day, terms=terms)
        # Nobody here holds the rows: a large fleet's are let go as soon as the models have read them.
        walker: Walker = engine.walker(material.fleet, work.daily(up_to_day=day), terms.wish)
    assessment = walker.at(day)
    trends, corrected = walker.trends(day), walker.corrected(day)
    for _ in range(ATTEMPTS):
        try:
            with store.begin() as work:
                report = _settle(
                    work,
                    assessment,
                    (trends, corrected),
                    material=material,
                    terms=terms,
                    now=now,
                    folded=folded,
                )
                work.commit()
        except (StaleVersion, AlreadyThere):
            continue
        return report
    raise TooContested(ATTEMPTS)


def load_material(work: Work, *, up_to_day: int, terms: Terms) -> Material:
    """Load what evaluations up to a day know beside readings."""
    return Material(
        fleet=work.fleet_facts(as_of_day=up_to_day),
        work=work_done(work.work_records(up_to_day=up_to_day)),
        sheet_of=dict(work.sheet_of()),
        costs=fleet_costs(work.costs(), terms.prices),
        gone=work.gone(),
    )


def act(
    tickets: tuple[Ticket, ...],
    assessment: Assessment,
    *,
    material: Material,
    repaired: tuple[Sequence[str], Daily],
    terms: Terms,
) -> tuple[Action, ...]:
    """Reconcile tickets with an assessment: pure, the caller keeps the actions.

    Parameters
    ----------
    tickets : tuple of Ticket
    assessment : Assessment
    material : Material
    repaired : (vehicles, Daily)
        Daily rows of vehicles whose repairs wait for proof, at least, and the vehicles that they count.
    terms : Terms

    Returns
    -------
    tuple of Action
    """
    known = tuple(record for record in material.work if record.day <= assessment.day)
    knowledge = Knowledge(
        work=known,
        proofs=weigh_repairs(tickets, repaired, assessment, known, terms.rules),
        vehicles=vehicle_facts(material.fleet, material.sheet_of),
        gone=material.gone,
        costs=material.costs,
        rules=terms.rules,
    )
    return reconcile(tickets=tickets, assessment=_of_serving(assessment, material.gone), knowledge=knowledge)


def _of_serving(assessment: Assessment, gone: Mapping[str, date]) -> Assessment:
    """Leave out findings on vehicles that are out of service by then: nobody can act on them."""
    absent = {vehicle for vehicle, since in gone.items() if since <= to_date(assessment.day)}
    if not absent:
        return assessment
    return replace(
        assessment, findings=tuple(one for one in assessment.findings if one.vehicle not in absent)
    )


def _settle(
    work: Work,
    assessment: Assessment,
    series: tuple[tuple[Trend, ...], tuple[Corrected, ...]],
    *,
    material: Material,
    terms: Terms,
    now: datetime,
    folded: int,
) -> Report:
    assessed = work.assessed_days()
    later = [day for day in assessed if day > assessment.day]
    work.put_assessment(assessment, now, trends=None if later else series[0])
    if not later:
        work.put_corrected(assessment.day, series[1])
    actions: tuple[Action, ...] = ()
    notes: tuple[str, ...] = ()
    if later:
        notes = (
            f"Evaluated up to {to_date(max(later)).isoformat()} before: the tickets are left as they are.",
        )
    else:
        tickets = work.tickets()
        mended = sorted({ticket.vehicle for ticket in tickets if to_prove(ticket)})
        repaired = (mended, work.daily(mended, up_to_day=assessment.day))
        actions = act(tickets, assessment, material=material, repaired=repaired, terms=terms)
        for action in actions:
            work.put_ticket(action.ticket, action.events, read_version=action.read_version)
    return make_report(assessment, actions, folded=folded, notes=notes)


def make_report(
    assessment: Assessment, actions: tuple[Action, ...], *, folded: int, notes: tuple[str, ...] = ()
) -> Report:
    """Sum an evaluation up."""
    return Report(
        as_of=to_date(assessment.day),
        vehicles=len(assessment.vehicles),
        findings=len(assessment.findings),
        folded=folded,
        actions=Counter(action.kind for action in actions),
        opened=tuple(action.ticket.ticket for action in actions if action.kind == "open"),
        notes=notes,
    )
