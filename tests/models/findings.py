"""Findings made by hand, for what only reads them."""

from typing import Final

from ingest.parameters import CAUSES
from models.findings import Finding, SeriesReading

LEAD: Final = SeriesReading(
    series="LONGFT1@warm_idle",
    parameter="LONGFT1",
    state="warm_idle",
    unit="%",
    direction="up",
    baseline=1.0,
    level=7.0,
    baseline_from=19_600,
    baseline_to=19_680,
    baseline_days=60,
    recent_days=20,
    noise=1.2,
    drift_per_week=0.5,
    drift_low=0.3,
    drift_high=0.7,
    strength=6.0,
    segment_from=19_600,
)


def drift(vehicle: str, rule: str = "drift") -> Finding:
    """Give a drift of one vehicle that passes the watch level."""
    return Finding(
        vehicle=vehicle,
        group="mixture",
        tier="watch",
        rule=rule,
        method="test 1",
        score=8.0,
        ticket_level=9.4,
        watch_level=7.1,
        onset_day=19_680,
        causes=tuple((code, 1.0 if place == 0 else 0.0) for place, code in enumerate(CAUSES)),
        lead=LEAD,
        series=(LEAD,),
        probability_30d=0.2,
        probability_crossing=0.2,
        probability_fault=0.3,
    )
