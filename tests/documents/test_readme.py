"""The README: its table of settings is the program's, its commands exist, its walk gives what it prints."""

import os
import re
import shlex
from fnmatch import fnmatchcase
from pathlib import Path

import click
import pytest
from fastapi.testclient import TestClient
from typer.main import get_command
from typer.testing import CliRunner

from ingest.parameters import STATES
from service.app import build
from service.cli.main import app
from service.clock import Clock
from service.settings import describe_settings, load_settings
from tests.documents import reading

TEST_COMMAND = "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/python -m pytest"
RUN_COMMAND = "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/forelamp demo"

COMMANDS = sorted(
    {
        (name, line.strip().removeprefix("$ "))
        for name, text in reading.DOCUMENTS.items()
        for block in (*reading.blocks(text, "sh"), *reading.blocks(text, "console"))
        for line in block.replace("$(forelamp", "\nforelamp")
        .replace("/bin/forelamp ", "\nforelamp ")
        .splitlines()
        if line.strip().removeprefix("$ ").startswith("forelamp ")
    }
    | {
        (name, code)
        for name, text in reading.DOCUMENTS.items()
        for code in re.findall(r"`(forelamp [^`]+)`", text)
        if not code.startswith("forelamp:")
    }
)


def test_settings_table() -> None:
    """The table has every setting with its default and meaning, in the program's order, and no other."""
    rows = re.findall(r"^\| `(FORELAMP_\w+)` \| (`[^`]*`|empty) \| (.+) \|$", reading.README, re.MULTILINE)

    assert rows == [(name, f"`{default}`" if default else "empty", meaning)
                    for name, default, meaning in describe_settings()]  # fmt: skip


def test_two_commands() -> None:
    """The README has exactly the two commands of a fresh machine, each as a block of its own."""
    whole = [block.strip() for block in reading.blocks(reading.README, "sh") if "venv" in block]

    assert whole == [RUN_COMMAND, TEST_COMMAND]


@pytest.mark.parametrize(("document", "command"), COMMANDS)
def test_commands_exist(document: str, command: str) -> None:
    """Every command that a document names is one, with options that it has."""
    words = [word for word in shlex.split(command.rstrip(")"), comments=True) if word not in ("<", "...")]
    found: click.Command = get_command(app)  # type: ignore[assignment]
    takes_value = False
    for word in words[1:]:
        if takes_value:
            takes_value = False
        elif word.startswith("-"):
            takes_value = any(word in one.opts and not getattr(one, "is_flag", True) for one in found.params)
            options = {name for one in found.params for name in (*one.opts, *one.secondary_opts)}
            assert word in options | {"--help"}, f"{document}: {command}"
        elif hasattr(found, "commands"):
            assert word in found.commands, f"{document}: {command}"
            found = found.commands[word]


def same(printed: str, shown: str) -> bool:
    """Tell whether output is what the document shows; `...` stands for anything, brackets for themselves."""
    pattern = shown.rstrip().replace("[", "[[]").replace("...", "*")
    return fnmatchcase(printed.rstrip(), pattern)


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Walk through the README's commands in a fresh folder, as its reader would; give what they printed."""
    folder = tmp_path_factory.mktemp("walk")
    environ = {"FORELAMP_HOME": str(folder / "fleet"), "FORELAMP_FLEET_ZONE": "America/Chicago"}
    printed: dict[str, str] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for name in [one for one in os.environ if one.startswith("FORELAMP_")]:  # noqa: TID251 (a reader's)
            patch.delenv(name)
        for name, value in environ.items():
            patch.setenv(name, value)
        for name, body in reading.files(reading.README).items():
            Path(name).write_text(body, "utf-8")
        for step in reading.steps(reading.README):
            printed[step.command] = CliRunner().invoke(app, shlex.split(step.command)[1:]).output
        printed["evidence"] = CliRunner().invoke(app, ["export", "tickets", "--as-of", "2026-10-19"]).output
        printed["answer"] = _send(environ)
    return printed


def _send(environ: dict[str, str]) -> str:
    """Send the README's own snapshot over HTTP, with a token made as it says."""
    made = CliRunner().invoke(app, ["token", "add", "logger-L-221", "--scope", "send", "--scope", "read"])
    body = next(found for found in re.findall(r"-d '(.+?)'$", reading.README, re.MULTILINE | re.DOTALL))
    with TestClient(build(load_settings(environ).settings, Clock())) as client:
        headers = {"Authorization": f"Bearer {made.stdout.strip()}", "Content-Type": "application/json"}
        return client.post("/api/v1/snapshots", content=body, headers=headers).text


@pytest.mark.parametrize("step", list(reading.steps(reading.README)), ids=lambda step: step.command)
def test_walk(walked: dict[str, str], step: reading.Step) -> None:
    """Each command of the walk prints what the README shows under it."""
    assert same(walked[step.command], step.output), walked[step.command]


def test_walk_sends(walked: dict[str, str]) -> None:
    """The snapshot that the README sends is accepted, with the very answer that it shows."""
    assert walked["answer"] == reading.blocks(reading.README, "json")[0].strip()


def test_evidence_is_quoted(walked: dict[str, str]) -> None:
    """The quoted evidence is what the ticket says; numbers and days may move with the method."""
    quoted = " ".join(re.findall(r"^> (.+)$", reading.README, re.MULTILINE)).split(" Quiet:")[0]

    def plain(text: str) -> str:
        return re.sub(r"[\d.]+|\b[A-Z][a-z]{2}\b", "#", text)

    assert plain(quoted) in plain(walked["evidence"])


def test_states_are_named() -> None:
    """The README names every operating state."""
    assert all(f"`{state}`" in reading.README for state in STATES)


def test_ci_runs_the_same() -> None:
    """CI installs and tests with the README's own words, and lets no PostgreSQL test be skipped."""
    script = (reading.TOP / ".ci" / "run").read_text("utf-8")
    venv, install, pytest_part = TEST_COMMAND.split(" && ")

    assert f"{venv} && {install.replace('install', 'install --quiet')}\n" in script
    assert script.endswith(f"\n{pytest_part}\n")
    assert "export FORELAMP_TEST_REQUIRE_POSTGRES=1\n" in script


def test_ci_may_be_run() -> None:
    """The CI script is a program."""
    assert (reading.TOP / ".ci" / "run").stat().st_mode & 0o111
