"""Where log lines go: to standard error, each one line of JSON, those of libraries included."""

import logging
import sys
from datetime import UTC, datetime
from typing import Final

from service.web.journal import describe_error, make_line

OWN: Final = "forelamp"
"""Loggers under this name write lines that are JSON already."""


class JsonLines(logging.Formatter):
    """Writes every record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Give the line, with its time in UTC.

        What a library logs of an error is told by class and place, not by its message.
        """
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        if record.name.startswith(OWN):
            return f'{{"at":"{at}",{record.getMessage()[1:]}'
        facts: dict[str, object] = {"at": at, "logger": record.name, "level": record.levelname.lower()}
        if record.exc_info and record.exc_info[1] is not None:
            facts |= describe_error(record.exc_info[1])
        else:
            facts["message"] = record.getMessage()
        return make_line("library", facts)


def start_logging(level: str) -> None:
    """Send log lines to standard error from now on; for the command that serves.

    Parameters
    ----------
    level : str
        debug, info, warning or error. Libraries speak from warning on.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger(OWN).setLevel(level.upper())
