"""A small store and made-up models, to run the schedule on."""

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest

from ingest.records import SpecSheet, Vehicle
from service.store import Store, open_store
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

START = datetime(2031, 1, 1, tzinfo=UTC)


def _filled(url: str) -> Store:
    opened = open_store(url, fleet_zone="Europe/Vienna")
    opened.migrate()
    with opened.begin() as work:
        work.put_sheets([SpecSheet(sheet="HARROW-24", revision=1, source="shop manual")], START)
        rows = [Vehicle(vehicle=f"V-{n}", spec_sheet="HARROW-24", depot="North") for n in range(1, 5)]
        work.put_vehicles(rows, START)
        work.commit()
    return opened


@pytest.fixture
def store(main_url: str) -> Iterator[Store]:
    """Give a store with four vehicles and one sheet, in SQLite."""
    opened = _filled(main_url)
    yield opened
    opened.close()


@pytest.fixture
def each_store(store_url: str) -> Iterator[Store]:
    """Give a store with four vehicles and one sheet, once on each database."""
    opened = _filled(store_url)
    yield opened
    opened.close()


@pytest.fixture
def models() -> MadeUp:
    """Give models that find one fault from 10 March 2031 on."""
    return MadeUp(since={"V-2": to_day(date(2031, 3, 10))})
