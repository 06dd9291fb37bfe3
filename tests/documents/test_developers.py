"""DEVELOPERS: every code, job, parameter and constant is named there, and nothing that is not there."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Mapping
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

import models
from ingest import codes
from ingest.parameters import PARAMETERS
from service.schedule.timetable import timetable
from service.web.catalogue import PROBLEMS, Problem
from service.web.reasons import STORE
from tests.documents import reading

ROOMS = ("ingest", "models", "dashboards", "service")
SECTIONS: dict[str, Mapping[str, str | Problem]] = {
    "### Problems that the API answers with (RFC 9457)": PROBLEMS,
    "### Whole bodies and files refused (`ingest/codes.py`)": codes.WHOLE_BODY,
    "### Snapshots rejected: cannot be read": codes.REJECTED,
    "### Snapshots quarantined: read but not believed; kept, listed, releasable": codes.QUARANTINED,
    "### Notes: accepted, and worth a word; counted": codes.NOTES,
    "### Rows of vehicle, sheet, alias and work files rejected": codes.TABLES,
    "### Warnings: rows accepted that deserve a look": codes.WARNINGS,
    "### Refused by the store, or for the caller's token (`service/web/reasons.py`)": STORE,
}


def _own_codes() -> set[str]:
    """Give the code of every error class of the program."""
    found = set()
    for room in ROOMS:
        package = importlib.import_module(room)
        for module in pkgutil.walk_packages(package.__path__, f"{room}."):
            if ".migrations" in module.name:
                continue  # run by their own tool only
            for _, one in inspect.getmembers(importlib.import_module(module.name), inspect.isclass):
                code = vars(one).get("code")
                if issubclass(one, Exception) and one.__module__.startswith(room) and isinstance(code, str):
                    found.add(code)
    return found


@pytest.mark.parametrize("heading", SECTIONS)
def test_codes_by_kind(heading: str) -> None:
    """Each table of codes has exactly the program's, in its order."""
    assert reading.first_cells(reading.section(reading.DEVELOPERS, heading)) == list(SECTIONS[heading])


def test_meanings_are_the_programs() -> None:
    """A code means in the document what the program says of it."""
    for heading, table in SECTIONS.items():
        text = reading.section(reading.DEVELOPERS, heading)
        for code, meaning in table.items():
            said = f"{meaning.status} | {meaning.meaning}" if isinstance(meaning, Problem) else meaning
            assert f"| `{code}` | {said} |" in text


def test_no_code_is_missing_or_left_over() -> None:
    """Every code of an error class is listed somewhere, and every listed one is given out."""
    elsewhere = {code for table in SECTIONS.values() for code in table}
    own = reading.section(reading.DEVELOPERS, "### Codes of the program's own errors")

    assert set(reading.first_cells(own)) == _own_codes() - elsewhere


def test_jobs() -> None:
    """The table of jobs has the timetable's, and its times."""
    entries = timetable(ZoneInfo("UTC"), mails=True, retains=True)
    text = reading.section(reading.DEVELOPERS, "## Jobs")

    assert reading.first_cells(text) == [entry.job for entry in entries]
    assert all(f"{entry.at:%H:%M}" in text for entry in entries)


def test_parameters() -> None:
    """Every parameter is named with its default unit, and no other."""
    text = reading.section(reading.DEVELOPERS, "## Parameters")

    assert re.findall(r"`(\w+)` \[(\S+)\]", text) == [
        (code, one.unit or "-") for code, one in PARAMETERS.items()
    ]


def _models() -> dict[str, str]:
    """Give the address of every module of the models, general statistics left out, by its name."""
    found = [
        one.name
        for one in pkgutil.walk_packages(models.__path__, "models.")
        if not one.ispkg and not one.name.startswith("models.statistics.")
    ]
    by_name = {name.rpartition(".")[2]: name for name in found}
    assert len(by_name) == len(found)
    return by_name


def test_constants_exist() -> None:
    """Every constant that the mathematics name is where they say."""
    named = re.findall(r"`([a-z_]+)\.([A-Z][A-Z0-9_]+)`", reading.DEVELOPERS)

    assert len(named) > 15
    for module, name in named:
        if module != "module":
            assert hasattr(importlib.import_module(_models()[module]), name), f"{module}.{name}"


def test_every_method_is_described() -> None:
    """The mathematics speak of every module of the models that computes."""
    silent = {"arguments", "breaklist", "errors", "findings", "panel", "scene", "trends"}
    silent |= {"readings", "compare", "fit"}
    text = reading.section(reading.DEVELOPERS, "## Mathematics")
    named = {name: f"`{address.replace('.', '/')}.py`" for name, address in _models().items()}

    # How causes are read and vehicles' standing is told is described with what uses it.
    untold = {name for name, path in named.items() if path not in text}
    assert untold - silent <= {"table", "coverage"}


def test_decisions() -> None:
    """Decisions are numbered without a gap; each has context, choice and price."""
    text = reading.section(reading.DEVELOPERS, "## Decisions")
    anywhere = re.findall(r"^\*\*(\d+)\. ", reading.DEVELOPERS, re.MULTILINE)
    numbers = [int(found) for found in re.findall(r"^\*\*(\d+)\. ", text, re.MULTILINE)]

    assert numbers == list(range(1, len(numbers) + 1))
    assert len(anywhere) == len(numbers)
    for word in ("*Context*", "*Choice*", "*Price*"):
        assert text.count(word) == len(numbers)


def test_decision_on_relearning_is_the_programs() -> None:
    """The decision on relearning names the days that the program waits."""
    from models.learning.breaks import RELEARN_DAYS

    assert timedelta(days=RELEARN_DAYS) == timedelta(days=8)
    assert "Learned values rest for eight days" in reading.DEVELOPERS


def test_security_controls() -> None:
    """Each security control names what holds it, once."""
    text = reading.section(reading.DEVELOPERS, "## Security, control by control")
    rows = re.findall(r"^\| (V.+?) \| (.+) \|$", text, re.MULTILINE)
    named = [control for first, _ in rows for control in re.findall(r"V\d+\.\d+\.\d+", first)]

    assert len(named) == len(set(named)) > 50
    assert all(held for _, held in rows)
