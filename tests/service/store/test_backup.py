"""Backups: whole, checked, and back in place with the same bytes; on both databases."""

import hashlib
import io
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest

from ingest.batch import Arrival
from ingest.records import Vehicle
from service.store import (
    BackupManifest,
    BackupUnusable,
    RestoreRefused,
    Store,
    open_store,
    restore_backup,
    take_backup,
    verify_backup,
)
from service.store.backup import MANIFEST
from service.web.exports import Wanted, export

NOW = datetime(2031, 3, 4, 12, tzinfo=UTC)


def _bytes(url: str) -> bytes:
    """Export every snapshot of a store."""
    sink, store = io.BytesIO(), open_store(url)
    with store.begin(readonly=True) as work:
        export(work, Wanted(dataset="snapshots"), "csv", sink, fleet_zone="UTC")
    store.close()
    return sink.getvalue()


def _fill(url: str, make_arrival: Callable[..., Arrival], days: int = 40) -> None:
    store = open_store(url)
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1")], NOW)
        arrival = make_arrival([NOW - timedelta(days=day) for day in range(days)])
        work.add_arrival(arrival, received_at=NOW, source="x")
        work.commit()
    store.close()


def _alter(folder: Path, **changes: object) -> None:
    manifest = msgspec.structs.replace(BackupManifest.read(folder), **changes)
    (folder / MANIFEST).write_bytes(msgspec.json.encode(manifest))


def _post_until(
    url: str, make_arrival: Callable[..., Arrival], ended: threading.Event, done: list[int]
) -> None:
    store = open_store(url)
    minute = 0
    while not ended.is_set():
        minute += 1
        with store.begin() as work:
            arrival = make_arrival([NOW - timedelta(days=100, minutes=minute)])
            work.add_arrival(arrival, received_at=NOW, source="x")
            work.commit()
        done.append(minute)
    store.close()


def test_backup_under_load(store_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path) -> None:
    """A backup taken while somebody posts is of one moment; restored, it exports the same bytes."""
    _fill(store_url, make_arrival)
    ended, done = threading.Event(), list[int]()
    poster = threading.Thread(target=_post_until, args=(store_url, make_arrival, ended, done))
    poster.start()
    try:
        while not done:
            ended.wait(0.01)
        manifest = take_backup(store_url, tmp_path / "first", NOW)
        before = len(done)
        while len(done) == before:
            ended.wait(0.01)
    finally:
        ended.set()
        poster.join()

    restored = restore_backup(store_url, tmp_path / "first", NOW, replace=True)
    exported = _bytes(store_url)
    take_backup(store_url, tmp_path / "second", NOW)
    restore_backup(store_url, tmp_path / "second", NOW + timedelta(seconds=1), replace=True)

    assert 40 < manifest.rows["snapshot"] < 40 + len(done)
    assert exported.count(b"\n") == manifest.rows["snapshot"] + 1
    assert _bytes(store_url) == exported
    assert restored.kept_aside.endswith("before_20310304t120000z")


def test_old_sqlite_store_is_kept(
    sqlite_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path
) -> None:
    """What was there before a restore is a whole store under another name."""
    take_backup(sqlite_url, tmp_path / "empty", NOW)
    _fill(sqlite_url, make_arrival)
    exported = _bytes(sqlite_url)

    restored = restore_backup(sqlite_url, tmp_path / "empty", NOW, replace=True)

    assert _bytes(sqlite_url).count(b"\n") == 1
    assert _bytes(f"sqlite:///{restored.kept_aside}") == exported


def test_restores_where_nothing_was(
    sqlite_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path
) -> None:
    """A backup becomes a store on a machine that has none."""
    _fill(sqlite_url, make_arrival)
    take_backup(sqlite_url, tmp_path / "copy", NOW)
    fresh = f"sqlite:///{tmp_path / 'new' / 'store.db'}"

    assert restore_backup(fresh, tmp_path / "copy", NOW).kept_aside == ""
    assert _bytes(fresh) == _bytes(sqlite_url)


def test_is_for_its_owner_only(store_url: str, tmp_path: Path) -> None:
    """Others on the machine cannot read a backup."""
    take_backup(store_url, tmp_path / "copy", NOW)

    assert (tmp_path / "copy").stat().st_mode & 0o077 == 0


def test_never_replaces_a_backup(store_url: str, tmp_path: Path) -> None:
    """A folder that holds something is not written into."""
    take_backup(store_url, tmp_path / "copy", NOW)
    with pytest.raises(BackupUnusable, match="never replaces"):
        take_backup(store_url, tmp_path / "copy", NOW)


