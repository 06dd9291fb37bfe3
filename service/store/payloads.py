"""A believed row written back as a snapshot in the form in which snapshots are sent."""

import math
from typing import Any

import orjson

from ingest.batch import Batch
from ingest.parameters import CODES, FUEL_SYSTEM, NO_STATE, PARAMETERS, STATES, SWITCHES
from service.store.columns import from_us


def snapshot_payload(batch: Batch, place: int) -> str:
    """Write row `place` as JSON that can be read again, so that nothing is lost while it is held."""
    snapshot: dict[str, Any] = {
        "vehicle": batch.vehicle[place],
        "taken_at": from_us(int(batch.taken_us[place])).isoformat(),
    }
    if int(batch.claim[place]) != NO_STATE:
        snapshot["state"] = STATES[int(batch.claim[place])]
    if batch.device[place]:
        snapshot["device"] = batch.device[place]
    if batch.given_id[place]:
        snapshot["id"] = batch.given_id[place]
    if not math.isnan(batch.odometer_km[place]):
        snapshot["odometer_km"] = float(batch.odometer_km[place])
    snapshot["values"] = _values(batch, place)
    snapshot["switches"] = {
        name: bool(on) for name, on in zip(SWITCHES, batch.switches[place].tolist(), strict=True) if on >= 0
    }
    return orjson.dumps(snapshot).decode()


def _values(batch: Batch, place: int) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for code, number in zip(CODES, batch.values[place].tolist(), strict=True):
        if math.isnan(number):
            continue
        kind = PARAMETERS[code].kind
        values[code] = (
            FUEL_SYSTEM[int(number)] if kind == "code" else bool(number) if kind == "flag" else number
        )
    extra = batch.extra[place]
    if extra is not None:
        # What came in another unit goes back as it came, and is converted the same way again.
        values |= orjson.loads(extra)
    return values
