"""One fault is one ticket, however many series show it; sound fleets have none."""

from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path

import numpy as np

from tests.story.conftest import FIRST, SHEET, Town, open_at

ONSET = 70


def _grow(town: Town, shifts: dict[tuple[str, str], float], *, over: int = 42) -> None:
    for (code, state), size in shifts.items():
        town.at(code, state)[3] += size * np.clip((np.arange(town.days) - ONSET) / over, 0, 1)


def test_three_series_one_ticket(town: Town) -> None:
    """A leak seen in two trims and the idle valve is one ticket on all nights, with all three inside."""
    _grow(town, {("LONGFT1", "warm_idle"): 9.0, ("LONGFT1", "cruise"): 2.6, ("IAC", "warm_idle"): -5.0})
    town.register()
    town.send()

    tickets = town.nights(town.last - timedelta(days=town.days - ONSET), every=7)

    assert [ticket.vehicle for ticket in tickets] == [town.name(3)]
    assert tickets[0].detail is not None
    moved = {reading.series for reading in tickets[0].detail.readings}
    assert {"LONGFT1@warm_idle", "LONGFT1@cruise", "IAC@warm_idle"} <= moved
    assert "unmetered_air" in (tickets[0].cause_1, tickets[0].cause_2, tickets[0].cause_3)


def test_half_a_per_cent_a_week_is_found(town: Town) -> None:
    """Trim that rises by 0.5 % a week for most of a history is found: the baseline does not creep."""
    _grow(town, {("LONGFT1", "warm_idle"): 7.0, ("LONGFT1", "cruise"): 7.0}, over=98)
    town.register()
    town.send()

    assert [ticket.vehicle for ticket in town.night()] == [town.name(3)]


def test_thirty_weeks_of_slow_drift_are_found_without_a_limit(main_url: str, tmp_path: Path) -> None:
    """Half a per cent a week for thirty weeks, and no limit on the sheet: a rolling normal would follow."""
    days = ONSET + 30 * 7
    service = open_at(main_url, tmp_path, days=days)
    town = Town(service, vehicles=10, days=days, sheet=replace(SHEET, limits=()))
    _grow(town, {("LONGFT1", "warm_idle"): 15.0, ("LONGFT1", "cruise"): 15.0}, over=30 * 7)
    town.register()
    for start in range(0, days, 70):
        town.send(range(start, start + 70))

    tickets = town.night()
    service.store.close()

    assert [(ticket.vehicle, ticket.limit_high) for ticket in tickets] == [(town.name(3), None)]


def test_a_sensor_that_lies_is_a_sensor_ticket(town: Town) -> None:
    """A coolant sensor that reads ever warmer leans the mixture too: the ticket is about the sensor."""
    _grow(
        town,
        {
            ("ECT", "koeo_soak"): 12.0,
            ("ECT", "warm_idle"): 12.0,
            ("ECT", "cruise"): 12.0,
            ("LONGFT1", "warm_idle"): 1.8,
            ("LONGFT1", "cruise"): 1.8,
        },
    )
    town.register()
    town.send()

    tickets = town.night()

    assert [(ticket.vehicle, ticket.cause_1) for ticket in tickets] == [(town.name(3), "coolant_sensor_bias")]
    assert tickets[0].parameter in {"ECT", "IAT"}


def test_commanded_charging_raises_nothing(town: Town) -> None:
    """An engine computer that holds 12.8 V at cruise and more at idle is no fault."""
    town.at("VPWR", "cruise")[:] -= 1.2
    town.register()
    town.send()

    assert town.night() == ()


def test_open_loop_enters_no_trim(town: Town) -> None:
    """Fifteen per cent of trim while the engine runs open loop raises nothing: it is not compared."""
    town.at("LONGFT1", "warm_idle")[5, ONSET:] += 15.0
    town.at("LONGFT1", "cruise")[5, ONSET:] += 15.0
    town.register()
    town.send(range(ONSET))
    town.loop[5] = "OL"
    town.send(range(ONSET, town.days))

    assert town.night() == ()


def test_memory_cleared_on_the_quiet_moves_no_ticket(town: Town) -> None:
    """Codes are cleared and nobody writes it down: trim falls to 0, the ticket stays open."""
    _grow(town, {("LONGFT1", "warm_idle"): 9.0, ("LONGFT1", "cruise"): 9.0}, over=30)
    cleared = 108
    for state in ("warm_idle", "cruise"):
        since = np.maximum(0, np.arange(town.days) - cleared)
        town.at("LONGFT1", state)[3, cleared:] *= np.clip(since[cleared:] / 30, 0, 1)
        town.at("LONGFT1", state)[3, cleared] = 0.0
    town.register()
    town.send()

    tickets = town.nights(FIRST + timedelta(days=cleared - 8))
    page = unescape(town.page(f"/vehicles/{town.name(3)}"))

    assert [(one.vehicle, one.status) for one in tickets] == [(town.name(3), "raised")]
    assert tickets[0].raised_at.date() < FIRST + timedelta(days=cleared)
    assert "Learned values cleared (nobody had recorded it)" in page


def test_a_wild_reading_raises_nothing(town: Town) -> None:
    """One reading far out, in a sound fleet, is no ticket."""
    town.at("LONGFT1", "warm_idle")[5, -3] = 45.0
    town.register()
    town.send()

    assert town.night() == ()
