"""A whole fleet's history from a seed: vehicles, weather, faults, readings, workshop and hidden truth.

Seeds 1 to 20 are for tuning. Seeds from 1001 on stay untouched until a final measurement.
"""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN
from service.demo.dirt import Sent, send
from service.demo.engine import quantise, read_engine
from service.demo.faults import NEVER, Fault, draw_faults, make_effects
from service.demo.nuisances import Circumstances, Reset, make_circumstances
from service.demo.roster import Roster, make_roster
from service.demo.strengths import Strengths, draw_strengths
from service.demo.timetable import Rows, make_rows, silent_spells
from service.demo.town import DEPOTS, Climate, make_climate
from service.demo.trims import make_trims, needed_trim
from service.demo.upkeep import Workshop, attend
from service.demo.work import Job, fault_jobs, other_jobs, reset_jobs

EPOCH: Final = date(1970, 1, 1)

LAST_DAY: Final = date(2026, 6, 28)
"""Last day of a benchmark history; fixed, so that a seed always gives the same bytes."""

PRACTICE_FAULTS: Final = 0.5
"""Share of the practice fleet's vehicles with a fault; chosen by us."""

DAY_US: Final = 86_400_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """One fleet's history; what a service may see is written by `write.py`, the rest is for the examiner.

    Parameters
    ----------
    seed : int
        Where it came from.
    first_day : int
        First day [days since 1970-01-01].
    days : int
        Length.
    strengths : Strengths
        How dirty it is.
    roster, rows, climate, sent
        Vehicles, timetable, weather and what the loggers sent.
    clean : float array of shape (n, P)
        Readings before logger and line; for the examiner.
    odometer_km : float array of shape (n,)
        Odometer [km].
    taken_us, offset_min : int arrays of shape (n,)
        Time taken [microseconds UTC] and local offset [min].
    faults : tuple of Fault
        Hidden from the service.
    circumstances : Circumstances
        Healthy movements; hidden.
    resets : tuple of Reset
        All losses of memory, repairs' included; hidden.
    jobs : tuple of Job
        Work records, by time.
    counts : dict of str to int
        How often each nuisance occurs.
    """

    seed: int
    first_day: int
    days: int
    strengths: Strengths
    roster: Roster
    rows: Rows
    climate: Climate
    sent: Sent
    clean: NDArray[np.float64]
    odometer_km: NDArray[np.float64]
    taken_us: NDArray[np.int64]
    offset_min: NDArray[np.int64]
    faults: tuple[Fault, ...]
    circumstances: Circumstances
    resets: tuple[Reset, ...]
    jobs: tuple[Job, ...]
    counts: dict[str, int]

    def registered_depot(self, vehicle: int) -> int:
        """Give the depot that the register names: the one of the last day."""
        return int(self.roster.depot[vehicle, -1])

    def mended(self) -> tuple[tuple[str, date], ...]:
        """Give for each fault that is mended its vehicle's number and the day of the repair."""
        return tuple(
            (self.roster.names[fault.vehicle], self.date_of(fault.end_day - 1))
            for fault in self.faults
            if fault.end_day < NEVER
        )

    def date_of(self, day: int) -> date:
        """Give the calendar date of a day of the history."""
        return EPOCH + timedelta(days=self.first_day + day)