def test_newer_schema_is_refused(store_url: str, tmp_path: Path) -> None:
    """A backup of a newer version is refused, and the sentence says which revision it has."""
    take_backup(store_url, tmp_path / "copy", NOW)
    _alter(tmp_path / "copy", schema="9999")

    with pytest.raises(BackupUnusable, match="at revision 9999, which is newer than"):
        restore_backup(store_url, tmp_path / "copy", NOW)


@pytest.mark.parametrize(
    ("spoil", "told"), [("cut", "bytes instead of"), ("bit", "SHA-256"), ("gone", "missing")]
)
def test_damaged_file_is_refused(store_url: str, tmp_path: Path, spoil: str, told: str) -> None:
    """A file that is cut off, changed in one bit, or gone is noticed before anything is touched."""
    path = tmp_path / "copy" / take_backup(store_url, tmp_path / "copy", NOW).files[0].name
    whole = path.read_bytes()
    if spoil == "cut":
        path.write_bytes(whole[:-100])
    elif spoil == "bit":
        path.write_bytes(whole[:500] + bytes([whole[500] ^ 1]) + whole[501:])
    else:
        path.unlink()

    with pytest.raises(BackupUnusable, match=told):
        verify_backup(tmp_path / "copy")
    with pytest.raises(BackupUnusable, match=told):
        restore_backup(store_url, tmp_path / "copy", NOW, replace=True)


@pytest.mark.parametrize("content", [b"", b"{", b'{"format": 2}', b"[]"])
def test_damaged_manifest_is_refused(sqlite_url: str, tmp_path: Path, content: bytes) -> None:
    """A manifest that is cut off or says something else is no manifest."""
    take_backup(sqlite_url, tmp_path / "copy", NOW)
    (tmp_path / "copy" / MANIFEST).write_bytes(content)

    with pytest.raises(BackupUnusable, match=MANIFEST):
        verify_backup(tmp_path / "copy")


def test_wrong_rows_leave_the_store(
    store_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path
) -> None:
    """A copy that does not hold the rows of its manifest is taken out again; the old store is back."""
    take_backup(store_url, tmp_path / "copy", NOW)
    rows = dict(BackupManifest.read(tmp_path / "copy").rows)
    _alter(tmp_path / "copy", rows=rows | {"snapshot": 7})
    _fill(store_url, make_arrival)
    exported = _bytes(store_url)

    with pytest.raises(BackupUnusable, match="rows of snapshot"):
        restore_backup(store_url, tmp_path / "copy", NOW, replace=True)
    assert _bytes(store_url) == exported


def test_unreadable_dump_leaves_the_store(
    postgresql_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path
) -> None:
    """A dump that PostgreSQL's program cannot read leaves the old tables in their place."""
    take_backup(postgresql_url, tmp_path / "copy", NOW)
    manifest = BackupManifest.read(tmp_path / "copy")
    junk = b"no dump at all"
    (tmp_path / "copy" / manifest.files[0].name).write_bytes(junk)
    digest = hashlib.sha256(junk).hexdigest()
    kept = msgspec.structs.replace(manifest.files[0], bytes=len(junk), sha256=digest)
    _alter(tmp_path / "copy", files=(kept,))
    _fill(postgresql_url, make_arrival)
    exported = _bytes(postgresql_url)

    with pytest.raises(BackupUnusable, match="pg_restore says"):
        restore_backup(postgresql_url, tmp_path / "copy", NOW, replace=True)
    assert _bytes(postgresql_url) == exported


def test_full_store_is_not_replaced_unasked(
    store_url: str, make_arrival: Callable[..., Arrival], tmp_path: Path
) -> None:
    """A store that holds something is moved aside only when that is said."""
    take_backup(store_url, tmp_path / "copy", NOW)
    _fill(store_url, make_arrival)

    with pytest.raises(RestoreRefused, match="--replace"):
        restore_backup(store_url, tmp_path / "copy", NOW)


def test_running_service_is_not_pulled_away(store: Store, store_url: str, tmp_path: Path) -> None:
    """While somebody has the store open nothing is restored, even when told to replace."""
    with store.begin(readonly=True) as work:
        assert work.vehicles() == ()
    take_backup(store_url, tmp_path / "copy", NOW)

    with pytest.raises(RestoreRefused, match="stop the service first"):
        restore_backup(store_url, tmp_path / "copy", NOW, replace=True)


def test_kinds_do_not_mix(sqlite_url: str, tmp_path: Path) -> None:
    """A backup goes back into the kind of database that it came from."""
    take_backup(sqlite_url, tmp_path / "copy", NOW)
    _alter(tmp_path / "copy", database="postgresql")

    with pytest.raises(RestoreRefused, match="is of postgresql"):
        restore_backup(sqlite_url, tmp_path / "copy", NOW)
