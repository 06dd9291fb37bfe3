"""How commands talk: results on standard output, talk and progress on standard error.

A progress bar appears on a terminal only, so piped output holds no control characters.
"""

import json
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from typing import Annotated, Any, Protocol

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

AsJson = Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")]
"""The option of every command whose result a program may want."""


class Bar(Protocol):
    """A progress bar as commands see it."""

    def __call__(self, done: float, text: str = "") -> None:
        """Show that so much of the total is done."""
        ...


def say(text: str) -> None:
    """Write one line of talk to standard error."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def give(text: str) -> None:
    """Write one line of result to standard output."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def give_json(value: Mapping[str, Any]) -> None:
    """Write a result as one JSON object."""
    give(json.dumps(value, ensure_ascii=False, default=_plain))


def _plain(value: object) -> str:
    return value.isoformat() if isinstance(value, date) else str(value)


@contextmanager
def progress(text: str, total: float) -> Iterator[Bar]:
    """Show a progress bar on standard error while the block runs, if that is a terminal.

    Parameters
    ----------
    text : str
        What is being done.
    total : float
        What counts as all.
    """
    console = Console(stderr=True)
    shown = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        console=console,
        disable=not console.is_terminal,
        transient=True,
    )
    with shown:
        task = shown.add_task(text, total=total or None)

        def update(done: float, text: str = "") -> None:
            if text:
                shown.update(task, completed=done, description=text)
            else:
                shown.update(task, completed=done)

        yield update
