"""Feed a history to the methods without files or store: for tuning, and for the comparison methods.

Rows that a careful door would refuse are left out here (the generator knows which they are); states are
judged from the values as the service does it.
"""

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import STATES
from ingest.states import judge
from models.learning.loggers import LOGGER_CHANGED
from models.panel import Daily, Fleet, Readings, SheetFacts, WorkFact
from models.summarise import summarise
from service.demo.dirt import PLAIN
from service.demo.fleet import History
from service.demo.sheets import TYPES, EngineType
from service.demo.town import DEPOTS


def believed(history: History) -> Readings:
    """Give the believable snapshots of a history, sorted by vehicle and time."""
    rows, sent = history.rows, history.sent
    keep = sent.flaw == PLAIN
    values, switches = sent.values[keep], sent.switches[keep].astype(np.int8)
    state, _ = judge(values, switches, sent.claim[keep].astype(np.int8))
    taken, vehicle = history.taken_us[keep], rows.vehicle[keep]
    order = np.lexsort((taken, vehicle))
    return Readings(
        vehicle=vehicle[order].astype(np.int32),
        taken_us=taken[order],
        day=(history.first_day + rows.day[keep][order]).astype(np.int32),
        state=state[order],
        values=values[order],
        switches=switches[order],
    )


def _facts(kind: EngineType) -> SheetFacts:
    return SheetFacts(
        sheet=kind.sheet,
        revision=1,
        source=f"p. {kind.page}",
        displacement_l=kind.displacement_l,
        cylinders=kind.cylinders,
        banks=kind.banks,
        air_metering=kind.air_metering,
        idle_control=kind.idle_control,
        charging=kind.charging,
        soak_hours=kind.soak_hours,
        soak_gap_degc=kind.soak_gap_c,
        limits=tuple(band[:4] for band in kind.limits),
    )


def register(history: History) -> Fleet:
    """Give the fleet as the models see it, with all work records."""
    depots = sorted({DEPOTS[history.registered_depot(v)].name for v in range(len(history.roster))})
    work = [
        WorkFact(vehicle=job.vehicle, day=history.first_day + job.day, kind=job.kind, cause=job.cause)
        for job in history.jobs
        if job.day >= 0
    ]
    work += [
        WorkFact(vehicle=vehicle, day=history.first_day + int(day), kind=LOGGER_CHANGED)
        for vehicle, day in enumerate(history.roster.swap_day)
        if day < history.days and not history.roster.nameless[vehicle]
    ]
    return Fleet(
        vehicles=history.roster.names,
        sheet=history.roster.kind.astype(np.int32),
        sheets=tuple(_facts(kind) for kind in TYPES),
        depot=np.array(
            [depots.index(DEPOTS[history.registered_depot(v)].name) for v in range(len(history.roster))],
            dtype=np.int32,
        ),
        depots=tuple(depots),
        work=tuple(sorted(work, key=lambda item: (item.vehicle, item.day))),
    )


def fold(history: History) -> Daily:
    """Give the daily summaries of a history."""
    soak = np.array([kind.soak_hours for kind in TYPES])[history.roster.kind]
    return summarise(believed(history), soak)


def state_days(
    daily: Daily, shape: tuple[int, int], first_day: int, state: str, column: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Lay one daily column of one state out as a float array of shape (V, days); NaN where there is none."""
    grid = np.full(shape, np.nan)
    day = daily.day - first_day
    here = (daily.state == STATES.index(state)) & (day >= 0) & (day < shape[1])
    grid[daily.vehicle[here], day[here]] = column[here]
    return grid
