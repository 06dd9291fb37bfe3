"""Retention: removing what is older than the fleet keeps it, by whole calendar months.

Running it twice removes nothing more; a late run goes by the day on which it runs.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.schedule.engine import Engine
from service.settings import Settings
from service.store import Lines, Portion, Store, Work
from service.tickets.words import to_day


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """How long each class is kept [months]; 0 for ever."""

    readings: int = 25
    trends: int = 84
    tickets: int = 84


def keep_of(settings: Settings) -> Keep:
    """Give how long the settings keep each class."""
    return Keep(
        readings=settings.keep_readings_months,
        trends=settings.keep_trends_months,
        tickets=settings.keep_tickets_months,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Retained:
    """What a run of retention removed, or would.

    Parameters
    ----------
    lines : Lines
        First day kept of each class.
    portions : tuple of Portion
        What goes or went, by class, table and month.
    held : tuple of Portion
        What is as old and stays because of holds.
    removed : bool
        Whether it was removed, or only counted.
    """

    lines: Lines
    portions: tuple[Portion, ...]
    held: tuple[Portion, ...]
    removed: bool

    def counts(self) -> dict[str, int]:
        """Sum it up for the ledger: rows by table."""
        word = "removed" if self.removed else "would_remove"
        found: Counter[str] = Counter()
        for one in self.portions:
            found[f"{word}_{one.part}"] += one.rows
        found["held_rows"] = sum(one.rows for one in self.held)
        return dict(found)


def lines_of(keep: Keep, now: datetime, zone: str) -> Lines:
    """Give the first day kept of each class: the first of a month in the fleet's zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> lines = lines_of(Keep(readings=25, trends=84), datetime(2031, 3, 4, tzinfo=UTC), "UTC")
    >>> date.fromordinal(lines.readings + date(1970, 1, 1).toordinal()).isoformat()
    '2029-02-01'
    """
    today = now.astimezone(ZoneInfo(zone)).date()
    return Lines(
        readings=_first_day(today, keep.readings),
        trends=_first_day(today, keep.trends),
        tickets=_first_day(today, keep.tickets),
    )


def look(work: Work, lines: Lines) -> Retained:
    """Count what would be removed; nothing is changed."""
    return Retained(
        lines=lines,
        portions=work.removable(lines),
        held=work.removable(lines, held=True),
        removed=False,
    )


def retain(  # each is one choice of the caller
    store: Store,
    lines: Lines,
    *,
    now: datetime,
    who: str,
    engine: Engine,
    told: Callable[[Portion], None] | None = None,
) -> Retained:
    """Remove what lies before the lines, but for vehicles on hold.

    Parameters
    ----------
    store : Store
        Open and migrated.
    lines : Lines
        First day kept of each class.
    now : datetime
        Aware.
    who : str
        Who wants it; written into the log.
    engine : Engine
        The models: what is touched is folded first, so that every summary is whole before its readings go.
    told : callable or None
        Called after each month of a table, for progress.

    Returns
    -------
    Retained
        What went.
    """
    store.reread_all(now)
    store.fold_all(engine.summarise)
    with store.begin() as work:
        if lines.readings is not None:
            work.draw_line(lines.readings)
        found = look(work, lines)
        work.commit()
    done = []
    for portion in found.portions:
        with store.begin() as work:  # one transaction a month: senders wait for none of the others
            removal = work.remove(portion, now, who=who)
            work.commit()
        if removal is not None:
            done.append(removal.portion)
            if told is not None:
                told(removal.portion)
    result = Retained(lines=lines, portions=tuple(done), held=found.held, removed=True)
    if done:
        with store.begin() as work:
            rows = ", ".join(f"{count} {name}" for name, count in sorted(result.counts().items()) if count)
            work.log_event(at=now, who=who, what="retention", subject="fleet", after=rows)
            work.commit()
    return result


def _first_day(today: date, months: int) -> int | None:
    if not months:
        return None
    count = today.year * 12 + today.month - 1 - months
    return to_day(date(count // 12, count % 12 + 1, 1))
