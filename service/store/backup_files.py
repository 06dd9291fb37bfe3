"""Backups of SQLite: a live file copied as of one moment, and put in place of another."""

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

from service.store.errors import StoreUnavailable

NAME: Final = "forelamp.db"
"""Name of the copy in a backup."""

_BESIDE: Final = ("-wal", "-shm")


def copy_live(source: Path, target: Path) -> None:
    """Copy a file that others may write to, as of one moment.

    Raises
    ------
    StoreUnavailable
        There is no such file, or it cannot be read or written.
    """
    address = f"{source.resolve().as_uri()}?mode=ro"
    try:
        with closing(sqlite3.connect(address, uri=True)) as opened, closing(sqlite3.connect(target)) as copy:
            opened.backup(copy)
    except sqlite3.Error as err:
        raise StoreUnavailable(str(err)) from err


def settle(path: Path) -> None:
    """Fold the write-ahead log into a file, so that it is whole by itself, and bring it to the disk."""
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("PRAGMA journal_mode = DELETE")
    write_through(path)


def is_open_elsewhere(path: Path) -> bool:
    """Tell whether another connection has the file open.

    Only who is alone may leave the write-ahead log; a refusal names company. What was in the log is in the
    file afterwards.
    """
    with closing(sqlite3.connect(path, timeout=0)) as opened:
        try:
            opened.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError:
            return True
    return False


def swap(source: Path, target: Path, name: str, check: Callable[[Path], None]) -> str:
    """Put a copy of one file in the place of another, which nobody has open.

    Parameters
    ----------
    source, target : Path
        The copy, and where it goes.
    name : str
        Added to the name of what is there now.
    check : callable
        Called with the new file before anything is moved; raises where it is not good.

    Returns
    -------
    str
        Where the old file is now; empty for none.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    fresh = target.with_name(f"{target.name}.restoring")
    try:
        shutil.copyfile(source, fresh)
        fresh.chmod(0o600)
        check(fresh)
        settle(fresh)
        aside = ""
        if target.exists():
            aside = str(target.with_name(f"{target.name}.{name}"))
            target.rename(aside)
            for ending in _BESIDE:  # folded in by `is_open_elsewhere`; what is left would spoil the new file
                target.with_name(target.name + ending).unlink(missing_ok=True)
        fresh.rename(target)
    finally:
        for ending in ("", *_BESIDE):
            fresh.with_name(fresh.name + ending).unlink(missing_ok=True)
    _sync(target.parent)
    return aside


def write_through(path: Path, content: bytes | None = None) -> None:
    """Write a file and wait for the disk; without content only wait."""
    with path.open("ab" if content is None else "wb") as opened:
        opened.write(content or b"")
        opened.flush()
        os.fsync(opened.fileno())


def _sync(folder: Path) -> None:
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
