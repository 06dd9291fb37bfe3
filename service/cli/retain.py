"""`forelamp retain` and `forelamp hold`: what is too old goes, but for vehicles on hold."""

from datetime import date
from typing import Annotated, Any

import typer

from service.cli.opened import opened
from service.cli.talk import AsJson, give, give_json
from service.schedule.engine import models_engine
from service.schedule.retain import Retained, keep_of, lines_of, look
from service.schedule.retain import retain as run_retention
from service.store import Portion
from service.tickets.words import to_date

WHO = "command line"

app = typer.Typer(help="Vehicles of which nothing may be removed.", no_args_is_help=True)

Vehicle = Annotated[str, typer.Argument(help="The fleet's own number.")]


def retain(
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only count what would go, by class and month.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask; there is no way back.")] = False,
    as_json: AsJson = False,
) -> None:
    """Remove readings, trends and closed tickets that are older than the settings keep them."""
    with opened() as found:
        lines = lines_of(keep_of(found.settings), found.clock.now(), found.settings.fleet_zone)
        if not dry_run and not yes:
            typer.confirm("Remove what is too old for good? There is no way back.", abort=True, err=True)
        if dry_run:
            with found.store.begin(readonly=True) as work:
                result = look(work, lines)
        else:
            result = run_retention(found.store, lines, now=found.clock.now(), who=WHO, engine=models_engine())
    if as_json:
        give_json(_facts(result))
    else:
        _tell(result)


@app.command("set")
def put(
    vehicle: Vehicle, reason: Annotated[str, typer.Option("--reason", help="Why; shown on the page.")]
) -> None:
    """Put a vehicle on hold: neither retention nor erasure takes anything of it."""
    if not reason.strip():
        raise typer.BadParameter("say why.", param_hint="--reason")
    with opened() as found, found.store.begin() as work:
        work.put_hold(vehicle, reason, found.clock.now(), who=WHO)
        work.log_event(at=found.clock.now(), who=WHO, what="hold set", subject=vehicle, after=reason)
        work.commit()
    give(f"{vehicle} is on hold.")


@app.command("lift")
def lift(vehicle: Vehicle) -> None:
    """Lift the hold on a vehicle; what is too old goes with the next retention."""
    with opened() as found, found.store.begin() as work:
        work.lift_hold(vehicle, found.clock.now(), who=WHO)
        work.log_event(at=found.clock.now(), who=WHO, what="hold lifted", subject=vehicle)
        work.commit()
    give(f"{vehicle} is no longer on hold.")


@app.command("list")
def show(
    lifted: Annotated[bool, typer.Option("--all", help="Holds that were lifted, too.")] = False,
    as_json: AsJson = False,
) -> None:
    """List vehicles on hold."""
    with opened() as found, found.store.begin(readonly=True) as work:
        holds = work.holds(lifted=lifted)
    if as_json:
        names = ("vehicle", "reason", "put_by", "put_at", "lifted_by", "lifted_at")
        give_json({"holds": [{name: getattr(one, name) for name in names} for one in holds]})
        return
    for one in holds:
        end = "" if one.lifted_at is None else f", lifted {one.lifted_at:%Y-%m-%d} by {one.lifted_by}"
        give(f"{one.vehicle}: {one.reason} (since {one.put_at:%Y-%m-%d}, {one.put_by}{end})")
    if not holds:
        give("No vehicle is on hold.")


def _tell(result: Retained) -> None:
    lines = {
        "readings": result.lines.readings,
        "trends": result.lines.trends,
        "tickets": result.lines.tickets,
    }
    for kind, line in lines.items():
        give(f"{kind}: kept {'for ever' if line is None else f'from {to_date(line).isoformat()}'}")
    for one in result.portions:
        give(f"  {one.kind}, {_month(one)}: {one.rows:,} {one.part}{_of(one)}")
    total, held = (sum(one.rows for one in found) for found in (result.portions, result.held))
    give(f"{total:,} rows {'removed' if result.removed else 'would be removed'}.")
    if held:
        give(f"{held:,} rows as old stay because of holds.")


def _month(one: Portion) -> str:
    return f"{to_date(one.from_day):%Y-%m}"


def _of(one: Portion) -> str:
    return f" of {one.vehicles:,} vehicles" if one.vehicles else ""


def _facts(result: Retained) -> dict[str, Any]:
    def written(line: int | None) -> date | None:
        return None if line is None else to_date(line)

    def rows(found: tuple[Portion, ...]) -> list[dict[str, Any]]:
        return [
            {
                "class": one.kind,
                "month": _month(one),
                "table": one.part,
                "rows": one.rows,
                "vehicles": one.vehicles,
            }
            for one in found
        ]

    return {
        "removed": result.removed,
        "kept_from": {
            "readings": written(result.lines.readings),
            "trends": written(result.lines.trends),
            "tickets": written(result.lines.tickets),
        },
        "portions": rows(result.portions),
        "held": rows(result.held),
    }
