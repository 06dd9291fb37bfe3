"""`forelamp migrate`, `status` and `release`: the state of the store."""

from typing import Annotated

import typer

from service.cli.opened import opened
from service.cli.talk import AsJson, give, give_json
from service.web.api.refusals import release as release_item
from service.web.errors import NotReleasable
from service.web.shell import Shell


def migrate() -> None:
    """Bring the store's tables to this version; every command does so by itself."""
    with opened() as found:
        give(f"{found.store.url}: tables are up to date.")


def status(as_json: AsJson = False) -> None:
    """Say what the store holds and when it was last evaluated."""
    with opened() as found, found.store.begin(readonly=True) as work:
        days = work.assessed_days()
        facts = {
            "store": found.store.url,
            "vehicles": len(work.vehicles()),
            "spec_sheets": len(work.sheets()),
            "snapshots": work.snapshot_count(),
            "waiting_to_be_folded": work.touched_count(),
            "held_back": {f"{kind} {code}": count for (kind, code), count in work.refusal_counts().items()},
            "open_tickets": len(work.tickets(open_only=True)),
            "tickets": len(work.tickets()),
            "evaluations": len(days),
            "last_evaluated_at": work.assessed_at(days[-1]) if days else None,
        }
    if as_json:
        give_json(facts)
        return
    for name, value in facts.items():
        give(f"{name.replace('_', ' ')}: {value}")


def release(
    numbers: Annotated[list[int], typer.Argument(help="Numbers of held items.", metavar="NUMBER...")],
) -> None:
    """Read quarantined items again, for instance once their vehicle is registered."""
    failed = False
    with opened() as found:
        shell = Shell(settings=found.settings, clock=found.clock, store=found.store)
        for number in numbers:
            with found.store.begin() as work:
                try:
                    release_item(shell, work, number, "command line")
                except NotReleasable as err:
                    give(f"{number}: {err}")
                    failed = True
                    continue
                work.commit()
            give(f"{number}: released.")
    if failed:
        raise typer.Exit(1)
