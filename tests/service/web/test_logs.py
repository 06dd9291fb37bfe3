"""Log lines: JSON, one each, libraries' included."""

import json
import logging
import subprocess
import sys
from pathlib import Path

from service.web.logs import JsonLines

_CHILD = """
import logging
from service.web.logs import start_logging
start_logging("info")
logging.getLogger("forelamp.web").info('{"event":"request"}')
logging.getLogger("some.library").warning("two\\nlines")
logging.getLogger("some.library").info("unheard")
"""


def test_lines() -> None:
    """Every line on standard error is JSON, and a line break cannot forge another one."""
    root = Path(__file__).parents[3]

    done = subprocess.run(
        [sys.executable, "-c", _CHILD], check=True, capture_output=True, text=True, cwd=root
    )

    lines = [json.loads(line) for line in done.stderr.splitlines()]
    assert [line["event"] for line in lines] == ["request", "library"]
    assert lines[1]["message"] == "two\nlines"
    assert all(line["at"].endswith("+00:00") for line in lines)


def test_errors_of_libraries() -> None:
    """An error that a library logs is told by class and place: its message may quote a request."""
    error = ValueError("V-0001 has the VIN 10000000X00000001")
    record = logging.LogRecord(
        "lib", logging.ERROR, "f", 1, "failed", None, (ValueError, error, error.__traceback__)
    )

    line = json.loads(JsonLines().format(record))

    assert line["error"] == "ValueError"
    assert "10000000X00000001" not in str(line)
