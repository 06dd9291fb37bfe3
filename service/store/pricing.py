"""The cost table: every revision is kept, and any earlier one can be read again."""

from collections.abc import Sequence
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import func, select

from ingest.batch import Refusal
from ingest.records import CostLine
from service.store.columns import from_day, to_day
from service.store.packing import to_text
from service.store.records import Records
from service.store.tables import COST
from service.store.unit import clean
from service.store.values import Cost, CostRevision, Loads

_LINE = tuple(one.name for one in fields(CostLine))


class Pricing(Records):
    """Costs of causes."""

    def put_costs(self, rows: Sequence[CostLine], now: datetime, *, who: str = "system") -> Loads:
        """Keep the costs of causes.

        All lines that one call changes make one new revision of the table. Causes that are not named keep
        their lines.

        Parameters
        ----------
        rows : sequence of CostLine
            The same figures again change nothing. The later of two lines for one cause wins.
        now : datetime
            Aware.
        who : str
            Who brings them.

        Returns
        -------
        Loads
            Refused: a line in another currency than the rest of the table (`mixed-currency`).
        """
        kept = {cost.cause: cost for cost in self.costs()}
        currency = _one_currency(rows, kept)
        revision = max((cost.revision for cost in kept.values()), default=0) + 1
        added = changed = same = 0
        refused = []
        coming: dict[str, CostLine] = {}
        for index, row in enumerate(rows):
            if row.currency != currency:
                refused.append(_mixed(index, row, currency))
                continue
            before = coming.get(row.cause) or kept.get(row.cause)
            if before is not None and _figures(before) == _figures(row):
                same += 1
                continue
            added += before is None
            changed += before is not None
            coming[row.cause] = row
        for row in coming.values():
            values = _figures(row) | {"price_date": to_day(row.price_date), "source": clean(row.source)}
            self._connection.execute(
                COST.insert().values(**values, revision=revision, put_by=who, put_at=now)
            )
        return Loads(added=added, changed=changed, same=same, refused=tuple(refused))

    def costs(self, *, as_of: datetime | None = None) -> tuple[Cost, ...]:
        """Give the newest line of each cause, sorted by cause.

        Parameters
        ----------
        as_of : datetime or None
            Leaves out what was brought later, aware; None for the table of now.
        """
        query = select(*(COST.c[name] for name in (*_LINE, "revision"))).order_by(
            COST.c.cause, COST.c.revision
        )
        if as_of is not None:
            query = query.where(COST.c.put_at <= as_of)
        newest: dict[str, Cost] = {}
        for row in self._connection.execute(query):
            newest[row.cause] = Cost(**dict(row._mapping) | {"price_date": from_day(row.price_date)})
        return tuple(newest.values())

    def cost_revisions(self) -> tuple[CostRevision, ...]:
        """Give every revision of the table, newest first."""
        query = (
            select(
                COST.c.revision,
                func.count().label("causes"),
                func.max(COST.c.put_by).label("put_by"),
                func.max(COST.c.put_at).label("put_at"),
                func.max(COST.c.currency).label("currency"),
                func.max(COST.c.source).label("source"),
            )
            .group_by(COST.c.revision)
            .order_by(COST.c.revision.desc())
        )
        return tuple(CostRevision(**row._mapping) for row in self._connection.execute(query))


def _figures(line: CostLine) -> dict[str, Any]:
    return {name: getattr(line, name) for name in _LINE}


def _one_currency(rows: Sequence[CostLine], kept: dict[str, Cost]) -> str:
    """Tell the table's currency: the kept lines' unless the new ones replace every one of them."""
    staying = [cost.currency for cause, cost in kept.items() if cause not in {row.cause for row in rows}]
    return next(iter([*staying, *(row.currency for row in rows)]), "")


def _mixed(index: int, row: CostLine, currency: str) -> Refusal:
    return Refusal(
        index=index,
        code="mixed-currency",
        field="currency",
        detail=f"The table is in {currency}, this line in {row.currency}. One table has one currency: "
        "to change it, give every cause's line anew.",
        payload=to_text(row),
    )
