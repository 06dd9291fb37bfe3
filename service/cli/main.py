"""The root of the command line: commands, exit status, and one place where errors become sentences.

Exit status: 0 done; 1 ran, some input was refused; 2 wrong usage or configuration.
"""

import sys
from typing import Final

import typer

from ingest.errors import IngestError
from service.cli import backup, demo, erase, evaluate, export, fleet, keys, load, people, retain, serve
from service.settings import WrongSettings
from service.store import StoreError

WRONG: Final = 2

app = typer.Typer(
    name="forelamp",
    help="Reads a fleet's engine data over weeks and raises maintenance tickets before drivers complain.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command("demo")(demo.demo)
app.command("serve")(serve.serve)
app.add_typer(load.app, name="load")
app.command("evaluate")(evaluate.evaluate)
app.command("replay")(evaluate.replay)
app.command("export")(export.export)
app.command("migrate")(fleet.migrate)
app.command("status")(fleet.status)
app.command("release")(fleet.release)
app.add_typer(keys.app, name="token")
app.add_typer(backup.app, name="backup")
app.command("restore")(backup.restore)
app.add_typer(erase.app, name="erase")
app.add_typer(people.app, name="people")
app.command("retain")(retain.retain)
app.add_typer(retain.app, name="hold")


def main() -> None:
    """Run the command that the arguments name."""
    try:
        app()
    except KNOWN_ERRORS as err:
        sys.stderr.write(f"forelamp: {err}\n")
        raise SystemExit(WRONG) from err


def _known_errors() -> tuple[type[Exception], ...]:
    """Errors that people and configurations make: they get their own sentence instead of a trace."""
    from dashboards.exports.errors import ExportError
    from service.auth.errors import AuthError
    from service.schedule.errors import ScheduleError
    from service.web.binding import OpenPages

    return (IngestError, StoreError, WrongSettings, ScheduleError, AuthError, ExportError, OpenPages)


KNOWN_ERRORS: Final = _known_errors()
