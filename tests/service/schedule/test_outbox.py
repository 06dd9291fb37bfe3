"""The Monday digest lies in the data directory: once, whole, and with the fleet's own hours."""

from datetime import time
from pathlib import Path

import pytest
from freezegun import freeze_time

from service.cli.opened import terms_of
from service.clock import Clock
from service.schedule.digest import Digest
from service.schedule.outbox import outbox, put_digest
from service.schedule.runner import Runner
from service.settings import Settings
from service.store import Store
from tests.service.schedule.made_up import MadeUp

DIGEST = Digest(week="2031-W11", subject="Week 11: 1 < 2", text="One sentence.\n", html="<p>One.</p>\n")


def _runner(store: Store, models: MadeUp, home: Path, owner: str) -> Runner:
    settings = Settings(home=home, fleet_zone="Europe/Vienna", workshop_hours=20.0)
    return Runner(
        store=store,
        now=Clock().now,
        terms=terms_of(settings),
        engine=models.engine(),
        owner=owner,
        nightly_at=time(2, 30),
        publish=outbox(home),
    )


def test_monday_leaves_a_digest(store: Store, models: MadeUp, tmp_path: Path) -> None:
    """The tick after Monday's report writes text and page; neither later ticks nor a restart touch them."""
    with freeze_time("2031-03-16T12:00:00") as frozen:
        runner = _runner(store, models, tmp_path, "one")
        runner.tick()
        before = _files(tmp_path)
        frozen.move_to("2031-03-17T06:00:00")
        runner.tick()
        first = _files(tmp_path)
        frozen.move_to("2031-03-18T06:00:00")
        runner.tick()
        runner.stop()
        _runner(store, models, tmp_path, "two").tick()

    assert "2031-W12.txt" not in before
    assert {"2031-W12.txt", "2031-W12.html"} <= set(first)
    assert _files(tmp_path) == first
    text = (tmp_path / "digests" / "2031-W12.txt").read_text("utf-8")
    assert text.startswith("Week 12: 1 to pull in (")
    assert " of 20 h)" in text.splitlines()[0]
    assert "V-2" in text
    assert "V-2" in (tmp_path / "digests" / "2031-W12.html").read_text("utf-8")


def test_a_digest_is_written_once(tmp_path: Path) -> None:
    """What is there stays; what an interrupted run left out is written."""
    assert [one.name for one in put_digest(tmp_path, DIGEST)] == ["2031-W11.txt", "2031-W11.html"]
    (tmp_path / "2031-W11.html").unlink()
    (tmp_path / "2031-W11.txt").write_text("sent", "utf-8")

    assert [one.name for one in put_digest(tmp_path, DIGEST)] == ["2031-W11.html"]

    assert (tmp_path / "2031-W11.txt").read_text("utf-8") == "sent"
    assert sorted(one.name for one in tmp_path.iterdir()) == ["2031-W11.html", "2031-W11.txt"]


def test_a_digest_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A write that is cut off leaves no file under the digest's name; the next try gives the whole."""

    def cut(_number: int) -> None:
        raise OSError("power cut")

    with monkeypatch.context() as broken:
        broken.setattr("service.schedule.outbox.os.fsync", cut)
        with pytest.raises(OSError, match="power cut"):
            put_digest(tmp_path, DIGEST)
    assert not (tmp_path / "2031-W11.txt").exists()

    put_digest(tmp_path, DIGEST)

    assert (tmp_path / "2031-W11.txt").read_text("utf-8") == "Week 11: 1 < 2\n\nOne sentence.\n"


@pytest.mark.parametrize(("given", "known"), [(0.0, None), (20.0, 20.0)])
def test_hours_of_the_settings(given: float, known: float | None) -> None:
    """The settings' workshop hours reach the schedule; 0 stands for not given."""
    assert terms_of(Settings(workshop_hours=given)).workshop_hours == known


def _files(home: Path) -> dict[str, tuple[int, str]]:
    folder = home / "digests"
    if not folder.exists():
        return {}
    return {one.name: (one.stat().st_mtime_ns, one.read_text("utf-8")) for one in sorted(folder.iterdir())}
