"""`forelamp demo`: a fictional town's fleet with its history, evaluated day by day, and served."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated, Final

import typer

from ingest.aliases import AliasTable, read_aliases
from ingest.formats import read_snapshots
from ingest.records import CostLine
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from service.cli.opened import Opened, opened, read_settings, terms_of
from service.cli.serve import replaced, run
from service.cli.talk import give, progress
from service.schedule.engine import models_engine
from service.schedule.evaluate import Report
from service.schedule.replay import Span
from service.schedule.replay import replay as run_replay
from service.settings import Settings
from service.tickets.costs import starting_costs

FOLDER: Final = "practice"
"""Folder in the data directory where the practice fleet lives, apart from any real store."""

PRACTICE_SEED: Final = 7
"""Seed of the practice fleet that everybody sees."""

WORKSHOP_HOURS: Final = 20.0
"""Hours that the practice workshop has in a week where the settings name none [h]."""


def demo(
    serve: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Serve the pages when it is built.")
    ] = True,
    port: Annotated[int, typer.Option("--port", help="Port to listen on; default from the settings.")] = 0,
    vehicles: Annotated[int, typer.Option("--vehicles", min=8, max=2_000, help="Size of the fleet.")] = 60,
    days: Annotated[int, typer.Option("--days", min=90, max=1_200, help="Days of history.")] = 420,
) -> None:
    """Build a practice fleet in a store of its own, evaluate its history, and serve it."""
    settings = _practice_settings(read_settings())
    _remove_old(settings.home)
    with opened(settings) as found:
        last = found.today() - timedelta(days=1)
        build_fleet(found, last, vehicles=vehicles, days=days)
    if serve:
        run(replaced(settings, port=port))


def _practice_settings(settings: Settings) -> Settings:
    home = settings.home / FOLDER
    return replace(
        settings,
        home=home,
        database_url=f"sqlite:///{home / 'forelamp.db'}",
        practice=True,
        workshop_hours=settings.workshop_hours or WORKSHOP_HOURS,
    )


def _practice_costs(last: date) -> list[CostLine]:
    """Make the practice fleet's cost table: our starting figures, said to be made up."""
    table = starting_costs()
    return [
        CostLine(
            cause=cause,
            **asdict(cost),
            currency=table.currency,
            price_date=date(last.year, 1, 1),
            source="practice figures, made up",
        )
        for cause, cost in table.causes.items()
    ]


def _remove_old(home: Path) -> None:
    """Remove an earlier practice store; a real one never lies there."""
    for name in ("forelamp.db", "forelamp.db-wal", "forelamp.db-shm"):
        (home / name).unlink(missing_ok=True)


def build_fleet(found: Opened, last: date, *, vehicles: int, days: int, seed: int = PRACTICE_SEED) -> None:
    """Load a practice fleet's history into an empty store, and evaluate it day by day.

    Parameters
    ----------
    found : Opened
        Settings, clock and store.
    last : date
        Last day of the history.
    vehicles, days : int
        Size of the fleet and length of its history.
    seed : int
        Another one makes another fleet.
    """
    from service.demo.fleet import practice_fleet
    from service.demo.people import PracticeWorkshop
    from service.demo.write import fleet_files

    give(f"Building {vehicles} vehicles with {days} days of history...")
    history = practice_fleet(last, seed=seed, vehicles=vehicles, days=days)
    files = fleet_files(history)
    _load(found, files)
    first = last - timedelta(days=days - 1)
    span = Span(first=first + timedelta(days=1), last=last)
    opened_tickets = 0
    with progress("evaluating", days) as bar:
        done = 0

        def told(report: Report) -> None:
            nonlocal done, opened_tickets
            done += 1
            opened_tickets += len(report.opened)
            bar(done, f"evaluating {report.as_of}")

        run_replay(
            found.store,
            span,
            reports=True,
            now=found.clock.now(),
            terms=terms_of(found.settings),
            engine=models_engine(),
            told=told,
            people=PracticeWorkshop(history.mended()),
        )
    give(f"{opened_tickets} tickets were raised over the {days} days.")


def _load(found: Opened, files: Mapping[str, bytes]) -> None:
    now = found.clock.now()
    with found.store.begin() as work:
        work.put_sheets(read_sheets(files["specs.json"], "json").rows, now)
        work.put_vehicles(read_vehicles(files["vehicles.csv"], "csv").rows, now)
        work.put_aliases(read_aliases(files["aliases.csv"], "csv").rows, now)
        work.put_costs(_practice_costs(now.date()), now)
        work.put_work(read_work(files["work.csv"], "csv").rows, now)
        work.commit()
        table = AliasTable.from_rows(work.aliases(), work.sheets())
        sheet_of = dict(work.sheet_of())
    names = [name for name in files if name.startswith("snapshots")]
    accepted = held = 0
    with progress("loading", len(names)) as bar:
        for place, name in enumerate(names):
            arrival = read_snapshots(
                files[name],
                kind="csv" if name.endswith(".csv") else "ndjson",
                now_us=int(now.timestamp() * 1e6),
                aliases=table,
                sheet_of=sheet_of,
            )
            with found.store.begin() as work:
                receipt = work.add_arrival(arrival, received_at=now, source=name)
                work.commit()
            accepted += receipt.accepted
            held += len(receipt.quarantined) + len(receipt.rejected)
            bar(place + 1)
    give(f"{accepted:,} snapshots accepted, {held:,} held back as unbelievable.")
