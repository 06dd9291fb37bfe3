"""Files that wait between a first look and the loading of them."""

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import delete, select, update

from service.store.errors import NotFound
from service.store.tables import UPLOAD
from service.store.unit import Unit, clean
from service.store.values import Upload

KEPT_FOR: Final = timedelta(days=1)
"""How long a file waits; chosen by us: long enough to ask a colleague."""


class Uploads(Unit):
    """Waiting files."""

    def put_upload(self, kind: str, format: str, file: str, body: bytes, *, now: datetime, who: str) -> int:
        """Keep a file for a day, drop those that are older, and give its number."""
        self._connection.execute(delete(UPLOAD).where(UPLOAD.c.put_at < now - KEPT_FOR))
        values = {"kind": kind, "format": format, "file": clean(file), "body": body}
        statement = UPLOAD.insert().values(**values, put_by=who, put_at=now).returning(UPLOAD.c.number)
        return int(self._connection.execute(statement).scalar_one())

    def upload(self, number: int) -> Upload:
        """Give a waiting file.

        Raises
        ------
        NotFound
            There is none, or it waited too long.
        """
        row = self._connection.execute(select(UPLOAD).where(UPLOAD.c.number == number)).one_or_none()
        if row is None:
            raise NotFound("waiting file", str(number))
        return Upload(**row._mapping)

    def note_loaded(self, number: int, now: datetime) -> None:
        """Say that a waiting file was loaded."""
        self._connection.execute(update(UPLOAD).where(UPLOAD.c.number == number).values(loaded_at=now))
