"""`forelamp erase`: take a vehicle out of everything that is kept."""

from typing import Annotated

import typer

from service.cli.opened import opened
from service.cli.talk import AsJson, give, give_json
from service.schedule.erase import erase

app = typer.Typer(help="Erase what must not be kept.", no_args_is_help=True)


@app.command("vehicle")
def erase_vehicle(
    vehicle: Annotated[str, typer.Argument(help="The fleet's own number.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask; there is no way back.")] = False,
    as_json: AsJson = False,
) -> None:
    """Erase a vehicle's number, VIN and readings everywhere; totals of the fleet stay."""
    if not yes:
        typer.confirm(f"Erase {vehicle} for good? There is no way back.", abort=True, err=True)
    with opened() as found:
        now, home = found.clock.now(), found.settings.home
        done = erase(found.store, vehicle, home=home, now=now, who="command line")
    if as_json:
        give_json({"name": done.name, "rows": done.rows})
        return
    counts = ", ".join(f"{count:,} {name}" for name, count in sorted(done.rows.items()) if count)
    give(f"Erased; what is counted stays under {done.name}. Rows taken out: {counts or 'none'}.")
