"""Backups: a folder with one consistent copy of the store and a manifest that says what must be in it.

Never a plain copy of a live file: SQLite's online backup, or PostgreSQL's own programs under a snapshot in
which the rows are counted too.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal, Self

import msgspec
from sqlalchemy import URL, Connection, func, inspect, select, table

from service.store import backup_files as files
from service.store import backup_postgresql as postgresql
from service.store.engine import open_engine, read_url
from service.store.errors import BackupUnusable, RestoreRefused
from service.store.schema import head_revision, kept_revision, known_revisions

MANIFEST: Final = "manifest.json"
_FORMAT: Final = 1
_PIECE: Final = 1 << 20
_NOT_COUNTED: Final = frozenset({"alembic_version", "post", "sqlite_sequence"})
"""Tables that are there in an empty store as well, or that belong to whoever runs at the moment."""


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """One file of a backup: its name in the folder, bytes, and SHA-256 in hexadecimal."""

    name: str
    bytes: int
    sha256: str


class BackupManifest(msgspec.Struct, frozen=True, kw_only=True):
    """What a backup holds.

    Parameters
    ----------
    format : int
        Version of this description.
    database : str
        `sqlite` or `postgresql`; a backup goes back into the same kind.
    schema : str
        Revision of the tables.
    as_of : datetime
        The moment that the copy shows, aware UTC.
    files : tuple of Kept
        Files beside the manifest.
    rows : dict
        Rows by table.
    """

    format: int = _FORMAT
    database: Literal["sqlite", "postgresql"]
    schema: str
    as_of: datetime
    files: tuple[Kept, ...]
    rows: dict[str, int]

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read a folder's manifest.

        Raises
        ------
        BackupUnusable
            There is none, or it cannot be read.
        """
        path = folder / MANIFEST
        try:
            found = msgspec.json.decode(path.read_bytes(), type=cls)
        except OSError as err:
            raise BackupUnusable(str(folder), f"its {MANIFEST} cannot be read ({err.strerror})") from err
        except msgspec.MsgspecError as err:
            raise BackupUnusable(str(folder), f"its {MANIFEST} is damaged ({err})") from err
        if found.format != _FORMAT:
            raise BackupUnusable(str(folder), f"its format {found.format} is not {_FORMAT}")
        return found


class Restored(msgspec.Struct, frozen=True, kw_only=True):
    """What a restore did: where the store from before now is, empty for none; the backup's manifest."""

    kept_aside: str
    manifest: BackupManifest


def take_backup(url: str, folder: Path, now: datetime) -> BackupManifest:
    """Copy a store, as of one moment, without stopping anybody.

    Parameters
    ----------
    url : str
        As for `open_store`.
    folder : Path
        Made, readable by its owner only; must not be there, or be empty.
    now : datetime
        Aware.

    Raises
    ------
    BackupUnusable
        The folder holds something, or PostgreSQL's programs are missing or fail.
    """
    parsed = read_url(url)
    if folder.exists() and any(folder.iterdir()):
        raise BackupUnusable(str(folder), "the folder holds something already; a backup never replaces one")
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    if parsed.get_backend_name() == "sqlite":
        path = folder / files.NAME
        files.copy_live(Path(str(parsed.database)), path)
        with _connected(read_url(f"sqlite:///{path}")) as connection:
            schema, rows = kept_revision(connection), count_rows(connection)
        files.settle(path)
    else:
        path = folder / postgresql.NAME
        with _connected(parsed) as connection:
            connection.execution_options(isolation_level="REPEATABLE READ")
            snapshot = str(connection.scalar(select(func.pg_export_snapshot())))
            schema, rows = kept_revision(connection), count_rows(connection)
            postgresql.dump(parsed, path, snapshot)
    path.chmod(0o600)
    manifest = BackupManifest(
        database="sqlite" if parsed.get_backend_name() == "sqlite" else "postgresql",
        schema=schema,
        as_of=now.astimezone(UTC),
        files=(Kept(name=path.name, bytes=path.stat().st_size, sha256=_digest(path)),),
        rows=rows,
    )
    # Last, so that a folder with a manifest is a whole backup.
    text = msgspec.json.format(msgspec.json.encode(manifest, order="sorted"), indent=2)
    files.write_through(folder / MANIFEST, text + b"\n")
    return manifest


