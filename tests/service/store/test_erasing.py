"""Erasing a vehicle leaves no trace of its number or VIN in any table, and what was counted stays counted."""

from contextlib import suppress
from datetime import timedelta

import numpy as np
import pytest
import zstandard
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import NullPool, create_engine, select

from ingest.records import Vehicle, WorkRecord
from models.findings import Corrected
from models.summarise import summarise
from service.auth.tokens import issue
from service.store import NotFound, Store
from service.store.engine import read_url
from service.store.pseudonym import Pseudonym
from service.store.tables import METADATA
from tests.service.store.conftest import build_arrival
from tests.service.web.fleet import NOW, TICKET, TODAY, fill_fleet

VEHICLE, VIN = "V-0001", "10000000X00000001"


def everything(url: str) -> str:
    """Give every text and every packed value of a store in one text."""
    found = []
    with create_engine(read_url(url), poolclass=NullPool).connect() as connection:
        for table in METADATA.sorted_tables:
            for row in connection.execute(select(table)):
                for value in row:
                    if isinstance(value, bytes):
                        with suppress(zstandard.ZstdError):  # not everything is packed
                            value = zstandard.ZstdDecompressor().decompress(value)
                        found.append(value.decode("latin-1"))
                    else:
                        found.append(str(value))
    return "\n".join(found)


@pytest.fixture
def filled(store: Store) -> Store:
    """Give a store in which every kind of row names the vehicle."""
    fill_fleet(store)
    with store.begin() as work:
        moments = [NOW - timedelta(days=day) for day in range(5)]
        work.add_arrival(build_arrival(moments, vehicles=VEHICLE), received_at=NOW, source="L-1")
        work.add_arrival(build_arrival(moments, vehicles="V-0002"), received_at=NOW, source="L-1")
        work.add_arrival(
            build_arrival(moments[:1], vehicles=VEHICLE, trim=9.5), received_at=NOW, source="L-1"
        )
        record = WorkRecord(
            vehicle=VEHICLE,
            done_at=NOW,
            kind="repair",
            ticket=TICKET,
            parts_cost=38.5,
            notes=f"{VEHICLE} hose",
        )
        work.put_work([record], NOW)
        work.freeze_report(
            "2031-W09",
            f'{{"standings":{{"{VEHICLE}":{{"word":"watch"}}}},"counts":{{"in_service":12}}}}',
            NOW,
        )
        work.log_event(at=NOW, who="ann", what="vehicle changed", subject=VEHICLE, after=f'{{"vin":"{VIN}"}}')
        for name, listed in ((f"logger-{VEHICLE}", [VEHICLE]), ("both", [VEHICLE, "V-0002"])):
            work.put_token(issue(name, ["send"], now=NOW, vehicles=listed)[1])
        work.put_upload("vehicles", "csv", "a.csv", f"vehicle\n{VEHICLE}\n".encode(), now=NOW, who="ann")
        days, values = np.array([TODAY], dtype=np.int32), np.array([1.5], dtype=np.float32)
        work.put_corrected(
            TODAY, [Corrected(vehicle=VEHICLE, series="LONGFT1@warm_idle", day=days, value=values)]
        )
        work.put_off_road(VEHICLE, since=NOW.date(), until=None, reason="", now=NOW, who="ann")
        work.commit()
    store.fold_all(summarise)
    return store


def test_no_trace_is_left_anywhere(filled: Store, store_url: str) -> None:
    """Every table is searched, packed values too: neither number nor VIN is there any more."""
    before = everything(store_url)
    with filled.begin() as work:
        work.erase_vehicle(VEHICLE, NOW, who="ann")
        work.commit()
    after = everything(store_url)

    assert before.count(VEHICLE) > 20
    assert VIN in before
    assert VEHICLE not in after
    assert VIN not in after
    assert "V-0002" in after


