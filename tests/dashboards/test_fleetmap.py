"""The picture of the fleet by week."""

import re

from dashboards.fleet_svg import draw_weeks, weeks_sentence
from dashboards.fleetmap import MOST_WEEKS, build_map
from dashboards.rows import Urgency


def test_most_urgent_now_comes_first() -> None:
    """Rows are ordered by where vehicles stand now, then by the weeks before, then by number."""
    before: dict[str, Urgency] = {"a": "watch", "b": "steady", "c": "watch", "d": "pull_in_now"}
    now: dict[str, Urgency] = {"a": "watch", "b": "pull_in_now", "c": "watch", "d": "steady"}

    found = build_map([("2031-W36", before), ("2031-W37", now)])

    assert found is not None
    assert [row.vehicle for row in found.rows] == ["b", "a", "c", "d"]


def test_silent_vehicles_are_drawn() -> None:
    """A vehicle that cannot be judged is drawn: silence is not good news."""
    found = build_map([("2031-W37", {"a": "cannot_say", "b": "steady"})])

    assert found is not None
    assert [row.vehicle for row in found.rows] == ["a"]
    assert found.left_out == 1


def test_every_vehicle_is_drawn_or_counted() -> None:
    """Rows drawn and vehicles left out add up to all."""
    standings: dict[str, Urgency] = {f"v{place:03}": "watch" for place in range(100)}

    found = build_map([("2031-W37", standings)], most=40)

    assert found is not None
    assert (len(found.rows), found.left_out) == (40, 60)


def test_newest_weeks_are_kept() -> None:
    """With more weeks than fit, the newest are drawn, oldest first."""
    weeks: list[tuple[str, dict[str, Urgency]]] = [(f"2031-W{n:02}", {"a": "watch"}) for n in range(1, 21)]

    found = build_map(weeks)

    assert found is not None
    assert found.weeks == tuple(f"2031-W{n:02}" for n in range(21 - MOST_WEEKS, 21))


def test_no_weeks_no_picture() -> None:
    """Before the first week is closed there is no picture."""
    assert build_map([]) is None


def test_small_multiples_share_one_scale() -> None:
    """Every word's columns stand for the same number a pixel, and first and newest numbers are told."""
    found = build_map(
        [("2031-W36", {"a": "watch", "b": "steady"}), ("2031-W37", {"a": "watch", "b": "watch"})]
    )
    assert found is not None

    drawn = str(draw_weeks(found))
    heights = [float(one) for one in re.findall(r'height="([\d.]+)" fill', drawn)]

    assert heights == [10.0, 20.0]
    assert "Watch 1 in 2031-W36, 2 in 2031-W37" in weeks_sentence(found)
    assert weeks_sentence(found) in drawn


def test_counts_speak_of_the_whole_fleet() -> None:
    """Vehicles that are not drawn are counted all the same."""
    found = build_map([("2031-W37", {str(number): "steady" for number in range(9)})])

    assert found is not None
    assert (found.rows, found.left_out, found.counts[0].steady, found.counts[0].in_service) == ((), 9, 9, 9)
