"""A reading and a finding with sensible fields, for tests of what is made of them."""

from dataclasses import replace
from typing import Any

from models.findings import Finding, SeriesReading


def make_reading(day: int, **changes: Any) -> SeriesReading:
    """Describe a fuel trim that by a day, counted from 1970-01-01, has risen towards its limit."""
    plain = SeriesReading(
        series="LONGFT1@warm_idle",
        parameter="LONGFT1",
        state="warm_idle",
        unit="%",
        direction="up",
        baseline=1.0,
        level=7.0,
        baseline_from=day - 90,
        baseline_to=day - 30,
        baseline_days=40,
        recent_days=20,
        noise=1.5,
        drift_per_week=0.8,
        drift_low=0.5,
        drift_high=1.1,
        strength=6.0,
        limit_low=-8.0,
        limit_high=8.0,
        limit_margin=0.75,
        reaches_limit_on=day + 20,
        reaches_limit_low=day + 12,
        reaches_limit_high=day + 60,
        peers_low=-2.0,
        peers_high=3.0,
        peers=11,
        segment_from=day - 90,
    )
    return replace(plain, **changes)


def make_finding(day: int, **changes: Any) -> Finding:
    """Describe a suspicion of unmetered air that on a day stands past the ticket level."""
    lead = changes.pop("lead", None) or make_reading(day)
    plain = Finding(
        vehicle="V-1",
        group="mixture",
        tier="ticket",
        rule="drift",
        method="a method 1",
        score=15.0,
        ticket_level=12.0,
        watch_level=8.0,
        onset_day=day - 25,
        causes=(("unmetered_air", 0.6), ("fuel_delivery_low", 0.3), ("unknown", 0.1)),
        lead=lead,
        series=(lead,),
        quiet=("VPWR@warm_idle", "ECT-IAT@koeo_soak"),
        probability_30d=0.4,
        probability_crossing=0.5,
        probability_fault=0.8,
    )
    return replace(plain, **changes)