def test_what_was_counted_stays_counted(filled: Store) -> None:
    """Tickets, costs of work, the frozen report's totals and the evaluation's size are as they were."""
    with filled.begin() as work:
        tickets, records = len(work.tickets()), work.work_records()
        states = work.assessment(work.assessed_days()[-1])
        done = work.erase_vehicle(VEHICLE, NOW, who="ann")
        work.commit()

    assert states is not None
    with filled.begin(readonly=True) as work:
        again = work.assessment(work.assessed_days()[-1])
        assert again is not None
        assert len(again.vehicles) == len(states.vehicles)
        assert len(work.tickets()) == tickets
        assert [one.ticket for one in work.tickets()] == [f"{done.name}-T1"]
        assert len(work.ticket_events(f"{done.name}-T1")) == 1
        assert sum(one.parts_cost or 0 for one in work.work_records()) == sum(
            one.parts_cost or 0 for one in records
        )
        report = work.report("2031-W09")
        assert report is not None
        assert '"in_service":12' in report.body
        assert done.name in work.gone()


def test_the_log_keeps_every_line(filled: Store) -> None:
    """An erasure takes the name out of log lines: none is removed, and time, person and deed stay."""
    with filled.begin() as work:
        work.log_event(at=NOW, who="ben", what="sheet in force", subject="HARROW-24 revision 2")
        before = work.log_entries().rows
        done = work.erase_vehicle(VEHICLE, NOW, who="ann")
        after = work.log_entries().rows

    assert [(one.number, one.at, one.who, one.what) for one in after] == [
        (one.number, one.at, one.who, one.what) for one in before
    ]
    assert [one.subject for one in after] == ["HARROW-24 revision 2", done.name]


def test_others_keep_everything(filled: Store) -> None:
    """Another vehicle's readings stay; a token for the erased one alone ends, a shared one goes on."""
    with filled.begin() as work:
        done = work.erase_vehicle(VEHICLE, NOW, who="ann")
        work.commit()
        tokens = {one.name: one for one in work.tokens()}
        assert len(work.snapshots(vehicle="V-0002").rows) == 5
        assert work.snapshots(vehicle=done.name).rows == ()
    assert tokens[f"logger-{done.name}"].revoked_at == NOW
    assert (tokens["both"].vehicles, tokens["both"].revoked_at) == (("V-0002",), None)


def test_lost_rows_are_known_by_date(filled: Store) -> None:
    """What an erasure took is counted for everything that was known before it, not after."""
    with filled.begin() as work:
        work.erase_vehicle(VEHICLE, NOW, who="ann")
        work.commit()
        assert work.lost_rows(["snapshot"], NOW - timedelta(days=1), up_to_day=TODAY) == (5, 0)
        assert work.lost_rows(["snapshot", "trend"], NOW - timedelta(days=1), up_to_day=TODAY) == (6, 0)
        assert work.lost_rows(["snapshot"], NOW, up_to_day=TODAY) == (0, 0)


def test_only_what_is_there_is_erased_and_the_number_is_free_again(filled: Store) -> None:
    """A number that nobody registered is refused; an erased number may be given to another vehicle."""
    with filled.begin() as work:
        with pytest.raises(NotFound):
            work.erase_vehicle("V-9999", NOW, who="ann")
        work.erase_vehicle(VEHICLE, NOW, who="ann")
        assert work.put_vehicles([Vehicle(vehicle=VEHICLE)], NOW).added == 1
        assert work.tickets(vehicle=VEHICLE) == ()


@given(st.text(alphabet="ab7-:. T", max_size=30))
def test_bare_numbers_spare_other_numbers(text: str) -> None:
    """A vehicle called 7 is taken out as owner and ticket; a 7 in a sentence is no vehicle."""
    hide = Pseudonym("7", "", "erased-1")

    assert hide.text("7-T2") == "erased-1-T2"
    assert hide.text("7: trim rose by 7 %") == "erased-1: trim rose by 7 %"
    if "7" not in text:
        assert hide.text(text) == text
