"""Cells into an arrival: names resolved, units converted, believed, state judged, refused with reasons."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.batch import Arrival, Batch, Refusal
from ingest.belief import count_ends, find_repeats, find_time_faults
from ingest.cells import Cells, Payloads, show_cell
from ingest.meaning import Context, Faults, Meaning, explain
from ingest.parameters import NO_STATE, STATES
from ingest.placing import place_values
from ingest.states import judge
from ingest.text import write_json
from ingest.times import read_times
from ingest.vacuum import settle_vacuum

LONGEST_NAME: Final = 200
"""Most characters of a vehicle number, device or id; chosen by us: they become keys of the store."""

MOST_VALUES: Final = 500
"""Most values of one snapshot; chosen by us: ten times what the format names."""

LATEST_ODOMETER_KM: Final = 10_000_000.0
"""Highest odometer reading believed [km]; chosen by us: more is another unit or a broken reading."""


def assemble(cells: Cells, context: Context) -> Arrival:
    """Turn cells into an arrival.

    Parameters
    ----------
    cells : Cells
        What a format was read into.
    context : Context
        Time of arrival, aliases, defaults.

    Returns
    -------
    Arrival
        Every item is in exactly one place: a row of the batch, a refusal, or counted under the note
        ``duplicate-in-batch``.
    """
    faults = Faults(waive=context.waive)
    notes: Counter[str] = Counter(cells.notes)
    for row, code, name, detail in cells.faults:
        faults.reject(row, code, name, detail)
    vehicle = _fill_names(cells, context, faults, notes)
    device = [name or context.device for name in cells.device]
    _check_texts(cells, device, faults)
    times = read_times(cells.taken_at)
    _note_times(cells, times.faults, faults)
    notes["leap-second"] += times.leap_seconds
    for row, code, detail in find_time_faults(times.us, context.now_us):
        if row not in times.faults:
            faults.quarantine(row, code, "taken_at", detail)
    claim = _read_claims(cells.state, faults)
    meaning = explain(cells, vehicle, device, context, faults)
    notes.update(settle_vacuum(cells, meaning, vehicle, context.kept))
    values = place_values(cells, meaning, faults)
    _check_amounts(cells, meaning, faults)
    batch = Batch(
        index=cells.index,
        vehicle=vehicle,
        taken_us=times.us,
        device=device,
        given_id=cells.given_id,
        odometer_km=cells.odometer_km,
        claim=claim,
        state=claim,
        state_note=[""] * len(cells),
        values=values,
        switches=cells.switches,
        extra=_write_extra(cells, meaning),
    )
    return _part(cells, batch, meaning, faults, notes)


def _fill_names(cells: Cells, context: Context, faults: Faults, notes: Counter[str]) -> list[str]:
    vehicle = [name or context.vehicle for name in cells.vehicle]
    for row, name in enumerate(vehicle):
        if not name:
            detail = "vehicle is missing: the fleet's own number, as text."
            faults.reject(row, "no-vehicle", "vehicle", detail)
    if context.vehicle:
        notes["other-vehicle-named"] += sum(name != context.vehicle for name in vehicle)
    return vehicle


def _check_texts(cells: Cells, device: list[str], faults: Faults) -> None:
    for key, texts in (("vehicle", cells.vehicle), ("device", device), ("id", cells.given_id)):
        good = {text for text in set(texts) if len(text) <= LONGEST_NAME and text.isprintable()}
        if len(good) == len(set(texts)):
            continue
        for row, text in enumerate(texts):
            if text not in good:
                detail = f"{key} must be one line of at most {LONGEST_NAME} printable characters."
                faults.reject(row, "bad-name", key, detail)


def _note_times(cells: Cells, found: Mapping[int, Exception], faults: Faults) -> None:
    for row, fault in found.items():
        if cells.taken_at[row]:
            faults.reject(row, getattr(fault, "code", "bad-time"), "taken_at", str(fault))
        else:
            detail = "taken_at is missing: a time with offset, such as 2031-03-04T06:12:09-05:00."
            faults.reject(row, "no-time", "taken_at", detail)


def _read_claims(states: list[str], faults: Faults) -> NDArray[np.int8]:
    places = {"": NO_STATE, **{name: place for place, name in enumerate(STATES)}}
    claims = [places.get(name) for name in states]
    if None in claims:
        for row, claim in enumerate(claims):
            if claim is None:
                detail = f"state must be one of {', '.join(STATES)}, was {states[row][:40]!r}."
                faults.quarantine(row, "unknown-state", "state", detail)
    return np.array([NO_STATE if claim is None else claim for claim in claims], dtype=np.int8)


def _check_amounts(cells: Cells, meaning: Meaning, faults: Faults) -> None:
    rows = cells.row
    if meaning.personal:
        rows = rows[~np.isin(cells.name, list(meaning.personal))]
    amounts = np.bincount(rows, minlength=len(cells))
    odometer = cells.odometer_km
    for row in np.flatnonzero((amounts == 0) & np.isnan(odometer)).tolist():
        faults.reject(row, "no-values", "values", "The snapshot holds no value at all.")
    for row in np.flatnonzero(amounts > MOST_VALUES).tolist():
        detail = f"A snapshot has at most {MOST_VALUES} values, this one {amounts[row]}."
        faults.reject(row, "too-many-values", "values", detail)
    for row in np.flatnonzero((odometer < 0) | (odometer > LATEST_ODOMETER_KM)).tolist():
        detail = f"odometer_km must be 0 to {LATEST_ODOMETER_KM:,.0f}, was {odometer[row]:g}."
        faults.quarantine(row, "out-of-range", "odometer_km", detail)


def _write_extra(cells: Cells, meaning: Meaning) -> list[str | None]:
    """Keep what has no column: unknown names, values in another unit as they came, keys beside the values."""
    rows: dict[int, dict[str, object]] = {row: dict(found) for row, found in cells.other.items()}
    lone = (meaning.column < 0) | meaning.foreign | meaning.aside
    for cell in np.flatnonzero(lone).tolist():
        place = int(cells.name[cell])
        if place not in meaning.personal:
            rows.setdefault(int(cells.row[cell]), {})[cells.names[place]] = show_cell(cells, cell)
    extra: list[str | None] = [None] * len(cells)
    for row, found in rows.items():
        extra[row] = write_json(found)
    return extra


def _part(cells: Cells, batch: Batch, meaning: Meaning, faults: Faults, notes: Counter[str]) -> Arrival:
    """Part the rows into believed, repeated, quarantined and rejected ones."""
    refused = faults.rejected.keys() | faults.quarantined.keys()
    repeated = _find_duplicates(batch, refused, faults)
    notes["duplicate-in-batch"] += len(repeated)
    out = np.zeros(len(batch), dtype=np.bool_)
    out[list(faults.rejected.keys() | faults.quarantined.keys() | repeated)] = True
    payloads = Payloads(cells, meaning.personal)
    rejected = [_refuse(batch, payloads, row, fault) for row, fault in faults.rejected.items()]
    quarantined = [
        _refuse(batch, payloads, row, fault)
        for row, fault in faults.quarantined.items()
        if row not in faults.rejected
    ]
    kept = _judge(_take(batch, np.flatnonzero(~out)) if out.any() else batch)
    notes["at-sensor-end"] += count_ends(kept.values)
    notes.update(note for note in kept.state_note if note)
    personal = int(np.isin(cells.name, list(meaning.personal)).sum()) if meaning.personal else 0
    return Arrival(
        batch=kept,
        rejected=_in_order([*cells.rejected, *rejected]),
        quarantined=_in_order(quarantined),
        unknown_names=_count_unknown(cells, meaning),
        personal_fields=cells.personal_fields + personal,
        notes={code: count for code, count in notes.items() if count},
    )


def _in_order(refusals: list[Refusal]) -> tuple[Refusal, ...]:
    return tuple(sorted(refusals, key=lambda refusal: refusal.index))


def _refuse(batch: Batch, payloads: Payloads, row: int, fault: tuple[str, str, str]) -> Refusal:
    code, name, detail = fault
    return Refusal(
        index=int(batch.index[row]),
        code=code,
        field=name,
        detail=detail,
        payload=payloads.write(row),
        vehicle=batch.vehicle[row],
    )


def _find_duplicates(batch: Batch, refused: set[int], faults: Faults) -> set[int]:
    """Find rows that say again what an earlier row said; what contradicts one goes to quarantine."""
    rows = [row for row in range(len(batch)) if row not in refused] if refused else range(len(batch))
    taken = batch.taken_us.tolist()
    identities: list[object] = [
        ("id", batch.given_id[row])
        if batch.given_id[row]
        else (batch.vehicle[row], taken[row], batch.device[row])
        for row in rows
    ]
    repeated: set[int] = set()
    for place, first_place in find_repeats(identities):
        row, first = rows[place], rows[first_place]
        if _are_alike(batch, row, first):
            repeated.add(row)
        else:
            detail = f"Item {batch.index[first]} names the same snapshot with other content; it was kept."
            faults.quarantine(row, "conflicting-repeat", "", detail)
            repeated.discard(row)
    return repeated


def _are_alike(batch: Batch, row: int, other: int) -> bool:
    return (
        batch.vehicle[row] == batch.vehicle[other]
        and batch.taken_us[row] == batch.taken_us[other]
        and batch.device[row] == batch.device[other]
        and batch.claim[row] == batch.claim[other]
        and batch.extra[row] == batch.extra[other]
        and bool(np.array_equal(batch.switches[row], batch.switches[other]))
        and bool(np.array_equal(batch.odometer_km[[row]], batch.odometer_km[[other]], equal_nan=True))
        and bool(np.array_equal(batch.values[row], batch.values[other], equal_nan=True))
    )


def _take(batch: Batch, rows: NDArray[np.intp]) -> Batch:
    places = rows.tolist()
    return Batch(
        index=batch.index[rows],
        vehicle=[batch.vehicle[row] for row in places],
        taken_us=batch.taken_us[rows],
        device=[batch.device[row] for row in places],
        given_id=[batch.given_id[row] for row in places],
        odometer_km=batch.odometer_km[rows],
        claim=batch.claim[rows],
        state=batch.state[rows],
        state_note=[batch.state_note[row] for row in places],
        values=batch.values[rows],
        switches=batch.switches[rows],
        extra=[batch.extra[row] for row in places],
    )


def _judge(batch: Batch) -> Batch:
    state, notes = judge(batch.values, batch.switches, batch.claim)
    return Batch(
        index=batch.index,
        vehicle=batch.vehicle,
        taken_us=batch.taken_us,
        device=batch.device,
        given_id=batch.given_id,
        odometer_km=batch.odometer_km,
        claim=batch.claim,
        state=state,
        state_note=notes,
        values=batch.values,
        switches=batch.switches,
        extra=batch.extra,
    )


def _count_unknown(cells: Cells, meaning: Meaning) -> dict[str, int]:
    lone = np.bincount(cells.name[meaning.column < 0], minlength=len(cells.names))
    found = Counter(
        {
            cells.names[place]: int(lone[place])
            for place in np.flatnonzero(lone).tolist()
            if place not in meaning.personal
        }
    )
    for keys in cells.other.values():
        found.update(list(keys))
    return dict(found)
