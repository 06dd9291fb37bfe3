"""The table of controls is whole, what it names exists, and no package reads pickles."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.documents import reading

CONTROLS = frozenset(
    {
        *(
            "V1.2.1",
            "V1.2.4",
            "V1.2.10",
            "V1.3.2",
            "V1.5.2",
        ),
        *(
            "V2.1.1",
            "V2.2.1",
            "V2.2.2",
            "V2.2.3",
            "V2.3.3",
            "V2.4.1",
        ),
        *(
            "V3.3.1",
            "V3.3.2",
            "V3.3.4",
            "V3.4.1",
            "V3.4.3",
            "V3.4.4",
            "V3.4.6",
            "V3.5.1",
            "V3.5.3",
        ),
        *("V4.1.1",),
        *(
            "V5.2.1",
            "V5.2.2",
            "V5.4.1",
            "V5.4.2",
        ),
        *(
            "V6.2.1",
            "V6.2.4",
            "V6.2.5",
            "V6.2.8",
            "V6.2.9",
            "V6.3.1",
            "V6.3.2",
            "V6.4.1",
        ),
        *(
            "V7.2.3",
            "V7.2.4",
            "V7.3.1",
            "V7.3.2",
            "V7.4.1",
            "V7.4.2",
        ),
        *(
            "V8.2.1",
            "V8.2.2",
            "V8.2.3",
            "V8.3.1",
            "V8.4.1",
        ),
        *(
            "V9.1.1",
            "V9.1.2",
            "V9.2.1",
            "V9.2.3",
        ),
        *(
            "V10.1.2",
            "V10.2.1",
            "V10.2.2",
            "V10.5.1",
            "V10.5.2",
            "V10.5.3",
            "V10.5.4",
        ),
        *(
            "V11.4.2",
            "V11.5.1",
        ),
        *("V12.1.1",),
        *(
            "V13.3.1",
            "V13.4.1",
            "V13.4.2",
            "V13.4.5",
        ),
        *(
            "V14.2.1",
            "V14.3.2",
        ),
        *(
            "V15.2.2",
            "V15.3.1",
            "V15.3.3",
        ),
        *(
            "V16.2.2",
            "V16.2.5",
            "V16.3.1",
            "V16.3.2",
            "V16.4.1",
            "V16.5.1",
            "V16.5.3",
        ),
    }
)
"""Controls of OWASP ASVS 5.0.0 that a program of this kind answers to."""

UNTRUSTED = frozenset({"pickle", "cPickle", "_pickle", "joblib", "marshal", "shelve", "dill", "cloudpickle"})
ROOMS = ("ingest", "models", "dashboards", "service")


def _rows() -> list[tuple[str, str]]:
    text = reading.section(reading.DEVELOPERS, "## Security, control by control")
    return re.findall(r"^\| (V[^|]+) \| ([^|]+) \|$", text, re.MULTILINE)


def test_every_control_is_answered() -> None:
    """Each control stands in the table once, with what holds it, and nothing else does."""
    found = [control for cell, _ in _rows() for control in re.findall(r"V\d+\.\d+\.\d+", cell)]

    assert sorted(found) == sorted(set(found))
    assert set(found) == CONTROLS


@pytest.mark.parametrize(("cell", "answer"), _rows(), ids=lambda one: one[:12])
def test_every_answer_is_a_test_or_a_reason(cell: str, answer: str) -> None:
    """What holds a control is a test that exists, or a reason of some words."""
    named = re.findall(r"`(tests/[\w/.]+)`", answer)

    for path in named:
        found = reading.TOP / path
        assert found.is_dir() or "def test_" in found.read_text("utf-8"), (cell, path)
    assert named or len(answer.split()) >= 3, cell


def _modules() -> Iterator[tuple[Path, ast.Module]]:
    for room in ROOMS:
        for path in sorted((reading.TOP / room).rglob("*.py")):
            yield path, ast.parse(path.read_text("utf-8"))


def test_no_pickle() -> None:
    """No package imports what runs code while reading, or lets numpy do so (ASVS 5.0.0 V1.5.2)."""
    seen = 0
    for path, module in _modules():
        seen += 1
        for node in ast.walk(module):
            if isinstance(node, ast.Import):
                names = {one.name.partition(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom):
                names = {(node.module or "").partition(".")[0]}
            else:
                names = set()
            assert not names & UNTRUSTED, path
            if isinstance(node, ast.keyword) and node.arg == "allow_pickle":
                assert isinstance(node.value, ast.Constant), path
                assert node.value.value is False, path
            if isinstance(node, ast.Call):
                called = ast.unparse(node.func)
                assert called not in ("np.load", "numpy.load", "__import__", "eval", "exec"), (path, called)
                assert not called.endswith(("yaml.load", "import_module")), (path, called)
    assert seen > 200
