"""Rows of the lists as they go over the wire: the contract's names, dates as dates, times with offset."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, Final

import msgspec

from ingest.parameters import FUEL_SYSTEM, PARAMETERS
from ingest.records import Limit, SpecSheet
from models.findings import Finding, SeriesReading, Trend
from service.store import KeptSnapshot
from service.web.query import EPOCH

CONTRACT_NAMES: Final[Mapping[str, str]] = {"soak_gap_degc": "soak_gap_degC"}
"""Fields of a sheet whose name in the contract is not the one inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SnapshotRow:
    """One stored snapshot in the shape in which it could be sent again, and what the service made of it."""

    vehicle: str
    taken_at: datetime
    received_at: datetime
    state: str
    claimed_state: str
    state_note: str
    device: str
    id: str
    odometer_km: float | None
    values: dict[str, float | str | bool]
    switches: dict[str, bool]
    further: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendRow:
    """One followed series of one vehicle as the evaluation of `assessed_on` saw it; quantities in `unit`."""

    vehicle: str
    assessed_on: date
    series: str
    parameter: str
    state: str
    unit: str
    direction: str
    baseline: float
    level: float
    baseline_from: date
    baseline_to: date
    baseline_days: int
    recent_days: int
    noise: float
    drift_per_week: float
    drift_low: float
    drift_high: float
    strength: float
    limit_low: float | None
    limit_high: float | None
    outside: bool
    reaches_limit_on: date | None
    reaches_limit_low: date | None
    reaches_limit_high: date | None
    peers_low: float | None
    peers_high: float | None
    peers: int
    segment_from: date
    segment_reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskRow:
    """How one vehicle stood at the evaluation of `assessed_on`, with its gravest suspicion if there is one.

    Probabilities are null where nothing is suspected: nothing was stated, which is not the same as zero.
    """

    vehicle: str
    assessed_on: date
    word: str
    reason: str
    last_reading_on: date | None
    readings_28d: int
    findings: int
    group: str
    tier: str
    held_back: str
    probability_30d: float | None
    probability_crossing: float | None
    probability_fault: float | None


def day_date(day: int) -> date:
    """Turn days since 1970-01-01 into a date."""
    return EPOCH + timedelta(days=day)


def _date(day: int | None) -> date | None:
    return None if day is None else day_date(day)


def trend_row(trend: Trend, assessed_day: int) -> TrendRow:
    """Put one trend into the shape of the wire."""
    reading = trend.reading
    days: dict[str, Any] = {
        name: _date(getattr(reading, name))
        for name in ("reaches_limit_on", "reaches_limit_low", "reaches_limit_high")
    }
    own: dict[str, Any] = {
        name: getattr(reading, name)
        for name in SeriesReading.__dataclass_fields__
        if name not in {*days, "baseline_from", "baseline_to", "segment_from"}
    }
    return TrendRow(
        vehicle=trend.vehicle,
        assessed_on=day_date(assessed_day),
        baseline_from=day_date(reading.baseline_from),
        baseline_to=day_date(reading.baseline_to),
        segment_from=day_date(reading.segment_from),
        **days,
        **own,
    )


def snapshot_row(kept: KeptSnapshot) -> SnapshotRow:
    """Put one stored snapshot into the shape of the wire; codes and flags in words, not numbers."""
    return SnapshotRow(
        vehicle=kept.vehicle,
        taken_at=kept.taken_at,
        received_at=kept.received_at,
        state=kept.state,
        claimed_state=kept.claim,
        state_note=kept.state_note,
        device=kept.device,
        id=kept.given_id,
        odometer_km=kept.odometer_km,
        values={code: _spoken(code, value) for code, value in kept.values.items()},
        switches=dict(kept.switches),
        further=msgspec.json.decode(kept.extra) if kept.extra else {},
    )


def _spoken(code: str, value: float) -> float | str | bool:
    kind = PARAMETERS[code].kind
    if kind == "code":
        return FUEL_SYSTEM[int(value)]
    return bool(value) if kind == "flag" else value


def sheet_row(sheet: SpecSheet) -> dict[str, Any]:
    """Write a spec sheet as the exchange contract does; what the sheet does not say is left out.

    Returns
    -------
    dict
        Loading it again changes nothing.
    """
    written: dict[str, Any] = {}
    for name in SpecSheet.__dataclass_fields__:
        value = getattr(sheet, name)
        if name not in {"limits", "aliases", "further"} and value is not None:
            written[CONTRACT_NAMES.get(name, name)] = value
    written["limits"] = [_limit(limit) for limit in sheet.limits]
    written["aliases"] = dict(sheet.aliases)
    return {**sheet.further, **written}


def _limit(limit: Limit) -> dict[str, Any]:
    written: dict[str, Any] = {"parameter": limit.parameter, "state": limit.state}
    if limit.low is not None:
        written["low"] = limit.low
    if limit.high is not None:
        written["high"] = limit.high
    written["unit"] = PARAMETERS[limit.parameter].unit
    return written


def gravest(findings: tuple[Finding, ...]) -> Finding | None:
    """Pick the finding that speaks loudest: those that may become tickets first, then by probability."""
    ranked = sorted(
        findings,
        key=lambda one: (one.tier == "ticket" and not one.held_back, one.probability_30d),
        reverse=True,
    )
    return ranked[0] if ranked else None
