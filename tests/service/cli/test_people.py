"""`forelamp people`, the first start, and tokens that are rotated."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from service.auth.passwords import matches
from service.cli.main import app
from service.cli.opened import opened
from service.cli.people import make_first_admin
from service.store import Person

Run = Callable[..., Any]
TYPED = "seven quiet wrenches at dawn"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Give a way to run commands over a store of its own."""
    monkeypatch.setenv("FORELAMP_HOME", str(tmp_path))

    def call(*words: str, typed: str = "") -> Any:
        return CliRunner().invoke(app, list(words), input=typed)

    return call


def _person(login: str) -> Person:
    with opened() as found, found.store.begin(readonly=True) as work:
        person = work.person(login)
    assert person is not None
    return person


def test_add_prints_the_password_once(run: Run) -> None:
    """A made-up password is printed once, works for a week, and is kept only as a hash."""
    done = run("people", "add", "ann", "--role", "mechanic", "--depot", "North", "--depot-only")

    password = done.stdout.strip()
    kept = _person("ann")
    assert (done.exit_code, kept.role, kept.depot, kept.depot_only) == (0, "mechanic", "North", True)
    assert matches(kept.password, password)
    assert kept.password_until is not None
    assert password not in run("people", "list", "--json").stdout


def test_password_is_read_not_given(run: Run) -> None:
    """A password of one's own is read from standard input; no option takes it."""
    done = run(
        "people", "add", "ann", "--role", "admin", "--ask-password", typed="seven quiet wrenches at dawn\n"
    )

    assert done.exit_code == 0, done.output
    assert "seven quiet" not in done.output
    assert matches(_person("ann").password, TYPED)
    assert "--password " not in run("people", "add", "--help").output


def test_weak_password(run: Run) -> None:
    """A password that is easy to guess is refused, and no account is made."""
    done = run("people", "add", "ann", "--role", "admin", "--ask-password", typed="123456789012\n")

    assert done.exit_code != 0
    with opened() as found, found.store.begin(readonly=True) as work:
        assert work.people() == ()


def test_last_admin(run: Run) -> None:
    """The last administrator stays, whatever command is tried."""
    run("people", "add", "ann", "--role", "admin")

    assert run("people", "disable", "ann").exit_code != 0
    assert run("people", "role", "ann", "--role", "viewer").exit_code != 0
    run("people", "add", "bob", "--role", "admin")
    assert run("people", "disable", "ann").exit_code == 0
    assert run("people", "enable", "ann").exit_code == 0
    assert run("people", "role", "ann", "--role", "lead").stdout.strip() == "ann: lead"


def test_commands_are_logged(run: Run) -> None:
    """Every change from the shell is in the event log, without a password."""
    password = run("people", "add", "ann", "--role", "admin").stdout.strip()
    again = run("people", "password", "ann", "--json")
    run("people", "unlock", "ann")

    with opened() as found, found.store.begin(readonly=True) as work:
        lines = work.log_entries().rows
    assert [one.what for one in reversed(lines)] == [
        "account made",
        "password set for another",
        "tries allowed again",
    ]
    assert password not in repr(lines)
    assert json.loads(again.stdout)["password"] not in repr(lines)


def test_unknown_person(run: Run) -> None:
    """A login that nobody has is refused."""
    assert run("people", "disable", "eve").exit_code != 0


def test_first_start(run: Run) -> None:
    """The first start makes one administrator with a random password; the second makes none (V6.3.2)."""
    with opened() as found:
        first = make_first_admin(found)
        second = make_first_admin(found)
        other = first

    assert re.fullmatch(r"(\w{4}-){4}\w{4}", first)
    assert second == ""
    assert matches(_person("admin").password, other)
    assert _person("admin").password_until is not None
    assert "admin: admin" in run("people", "list").stdout


def test_rotate(run: Run) -> None:
    """A rotated token has a successor under its name, and works on for the overlap under another."""
    old = run("token", "add", "logger 1", "--scope", "send", "--vehicle", "V-1").stdout.strip()
    new = run("token", "rotate", "logger 1", "--overlap", "2d").stdout.strip()

    rows = {row["name"]: row for row in json.loads(run("token", "list", "--json").stdout)["tokens"]}
    assert old != new
    assert rows["logger 1"]["vehicles"] == ["V-1"]
    assert rows["logger 1"]["expires_at"] is None
    retired = next(row for name, row in rows.items() if name.startswith("logger 1 until"))
    assert old.startswith(retired["starts_with"])
    assert retired["expires_at"] is not None


@pytest.mark.parametrize("overlap", ["", "soon", "91d", "-1h", "1.5h"])
def test_wrong_overlap(run: Run, overlap: str) -> None:
    """An overlap that cannot be meant ends nothing."""
    run("token", "add", "logger 1", "--scope", "send")

    assert run("token", "rotate", "logger 1", "--overlap", overlap).exit_code != 0
    assert len(json.loads(run("token", "list", "--json").stdout)["tokens"]) == 1
