"""Telling a database that cannot be used from a statement that is wrong."""

import sqlite3
from typing import Final

import psycopg
from sqlalchemy.exc import DBAPIError

_DAMAGED_SQLITE: Final = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
_UNUSABLE_POSTGRESQL: Final = frozenset({"25006", "0A000", "XX001", "XX002"})
"""Read-only, asked to write on a standby, damaged data, damaged index (PostgreSQL documentation,
appendix A)."""


def is_away(error: BaseException | None) -> bool:
    """Tell whether an error says that the database is away, full, read-only, locked or damaged.

    Parameters
    ----------
    error : exception or None
        Of the drivers, bare or wrapped; of anything else the answer is no.

    Examples
    --------
    >>> is_away(sqlite3.OperationalError("database is locked")), is_away(ValueError())
    (True, False)
    """
    if isinstance(error, DBAPIError):
        return error.connection_invalidated or is_away(error.orig)
    if isinstance(error, sqlite3.Error):
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte; the rest says how
        return isinstance(error, sqlite3.OperationalError) or code in _DAMAGED_SQLITE
    if isinstance(error, psycopg.Error):
        return isinstance(error, psycopg.OperationalError) or error.sqlstate in _UNUSABLE_POSTGRESQL
    return False
