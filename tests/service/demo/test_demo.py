"""`forelamp demo` builds a fleet whose workshop is alive on its last day."""

from collections import Counter
from datetime import date, timedelta
from pathlib import Path
from time import process_time

import pytest

from service.cli.demo import _practice_settings, build_fleet
from service.cli.opened import opened
from service.settings import Settings
from service.tickets.ticket import is_open

MOST_CPU_S = 25.0
"""What building the practice fleet may cost [s]."""


@pytest.mark.slow
def test_the_workshop_is_alive(tmp_path: Path) -> None:
    """Most tickets were taken in hand and proved; some wait, few came back, none lies about unseen."""
    last = date(2026, 11, 24)
    settings = _practice_settings(Settings(home=tmp_path))
    started = process_time()
    with opened(settings) as found:
        build_fleet(found, last, vehicles=60, days=420)
        spent = process_time() - started
        with found.store.begin(readonly=True) as work:
            tickets = work.tickets()
            events = work.ticket_events()
            weeks = work.reports()

    statuses = Counter(ticket.status for ticket in tickets)
    unseen = [
        ticket.ticket
        for ticket in tickets
        if ticket.status == "raised" and ticket.raised_at.date() < last - timedelta(days=7)
    ]
    assert spent < MOST_CPU_S
    assert statuses["verified"] >= len(tickets) / 3
    assert statuses["reopened"] <= 2
    assert 3 <= sum(map(is_open, tickets)) <= 14
    assert unseen == []
    assert {event.by for event in events if event.role in {"lead", "mechanic"}} == {"practice workshop"}
    assert len(weeks) >= 59
