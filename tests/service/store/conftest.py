"""Made-up arrivals for the store's tests."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

import numpy as np
import pytest

from ingest.batch import Arrival, Batch
from ingest.parameters import CODES, COLUMN, STATES
from ingest.records import Vehicle
from service.store import Store

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
WARM_IDLE = STATES.index("warm_idle")

MakeArrival = Callable[..., Arrival]


def build_arrival(
    moments: Sequence[datetime],
    *,
    vehicles: Sequence[str] | str = "V-1",
    trim: Sequence[float] | float = 2.5,
    device: str = "L-1",
    given_id: Sequence[str] | None = None,
    state: int = WARM_IDLE,
    extra: str | None = None,
) -> Arrival:
    """Build an arrival of snapshots with trim, engine speed and voltage."""
    count = len(moments)
    values = np.full((count, len(CODES)), np.nan)
    values[:, COLUMN["LONGFT1"]] = trim
    values[:, COLUMN["RPM"]] = 700.25
    values[:, COLUMN["VPWR"]] = 14.1
    return Arrival(
        batch=Batch(
            index=np.arange(count, dtype=np.int64),
            vehicle=[vehicles] * count if isinstance(vehicles, str) else list(vehicles),
            taken_us=np.array(
                [int(moment.timestamp()) * 1_000_000 + moment.microsecond for moment in moments],
                dtype=np.int64,
            ),
            device=[device] * count,
            given_id=[""] * count if given_id is None else list(given_id),
            odometer_km=np.arange(1000.0, 1000.0 + count),
            claim=np.full(count, state, dtype=np.int8),
            state=np.full(count, state, dtype=np.int8),
            state_note=[""] * count,
            values=values,
            switches=np.tile(np.array([0, -1, 1], dtype=np.int8), (count, 1)),
            extra=[extra] * count,
        )
    )


@pytest.fixture
def make_arrival() -> MakeArrival:
    """Give the builder of arrivals."""
    return build_arrival


@pytest.fixture
def fleet(store: Store) -> Store:
    """Give a store with two registered vehicles, one of them in New York's time zone."""
    with store.begin() as work:
        work.put_vehicles(
            [
                Vehicle(vehicle="V-1", spec_sheet="HARROW-24", depot="North"),
                Vehicle(vehicle="V-2", time_zone="America/New_York"),
            ],
            NOW,
        )
        work.commit()
    return store