def verify_backup(folder: Path) -> BackupManifest:
    """Look at a backup: every file is there, whole, and of a schema that this version knows.

    Raises
    ------
    BackupUnusable
        It is damaged, cut off, or was made by a newer version.
    """
    manifest = BackupManifest.read(folder)
    for kept in manifest.files:
        path = folder / Path(kept.name).name
        if not path.is_file():
            raise BackupUnusable(str(folder), f"its file {kept.name} is missing")
        size = path.stat().st_size
        if size != kept.bytes:
            raise BackupUnusable(
                str(folder), f"its file {kept.name} has {size:,} bytes instead of {kept.bytes:,}"
            )
        if _digest(path) != kept.sha256:
            raise BackupUnusable(str(folder), f"the SHA-256 of its file {kept.name} does not fit")
    if manifest.schema not in known_revisions():
        raise BackupUnusable(
            str(folder),
            f"its tables are at revision {manifest.schema or 'none'}, which is newer than {head_revision()}, "
            "the newest that this version knows",
        )
    return manifest


def restore_backup(url: str, folder: Path, now: datetime, *, replace: bool = False) -> Restored:
    """Put a backup in the place of a store; the store from before is kept aside under another name.

    Parameters
    ----------
    url : str
        As for `open_store`.
    folder : Path
        Of the backup; verified first.
    now : datetime
        Aware; part of the name of what is kept aside.
    replace : bool
        Whether a store that holds something may be moved aside.

    Returns
    -------
    Restored
        The tables are at the backup's schema; `Store.migrate` brings them on.

    Raises
    ------
    BackupUnusable
        As `verify_backup`, or the copy does not hold the rows that the manifest counts.
    RestoreRefused
        Somebody uses the store, it holds something, or the backup is of the other kind of database.
    """
    manifest = verify_backup(folder)
    parsed = read_url(url)
    kind = parsed.get_backend_name()
    if manifest.database != kind:
        raise RestoreRefused(f"The backup is of {manifest.database}, the store is in {kind}")
    shown = parsed.render_as_string(hide_password=True)
    source = folder / manifest.files[0].name
    target = Path(str(parsed.database))
    if kind == "postgresql" or target.exists():
        _refuse_if_used(parsed, shown, replace=replace)
    name = f"before_{now.astimezone(UTC):%Y%m%dt%H%M%Sz}"
    if kind == "sqlite":
        aside = files.swap(source, target, name, lambda path: _check(f"sqlite:///{path}", folder, manifest))
    else:
        aside = postgresql.swap(parsed, source, name, lambda: _check(url, folder, manifest))
    return Restored(kept_aside=aside, manifest=manifest)


def count_rows(connection: Connection) -> dict[str, int]:
    """Count the rows of every table that is there, by name."""
    names = set(inspect(connection).get_table_names()) - _NOT_COUNTED
    return {
        name: int(connection.scalar(select(func.count()).select_from(table(name))) or 0)
        for name in sorted(names)
    }


@contextmanager
def _connected(url: URL) -> Iterator[Connection]:
    """Give a connection to a database, and leave nothing open behind it."""
    engine = open_engine(url)
    try:
        with engine.connect() as connection:
            yield connection
    finally:
        engine.dispose()


def _refuse_if_used(url: URL, shown: str, *, replace: bool) -> None:
    is_sqlite = url.get_backend_name() == "sqlite"
    with _connected(url) as connection:
        rows = count_rows(connection)
        others = 0 if is_sqlite else postgresql.others(connection)
    if is_sqlite:
        others = files.is_open_elsewhere(Path(str(url.database)))
    if others:
        raise RestoreRefused(f"Somebody uses the store {shown}: stop the service first")
    if any(rows.values()) and not replace:
        raise RestoreRefused(
            f"The store {shown} holds {sum(rows.values()):,} rows; with --replace it is kept aside under "
            "another name"
        )


def _check(url: str, folder: Path, manifest: BackupManifest) -> None:
    with _connected(read_url(url)) as connection:
        found = count_rows(connection)
    if found != manifest.rows:
        wrong = sorted(name for name in found | manifest.rows if found.get(name) != manifest.rows.get(name))
        raise BackupUnusable(str(folder), f"the rows of {', '.join(wrong)} are not as many as it says")


def _digest(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as opened:
        while piece := opened.read(_PIECE):
            found.update(piece)
    return found.hexdigest()
