"""Keys of forms: sent twice, done once."""

import threading
from datetime import UTC, datetime, timedelta

from ingest.records import Vehicle, WorkRecord
from service.store import Store
from service.store.forms import KEPT_DAYS

NOW = datetime(2031, 3, 4, 2, 0, tzinfo=UTC)


def test_a_key_is_taken_once(store: Store) -> None:
    """The second sender of a key is told where the first was led."""
    with store.begin() as work:
        assert work.take_form_key("k-1", NOW, who="a") is None
        work.keep_form_answer("k-1", "/work/V-1-T1")
        work.commit()

    with store.begin() as work:
        assert work.take_form_key("k-1", NOW, who="a") == "/work/V-1-T1"
        assert work.take_form_key("k-2", NOW, who="a") is None


def test_what_was_not_kept_takes_no_key(store: Store) -> None:
    """A sending that was refused leaves its key free, so that the mended form counts."""
    with store.begin() as work:
        work.take_form_key("k-1", NOW, who="a")

    with store.begin() as work:
        assert work.take_form_key("k-1", NOW, who="a") is None


def test_old_keys_are_forgotten(store: Store) -> None:
    """Keys do not pile up for ever."""
    with store.begin() as work:
        work.take_form_key("k-1", NOW, who="a")
        work.commit()

    with store.begin() as work:
        later = NOW + timedelta(days=KEPT_DAYS, seconds=1)
        assert work.take_form_key("k-1", later, who="a") is None


def test_four_taps_at_once_are_one(store: Store) -> None:
    """Of four sendings at the same moment one goes on, and the others learn where it led."""
    found: list[str | None] = []

    def tap() -> None:
        with store.begin() as work:
            answer = work.take_form_key("k-1", NOW, who="a")
            if answer is None:
                work.keep_form_answer("k-1", "/there")
            work.commit()
        found.append(answer)

    taps = [threading.Thread(target=tap) for _ in range(4)]
    for one in taps:
        one.start()
    for one in taps:
        one.join()

    assert sorted(found, key=str) == ["/there", "/there", "/there", None]


def test_the_form_asks_more_than_a_file(store: Store) -> None:
    """Odometer, relearn and parts of a recorded finding are kept; hours of repairs are given by cause."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1")], NOW)
        work.put_work(
            [
                WorkRecord(
                    vehicle="V-1",
                    done_at=NOW,
                    kind="repair",
                    cause="throttle_deposits",
                    labour_hours=1.5,
                    odometer_km=48211.0,
                    relearn_done=True,
                    parts="bore cleaned",
                ),
                WorkRecord(vehicle="V-1", done_at=NOW, kind="repair", cause="unmetered_air"),
                WorkRecord(vehicle="V-1", done_at=NOW, kind="note", labour_hours=9.0),
            ],
            NOW,
        )
        kept = next(one for one in work.work_records() if one.cause == "throttle_deposits")

        assert (kept.odometer_km, kept.relearn_done, kept.parts) == (48211.0, True, "bore cleaned")
        assert work.repair_hours() == (("throttle_deposits", 1.5),)
