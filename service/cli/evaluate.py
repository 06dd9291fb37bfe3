"""`forelamp evaluate` and `forelamp replay`: one evaluation as the schedule does it, or past dates."""

from datetime import datetime
from typing import Annotated

import typer

from service.cli.opened import opened, terms_of
from service.cli.talk import AsJson, give, give_json, progress
from service.schedule.engine import models_engine
from service.schedule.evaluate import Report
from service.schedule.evaluate import evaluate as run_evaluation
from service.schedule.replay import Span, Walk
from service.schedule.replay import replay as run_replay
from service.tickets.words import listed


def evaluate(
    as_of: Annotated[
        datetime | None,
        typer.Option("--as-of", formats=["%Y-%m-%d"], help="Date; everything taken up to its end counts."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Evaluate the fleet once, as the schedule does each night; by default as of today."""
    with opened() as found:
        day = as_of.date() if as_of else found.today()
        report = run_evaluation(
            found.store,
            as_of=day,
            now=found.clock.now(),
            terms=terms_of(found.settings),
            engine=models_engine(),
        )
    if as_json:
        give_json({"as_of": report.as_of, "opened": report.opened, "notes": report.notes, **report.counts()})
        return
    give(
        f"As of {report.as_of}: {report.vehicles} vehicles, {report.findings} findings, "
        f"{len(report.opened)} new tickets{': ' + listed(report.opened, most=40) if report.opened else ''}."
    )
    for note in report.notes:
        give(note)


def replay(
    first: Annotated[datetime, typer.Option("--from", formats=["%Y-%m-%d"], help="First date.")],
    last: Annotated[datetime, typer.Option("--to", formats=["%Y-%m-%d"], help="Last date.")],
    every: Annotated[str, typer.Option("--every", help="Step in days, such as 1d or 7d.")] = "1d",
    restart: Annotated[
        bool, typer.Option("--restart", help="Take back earlier evaluations from the first date on.")
    ] = False,
    reports: Annotated[
        bool, typer.Option("--reports", help="Also freeze the weekly report of each Monday passed.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Evaluate as of each date in turn, with only what was taken and done by then."""
    span = Span(first=first.date(), last=last.date(), every=_days(every))
    with opened() as found, progress("replay", len(span.days())) as bar:
        done = 0

        def told(report: Report) -> None:
            nonlocal done
            done += 1
            bar(done, f"replay {report.as_of}")

        walk = run_replay(
            found.store,
            span,
            restart=restart,
            reports=reports,
            now=found.clock.now(),
            terms=terms_of(found.settings),
            engine=models_engine(),
            told=told,
        )
    _print(walk, as_json)


def _days(text: str) -> int:
    number = text.removesuffix("d")
    if not number.isascii() or not number.isdigit() or not 1 <= int(number) <= 366:
        raise typer.BadParameter(f"--every takes whole days from 1d to 366d, was {text!r}.")
    return int(number)


def _print(walk: Walk, as_json: bool) -> None:
    if as_json:
        give_json(
            {
                "from": walk.first,
                "to": walk.last,
                "dates": walk.dates,
                "folded": walk.folded,
                "findings": walk.findings,
                "tickets": dict(walk.actions),
                "reports": list(walk.reports),
            }
        )
        return
    actions = ", ".join(f"{count} {kind}" for kind, count in sorted(walk.actions.items())) or "none"
    give(f"{walk.dates} dates from {walk.first} to {walk.last}. Ticket actions: {actions}.")
