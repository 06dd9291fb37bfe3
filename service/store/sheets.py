"""Spec sheets: every revision is kept, superseded, never edited."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import delete, or_, select, update

from ingest.batch import Refusal
from ingest.records import SpecSheet
from service.store.calendar import Calendar
from service.store.columns import from_day, to_day
from service.store.errors import NotFound
from service.store.packing import from_text, to_text
from service.store.rereading import Rereads
from service.store.tables import SHEET, VEHICLE
from service.store.values import KeptSheet, Loads


class Sheets(Calendar, Rereads):
    """Revisions of spec sheets."""

    def put_sheets(
        self, rows: Sequence[SpecSheet], now: datetime, *, who: str = "system", draft: bool = False
    ) -> Loads:
        """Keep revisions of spec sheets, in force for the whole history at once, or as drafts.

        Parameters
        ----------
        rows : sequence of SpecSheet
            The same revision again changes nothing.
        now : datetime
            Aware.
        who : str
            Who brings them.
        draft : bool
            Whether somebody else still has to put them in force.

        Returns
        -------
        Loads
            Refused: the same revision with other content (`sheet-conflict`); the kept one stays.
        """
        added = same = 0
        refused = []
        for index, row in enumerate(rows):
            body = to_text(row)
            kept = self._connection.scalar(
                select(SHEET.c.body).where(SHEET.c.sheet == row.sheet, SHEET.c.revision == row.revision)
            )
            if kept is None:
                self._add_sheet(row, body, now, who, draft=draft)
                added += 1
            elif kept == body:
                same += 1
            else:
                refused.append(_conflict(index, row, body))
        return Loads(added=added, same=same, refused=tuple(refused))

    def enforce_sheet(
        self, sheet: str, revision: int, *, in_force_from: date | None, now: datetime, who: str
    ) -> None:
        """Put a revision in force from a date on, or for the whole history.

        Raises
        ------
        NotFound
            There is no such revision.
        """
        changed = self._connection.execute(
            update(SHEET)
            .where(SHEET.c.sheet == sheet, SHEET.c.revision == revision)
            .values(
                standing="in_force",
                in_force_from=None if in_force_from is None else to_day(in_force_from),
                approved_by=who,
                approved_at=now,
            )
        )
        if not changed.rowcount:
            raise NotFound("spec sheet", f"{sheet} revision {revision}")
        self._mark_sheet(sheet)
        self.want_reread(now, who=who)

    def drop_draft(self, sheet: str, revision: int) -> None:
        """Take a draft out; what was ever in force stays for good.

        Raises
        ------
        NotFound
            There is no such draft.
        """
        draft = (SHEET.c.sheet == sheet, SHEET.c.revision == revision, SHEET.c.standing == "draft")
        if not self._connection.execute(delete(SHEET).where(*draft)).rowcount:
            raise NotFound("draft", f"{sheet} revision {revision}")

    def sheets(self, *, as_of_day: int | None = None) -> tuple[SpecSheet, ...]:
        """Give the highest revision in force of each sheet, by name; by default whatever its date."""
        query = select(SHEET.c.body).where(SHEET.c.standing == "in_force")
        if as_of_day is not None:
            query = query.where(or_(SHEET.c.in_force_from.is_(None), SHEET.c.in_force_from <= as_of_day))
        newest: dict[str, SpecSheet] = {}
        for body in self._connection.scalars(query.order_by(SHEET.c.sheet, SHEET.c.revision)):
            sheet: SpecSheet = from_text(body, SpecSheet)
            newest[sheet.sheet] = sheet
        return tuple(newest.values())

    def sheet_revisions(self, sheet: str = "") -> tuple[tuple[SpecSheet, KeptSheet], ...]:
        """Give every revision of one sheet, or of all, with its standing, sorted by name and revision."""
        query = select(SHEET).order_by(SHEET.c.sheet, SHEET.c.revision)
        if sheet:
            query = query.where(SHEET.c.sheet == sheet)
        return tuple(
            (from_text(row.body, SpecSheet), _standing(row)) for row in self._connection.execute(query)
        )

    def _add_sheet(self, row: SpecSheet, body: str, now: datetime, who: str, *, draft: bool) -> None:
        self._connection.execute(
            SHEET.insert().values(
                sheet=row.sheet,
                revision=row.revision,
                body=body,
                standing="draft" if draft else "in_force",
                put_by=who,
                approved_by="" if draft else who,
                put_at=now,
                approved_at=None if draft else now,
            )
        )
        if not draft:
            self._mark_sheet(row.sheet)
            if row.aliases:
                self.want_reread(now, who=who)

    def _mark_sheet(self, sheet: str) -> None:
        """Mark all days of the sheet's vehicles: the soak that a summary checks is on the sheet."""
        query = select(VEHICLE.c.vehicle_no).where(VEHICLE.c.spec_sheet == sheet)
        self._mark_all_days(self._connection.scalars(query).all())


def _standing(row: Any) -> KeptSheet:
    return KeptSheet(
        sheet=row.sheet,
        revision=row.revision,
        standing=row.standing,
        in_force_from=None if row.in_force_from is None else from_day(row.in_force_from),
        put_by=row.put_by,
        approved_by=row.approved_by,
        put_at=row.put_at,
        approved_at=row.approved_at,
    )


def _conflict(index: int, row: SpecSheet, body: str) -> Refusal:
    return Refusal(
        index=index,
        code="sheet-conflict",
        field="revision",
        detail=(
            f"Spec sheet {row.sheet} revision {row.revision} is kept with other content. "
            "A revision is never edited: send the change as the next revision."
        ),
        payload=body,
    )
