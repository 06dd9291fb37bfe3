"""Two ways from a history to tickets: through files and store, or straight from columns.

The judged way is `by_files`: written, read, stored and replayed as the service does it. `by_columns` leaves
out reading, store and wire, knows which rows are unbelievable, and gives the same walk in a fraction of the
time; it serves tuning.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from ingest.aliases import AliasTable, read_aliases
from ingest.formats import iter_snapshots
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from models.panel import Daily, Wish
from service.demo.fleet import EPOCH, History
from service.demo.sheets import TYPES
from service.demo.write import fleet_files
from service.schedule.engine import Terms, models_engine
from service.schedule.evaluate import Material, act, load_material
from service.schedule.replay import Span, replay
from service.store import Store, open_store
from service.tickets.matching import WorkDone
from service.tickets.ticket import Ticket, is_open
from tests.bench.calibration import FORECAST_AGES, Forecast
from tests.bench.direct import fold, register
from tests.bench.score import Raised

NOW = datetime(2026, 7, 1, tzinfo=UTC)
"""When the files arrive: after the last day of every benchmark history."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Tickets with their causes when raised and at the end, seconds by step, counts of the load."""

    tickets: tuple[Raised, ...]
    at_end: tuple[Raised, ...]
    seconds: Mapping[str, float]
    counts: Mapping[str, int]
    forecasts: tuple[Forecast, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stored:
    """A fleet as the models read it: what is known beside readings, and the daily summaries."""

    material: Material
    daily: Daily


def _raised(ticket: Ticket) -> Raised:
    day = (ticket.raised_at.date() - EPOCH).days
    ranked = (
        (ticket.cause_1, ticket.cause_1_p),
        (ticket.cause_2, ticket.cause_2_p),
        (ticket.cause_3, ticket.cause_3_p),
    )
    named = [(cause, share or 0.0) for cause, share in ranked if cause]
    return Raised(
        vehicle=ticket.vehicle,
        day=day,
        causes=tuple(cause for cause, _ in named),
        shares=tuple(share for _, share in named),
    )


def _is_due(ticket: Ticket, day: int) -> bool:
    """Tell whether a ticket's forecast is taken down today: while open, on the first day and two weeks on."""
    return is_open(ticket) and day - _raised(ticket).day in FORECAST_AGES


def _forecast(ticket: Ticket, day: int) -> Forecast:
    def to_day(on: date | None) -> int | None:
        return None if on is None else (on - EPOCH).days

    return Forecast(
        vehicle=ticket.vehicle,
        day=day,
        age=day - _raised(ticket).day,
        parameter=ticket.parameter,
        state=ticket.state,
        limit_low=ticket.limit_low,
        limit_high=ticket.limit_high,
        reaches_low=to_day(ticket.reaches_limit_low),
        reaches_high=to_day(ticket.reaches_limit_high),
        probability_30d=ticket.probability_30d,
    )


def _work_done(history: History) -> tuple[WorkDone, ...]:
    found = []
    for number, job in enumerate(history.jobs):
        if job.day < 0:
            continue
        at = datetime.combine(history.date_of(job.day), datetime.min.time(), UTC) + timedelta(
            hours=job.hour + 6
        )
        found.append(
            WorkDone(
                number=f"R-{number}",
                vehicle=history.roster.names[job.vehicle],
                done_at=at,
                day=history.first_day + job.day,
                kind=job.kind,
                cause=job.cause,
            )
        )
    return tuple(found)


def fold_columns(history: History) -> Stored:
    """Give a history as the models would read it from the store, straight from its columns."""
    sheet_of = {
        name: TYPES[kind].sheet
        for name, kind in zip(history.roster.names, history.roster.kind.tolist(), strict=True)
    }
    material = Material(fleet=register(history), work=_work_done(history), sheet_of=sheet_of, costs=None)
    return Stored(material=material, daily=fold(history))


def by_columns(history: History, *, every: int = 1, wish: Wish | None = None) -> Outcome:
    """Walk a history day by day, straight from its columns."""
    begun = time.perf_counter()
    stored = fold_columns(history)
    folded = time.perf_counter() - begun
    days = range(history.first_day, history.first_day + history.days, every)
    outcome = walk_columns(stored, days, wish=wish)
    return replace(outcome, seconds={"fold": folded, **outcome.seconds})


def walk_columns(stored: Stored, days: range, *, wish: Wish | None = None) -> Outcome:
    """Walk a fleet's daily summaries day by day, without the store."""
    begun = time.perf_counter()
    material, daily = stored.material, stored.daily
    terms = Terms(wish=wish or Wish())
    walker = models_engine().walker(material.fleet, daily, terms.wish)
    tickets: dict[str, Ticket] = {}
    first: dict[str, Raised] = {}
    forecasts: list[Forecast] = []
    assess = 0.0
    for day in days:
        before = time.perf_counter()
        assessment = walker.at(day)
        assess += time.perf_counter() - before
        actions = act(
            tuple(tickets.values()),
            assessment,
            material=material,
            repaired=(material.fleet.vehicles, daily),
            terms=terms,
        )
        for action in actions:
            tickets[action.ticket.ticket] = action.ticket
            first.setdefault(action.ticket.ticket, _raised(action.ticket))
        forecasts += [_forecast(ticket, day) for ticket in tickets.values() if _is_due(ticket, day)]
    return Outcome(
        tickets=tuple(first.values()),
        at_end=tuple(_raised(ticket) for ticket in tickets.values()),
        seconds={"assess": assess, "tickets": time.perf_counter() - begun - assess},
        counts={},
        forecasts=tuple(forecasts),
    )


def load(store: Store, files: Mapping[str, bytes]) -> dict[str, int]:
    """Load the files of a history into a migrated store; give the counts of what was refused."""
    vehicles, sheets = read_vehicles(files["vehicles.csv"], "csv"), read_sheets(files["specs.json"], "json")
    aliases, records = read_aliases(files["aliases.csv"], "csv"), read_work(files["work.csv"], "csv")
    counts = {
        "register_rejected": sum(len(loaded.rejected) for loaded in (vehicles, sheets, aliases, records)),
        "accepted": 0, "duplicates": 0, "quarantined": 0, "rejected": 0,
    }  # fmt: skip
    with store.begin() as work:
        work.put_sheets(sheets.rows, NOW)
        work.put_vehicles(vehicles.rows, NOW)
        work.put_aliases(aliases.rows, NOW)
        counts["work_refused"] = len(work.put_work(records.rows, NOW).refused)
        work.commit()
    with store.begin(readonly=True) as work:
        table, sheet_of = AliasTable.from_rows(aliases.rows, sheets.rows), work.sheet_of()
    for name, body in files.items():
        if not name.startswith("snapshots"):
            continue
        now_us = int(NOW.timestamp()) * 1_000_000
        kind = name.rpartition(".")[2]
        for arrival in iter_snapshots([body], kind=kind, now_us=now_us, aliases=table, sheet_of=sheet_of):
            with store.begin() as work:
                receipt = work.add_arrival(arrival, received_at=NOW, source=name)
                work.commit()
            counts["accepted"] += receipt.accepted
            counts["duplicates"] += receipt.duplicates
            counts["quarantined"] += len(receipt.quarantined)
            counts["rejected"] += len(receipt.rejected)
    return counts


def by_files(history: History, folder: Path, *, every: int = 1, wish: Wish | None = None) -> Outcome:
    """Write the files, load them into a new SQLite store, replay every date, read the tickets."""
    begun = time.perf_counter()
    files = fleet_files(history)
    written = time.perf_counter() - begun
    days = (history.first_day, history.first_day + history.days - 1)
    outcome = through_store(files, folder / f"fleet-{history.seed}.db", days, every=every, wish=wish)
    return replace(outcome, seconds={"write": written, **outcome.seconds})


def through_store(
    files: Mapping[str, bytes],
    path: Path,
    days: tuple[int, int],
    *,
    every: int = 1,
    wish: Wish | None = None,
) -> Outcome:
    """Load files into a new SQLite store, replay from the first to the last day, read the tickets."""
    clock = [time.perf_counter()]
    store = open_store(f"sqlite:///{path}")
    store.migrate()
    try:
        counts = load(store, files)
        clock.append(time.perf_counter())
        first, last = (EPOCH + timedelta(days=day) for day in days)
        walk(store, first, last, every=every, wish=wish)
        clock.append(time.perf_counter())
        with store.begin(readonly=True) as work:
            at_end = work.tickets()
            dates = sorted({ticket.raised_at for ticket in at_end})
            then = [ticket for at in dates for ticket in work.tickets(as_of=at) if ticket.raised_at == at]
    finally:
        store.close()
    names = ("load", "replay")
    return Outcome(
        tickets=tuple(_raised(ticket) for ticket in then),
        at_end=tuple(_raised(ticket) for ticket in at_end),
        seconds={name: clock[place + 1] - clock[place] for place, name in enumerate(names)},
        counts=counts,
    )


def read_stored(files: Mapping[str, bytes], path: Path, last_day: int) -> tuple[Stored, dict[str, int]]:
    """Load files into a new SQLite store; give what the models read from it, and the counts of the load."""
    store = open_store(f"sqlite:///{path}")
    store.migrate()
    try:
        counts = load(store, files)
        store.reread_all(NOW)
        store.fold_all(models_engine().summarise)
        with store.begin(readonly=True) as work:
            material = load_material(work, up_to_day=last_day, terms=Terms())
            daily = work.daily(up_to_day=last_day)
    finally:
        store.close()
    return Stored(material=material, daily=daily), counts


def walk(store: Store, first: date, last: date, *, every: int, wish: Wish | None) -> None:
    """Replay a store as `forelamp replay` does."""
    replay(
        store,
        Span(first=first, last=last, every=every),
        now=NOW,
        terms=Terms(wish=wish or Wish()),
        engine=models_engine(),
    )
