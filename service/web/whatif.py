"""What a draft of a spec sheet would change, worked out from what is stored."""

from dataclasses import replace
from typing import Final

import numpy as np

from ingest.records import SpecSheet
from models.panel import Fleet
from models.whatif import Move, compare_sheets
from service.store import Work
from service.store.facts import sheet_facts

LOOK_BACK_DAYS: Final = 200
"""Days of summaries that are looked at; chosen by us: nine readings of a vehicle that seldom drives."""


def weigh_draft(work: Work, draft: SpecSheet, now: SpecSheet | None) -> tuple[int, tuple[Move, ...]] | None:
    """Hold the newest evaluation's limits against a draft.

    Parameters
    ----------
    work : Work
        Unit of work of the request.
    draft : SpecSheet
        Not in force yet.
    now : SpecSheet or None
        The revision in force; None where there is none.

    Returns
    -------
    tuple of (int, tuple of Move) or None
        Day of that evaluation and what would change sides; None before the first evaluation.
    """
    day = work.trend_day()
    if day is None:
        return None
    sheet_of = work.sheet_of()
    names = sorted(name for name, sheet in sheet_of.items() if sheet == draft.sheet)
    if not names:
        return day, ()
    fleet = _only(work.fleet_facts(as_of_day=day), names)
    daily = work.daily(names, from_day=day - LOOK_BACK_DAYS, up_to_day=day)
    wanted = frozenset(names)
    trends = [one for one in work.trends(day) if one.vehicle in wanted]
    facts = None if now is None else sheet_facts(now)
    return day, compare_sheets(fleet, daily, trends, sheets=(facts, sheet_facts(draft)), day=day)


def _only(fleet: Fleet, names: list[str]) -> Fleet:
    """Keep some vehicles of a fleet, in order."""
    place_of = {name: place for place, name in enumerate(names)}
    rows = [place for place, name in enumerate(fleet.vehicles) if name in place_of]
    return replace(
        fleet,
        vehicles=tuple(names),
        sheet=np.full(len(names), -1, dtype=np.int32),
        depot=fleet.depot[rows],
        work=tuple(
            replace(one, vehicle=place_of[fleet.vehicles[one.vehicle]])
            for one in fleet.work
            if fleet.vehicles[one.vehicle] in place_of
        ),
    )
