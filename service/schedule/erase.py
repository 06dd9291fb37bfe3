"""Erasing a vehicle: in the store, and in the digests that lie in the data directory."""

from datetime import datetime
from pathlib import Path

from service.schedule.outbox import FOLDER, rewrite_digests
from service.store import Erasure, Store
from service.store.pseudonym import Pseudonym


def erase(store: Store, vehicle: str, *, home: Path, now: datetime, who: str) -> Erasure:
    """Erase a vehicle; nothing of it is left but what was counted.

    Parameters
    ----------
    store : Store
        Open and migrated.
    vehicle : str
        The fleet's own number.
    home : Path
        The data directory.
    now : datetime
        Aware.
    who : str
        Who wants it; written into the log, which does not say which vehicle it was.

    Raises
    ------
    NotFound
        Nobody registered it.
    OSError
        A digest cannot be rewritten; then nothing was erased.
    """
    with store.begin() as work:
        vin = work.vehicle(vehicle).vin
        done = work.erase_vehicle(vehicle, now, who=who)
        rows = ", ".join(f"{count} {name}" for name, count in sorted(done.rows.items()) if count)
        work.log_event(at=now, who=who, what="vehicle erased", subject=done.name, after=rows)
        hide = Pseudonym(vehicle, vin, done.name)
        rewrite_digests(home / FOLDER, hide.text)
        work.commit()
    return done