def _calendar(first_day: int, days: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    dates = [EPOCH + timedelta(days=first_day + day) for day in range(days)]
    return (
        np.array([item.timetuple().tm_yday for item in dates]),
        np.array([item.weekday() for item in dates]),
    )


def _offsets(first_day: int, days: int) -> NDArray[np.int64]:
    """Give each depot's offset from UTC on each day at noon [min]; int array of shape (depots, days)."""
    noon = [
        datetime.combine(EPOCH + timedelta(days=first_day + day), datetime.min.time(), UTC)
        for day in range(days)
    ]
    offsets = []
    for depot in DEPOTS:
        zone = ZoneInfo(depot.time_zone)
        spans = [(item + timedelta(hours=18)).astimezone(zone).utcoffset() or timedelta(0) for item in noon]
        offsets.append([int(span.total_seconds() // 60) for span in spans])
    return np.array(offsets, dtype=np.int64)


def _reset_grid(resets: tuple[Reset, ...], vehicles: int, days: int) -> NDArray[np.bool_]:
    grid = np.zeros((vehicles, days), dtype=bool)
    for reset in resets:
        grid[reset.vehicle, min(reset.day, days - 1)] = True
    return grid


def _add_counters(
    rng: np.random.Generator,
    values: NDArray[np.float64],
    roster: Roster,
    rows: Rows,
    reset: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Write distance and warm-ups since the last clear; return the odometer [km] of shape (n,)."""
    vehicles, days = reset.shape
    daily = roster.km_per_day[:, None] * rng.uniform(0.4, 1.4, (vehicles, days))
    driven = np.cumsum(daily, axis=1)
    before: NDArray[np.float64] = np.asarray(rng.uniform(500, 30_000, vehicles))
    last = np.maximum.accumulate(np.where(reset, np.arange(days)[None, :], -1), axis=1)
    start = np.where(
        last >= 0, np.take_along_axis(driven - daily, np.maximum(last, 0), axis=1), -before[:, None]
    )
    part = np.clip((rows.hour - roster.start_hour[rows.vehicle]) / 10, 0, 1) * daily[rows.vehicle, rows.day]
    at = driven[rows.vehicle, rows.day] - daily[rows.vehicle, rows.day] + part
    since = at - start[rows.vehicle, rows.day]
    values[:, COLUMN["CLR_DIST"]] = np.clip(np.floor(since), 0, 65_535)
    starts = np.where(last >= 0, np.arange(days)[None, :] - last, 400)
    values[:, COLUMN["WARM_UPS"]] = np.minimum(np.floor(starts[rows.vehicle, rows.day] * 1.3), 255)
    return np.floor(roster.odometer_km[rows.vehicle] + at)


def _check_size(vehicles: int, days: int, per_day: float, fault_share: float) -> None:
    if vehicles < 1 or days < 90 or not 0 <= fault_share <= 1 or per_day <= 0:
        raise ValueError(
            f"need vehicles >= 1, days >= 90, per_day > 0 and 0 <= fault_share <= 1; "
            f"got {vehicles}, {days}, {per_day}, {fault_share}"
        )


def strengths_of(seed: int) -> Strengths:
    """Give how dirty the fleet of a seed is."""
    return draw_strengths(np.random.default_rng([seed, 0]))


def make_fleet(
    seed: int,
    *,
    vehicles: int = 200,
    days: int = 420,
    per_day: float = 1.6,
    fault_share: float = 1 / 3,
    last_day: date = LAST_DAY,
    strengths: Strengths | None = None,
    workshop: Workshop | None = None,
) -> History:
    """Simulate a fleet.

    Parameters
    ----------
    seed : int
        Same seed and arguments give the same bytes. 1 to 20 are for tuning; from 1001 on none is.
    vehicles, days : int
        Size; at least 90 days, so that a fault can follow a healthy stretch.
    per_day : float
        Mean snapshots per vehicle-day, silent spells apart.
    fault_share : float
        Share of vehicles with one planted fault, 0 to 1.
    last_day : date
        Last day of the history.
    strengths : Strengths, optional
        How dirty; drawn from the seed where not given.
    workshop : Workshop, optional
        Mends faults its own way; by default as the strengths say, after complaints only.

    Returns
    -------
    History
        Data, workshop and truth.

    Raises
    ------
    ValueError
        If the size or the share is not allowed.
    """
    _check_size(vehicles, days, per_day, fault_share)
    draw = {topic: np.random.default_rng([seed, topic]) for topic in range(1, 10)}
    kind = strengths_of(seed) if strengths is None else strengths
    first_day = (last_day - EPOCH).days - days + 1
    day_of_year, weekday = _calendar(first_day, days)
    climate = make_climate(draw[1], day_of_year, kind)
    roster = make_roster(draw[2], vehicles, days, kind)
    silent, spells = silent_spells(draw[3], vehicles, days, kind.gaps)
    rows = make_rows(draw[3], roster, climate, silent, weekday, per_day)
    faults = draw_faults(draw[4], roster, silent, fault_share, kind)
    if workshop is not None:
        faults = attend(np.random.default_rng([seed, 10]), faults, days, workshop)
    circumstances = make_circumstances(draw[5], roster, day_of_year, kind)
    written = np.random.default_rng([seed, 11]).random(len(faults)) >= kind.unwritten
    mended, cleared = fault_jobs(draw[6], faults, days, kind, written)
    resets = (*circumstances.resets, *cleared)
    effects = make_effects(faults, roster, days)
    reset = _reset_grid(resets, vehicles, days)
    needed = needed_trim(roster, effects, circumstances, climate, kind.temperature_slope)
    trims = make_trims(draw[7], roster, needed, reset, kind)
    values = read_engine(
        draw[8], roster, rows, climate,
        effects=effects, circumstances=circumstances, trims=trims, tails=kind.tails,
    )  # fmt: skip
    odometer = _add_counters(draw[6], values, roster, rows, reset)
    clean = quantise(values)
    sent = send(draw[9], clean, roster, rows, effects.switch[rows.vehicle, rows.day], kind, days=days)
    others = other_jobs(draw[6], vehicles, days, circumstances, kind)
    jobs = [*mended, *others, *reset_jobs(draw[6], resets)]
    offset = _offsets(first_day, days)[roster.depot[:, -1][rows.vehicle], rows.day]
    local = (first_day + rows.day) * DAY_US + np.round(rows.hour * 3600).astype(np.int64) * 1_000_000
    return History(
        seed=seed, first_day=first_day, days=days, strengths=kind, roster=roster, rows=rows, climate=climate,
        sent=sent, clean=clean, odometer_km=odometer, taken_us=local - offset * 60_000_000, offset_min=offset,
        faults=faults,
        circumstances=circumstances, resets=resets,
        jobs=tuple(sorted(jobs, key=lambda job: (job.day, job.hour, job.vehicle, job.kind))),
        counts=_count(roster, circumstances, resets, sent, climate, spells),
    )  # fmt: skip


def _count(
    roster: Roster,
    circumstances: Circumstances,
    resets: tuple[Reset, ...],
    sent: Sent,
    climate: Climate,
    spells: int,
) -> dict[str, int]:
    return {
        "blend_changes": len(circumstances.blend_changes),
        "bad_tanks": circumstances.bad_tanks,
        "cold_snaps": climate.cold_snaps,
        "resets_recorded": sum(reset.recorded for reset in resets),
        "resets_unrecorded": sum(not reset.recorded for reset in resets),
        "new_batteries": len(circumstances.new_batteries),
        "moved": int(roster.moved.sum()),
        "logger_swaps": int(sent.second_device.any() and (roster.swap_day < roster.depot.shape[1]).sum()),
        "regridded": int((roster.regridded & (roster.swap_day < roster.depot.shape[1])).sum()),
        "nameless": int(roster.nameless.sum()),
        "coarse": int(roster.coarse.sum()),
        "fahrenheit": int(roster.fahrenheit.sum()),
        "aliased": int(roster.aliased.sum()),
        "stateless": int(roster.stateless.sum()),
        "switchless": int(roster.switchless.sum()),
        "silent_spells": spells,
        "duplicates": len(sent.order) - len(sent.flaw),
        "late": sent.late,
        "unbelievable": int((sent.flaw > 0).sum()),
        "stuck_spells": sent.spells,
        "personal": int(sent.personal.sum()),
    }


def healthy_fleet(seed: int, *, vehicles: int = 500, weeks: int = 26, last_day: date = LAST_DAY) -> History:
    """Simulate a fleet without any planted fault, for counting false tickets."""
    return make_fleet(seed, vehicles=vehicles, days=7 * weeks, fault_share=0.0, last_day=last_day)


def practice_fleet(last_day: date, *, seed: int = 7, vehicles: int = 60, days: int = 420) -> History:
    """Simulate the practice fleet that `forelamp demo` shows, ending on a given day.

    Half its vehicles get a fault, so that a small fleet has something to show on any day, and its workshop
    looks after them.
    """
    kind = replace(
        draw_strengths(np.random.default_rng([seed, 0])), visits=0.25, failed_repair=0.1, unwritten=0.0
    )
    return make_fleet(
        seed, vehicles=vehicles, days=days, fault_share=PRACTICE_FAULTS, last_day=last_day,
        strengths=kind, workshop=Workshop(),
    )  # fmt: skip
