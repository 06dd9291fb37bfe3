"""History that is loaded in bulk builds the same baselines as readings that came day by day."""

import shutil
from html import unescape
from pathlib import Path

import numpy as np

from models.findings import Trend
from tests.story.conftest import Town, open_at

LIVE_FROM = 77


def _town(template: Path, folder: Path) -> Town:
    folder.mkdir()
    shutil.copy(template, folder / "store.db")
    town = Town(open_at(f"sqlite:///{folder / 'store.db'}", folder), vehicles=8)
    town.at("LONGFT1", "warm_idle")[3] += 6.0 * np.clip((np.arange(town.days) - 60) / 50, 0, 1)
    town.register()
    return town


def _outcome(town: Town) -> tuple[tuple[Trend, ...], list[tuple[str, str, str]], tuple[str, ...]]:
    tickets = town.night()
    with town.store.begin(readonly=True) as work:
        return work.trends(), [(one.ticket, one.evidence, one.cause_1) for one in tickets], work.reports()


def test_history_gives_what_live_readings_give(sqlite_template: Path, tmp_path: Path) -> None:
    """Loaded after live readings, history gives the same trends and tickets, and no report of the past."""
    live, late = _town(sqlite_template, tmp_path / "live"), _town(sqlite_template, tmp_path / "late")
    live.send(range(LIVE_FROM))
    live.send(range(LIVE_FROM, live.days))
    late.send(range(LIVE_FROM, late.days))
    first = _outcome(late)

    late.send(range(LIVE_FROM))
    whole, after = _outcome(live), _outcome(late)
    page = unescape(late.page(f"/vehicles/{late.name(3)}"))

    assert first[0] != whole[0]
    assert after == whole
    assert len(whole[2]) == 1
    assert "were loaded as history (backfilled)" in page
    live.store.close()
    late.store.close()
