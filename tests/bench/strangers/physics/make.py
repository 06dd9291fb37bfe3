"""A fleet from a seed: vehicles and their days, planted faults, what the workshop wrote down, the files."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import run
from tests.bench.strangers.physics.faults import PARTS, Fault, plant
from tests.bench.strangers.physics.files import Taken, name_of, write_files, write_table
from tests.bench.strangers.physics.loggers import read
from tests.bench.strangers.physics.moments import COLD, IDLE, Integers, draw_state, draw_times, learn, moment
from tests.bench.strangers.physics.vehicles import Columns, draw_days, draw_vehicles
from tests.bench.strangers.physics.weather import DEPOTS, draw_weather

Generator = np.random.Generator

_FIRST_MONDAY: Final = date(2023, 1, 2)
_WARMEST_HOUR: Final = 15.0
_BELIEVED: Final = 0.3
"""Share of a false load from which its switch reads on."""


class Job(NamedTuple):
    """One entry of the workshop; the day is the first that shows it."""

    vehicle: int
    day: int
    kind: str
    cause: str = ""
    notes: str = ""
    parts_cost: int | str = ""
    labour_hours: float | str = ""


@dataclass(slots=True, kw_only=True, eq=False)
class Book:
    """What the workshop did; arrays of shape (V, days).

    Parameters
    ----------
    resets, counters : bool array
        Days on which learned trims, and counters, begin anew.
    after : float array
        What trims are off by since new parts came in [1].
    jobs : list of Job
        Entries, those beyond the history's end left out.
    """

    days: int
    resets: NDArray[np.bool_]
    counters: NDArray[np.bool_]
    after: NDArray[np.float64]
    jobs: list[Job] = field(default_factory=list)

    def put(self, job: Job) -> None:
        """Write an entry down."""
        if job.day < self.days:
            self.jobs.append(job)


def _everyday(rng: Generator, book: Book) -> None:
    """Draw what sound vehicles have done: batteries off, complaints without a fault, other work."""
    days = book.days
    for v in range(len(book.resets)):
        for _ in range(rng.poisson(0.4 * days / 365)):
            day = int(rng.integers(5, days))
            book.resets[v, day] = book.counters[v, day] = True
            if rng.random() < 0.5:
                book.put(Job(v, day, "memory_cleared", notes="battery off for other work"))
        for _ in range(rng.poisson(0.15 * days / 365)):
            book.counters[v, int(rng.integers(5, days))] = True
        if rng.random() < 0.06:
            day = int(rng.integers(20, days))
            book.put(Job(v, day, "complaint", notes="hard to say, felt rough once"))
            book.put(Job(v, day + int(rng.integers(1, 9)), "no_fault_found", labour_hours="0.7"))
        if rng.random() < 0.12:
            book.put(Job(v, int(rng.integers(10, days)), "note", notes="tyres and brakes checked"))


def _repairs(rng: Generator, book: Book, faults: list[Fault], luck: list[NDArray[np.float64]]) -> None:
    """Write complaints and repairs down; some causes stay untold, some memories are cleared."""
    for fault, (told, cost, hours, cleared) in zip(faults, luck, strict=True):
        v = fault.vehicle
        book.put(Job(v, fault.complaint, "complaint", notes="driver reports trouble"))
        if fault.repaired is None:
            continue
        day, is_battery = fault.repaired, fault.cause == "battery_ageing"
        cause = fault.cause if told < 0.8 else "unknown" if told < 0.9 else ""
        book.put(Job(v, day, "repair", cause, "", int(40 + 300 * cost), round(0.5 + 3 * hours, 1)))
        if is_battery:
            book.put(Job(v, day, "battery_replaced"))
        if cleared < 0.7 or is_battery:
            book.resets[v, day] = book.counters[v, day] = True
            if cleared < 0.4:
                book.put(Job(v, day, "memory_cleared"))
        book.after[v, day:] += 0.007 * rng.standard_normal()  # new parts are not the old ones


def _counters(rng: Generator, own: Columns, day: Columns, book: Book) -> Columns:
    """Count distance and warm-ups since the memory was cleared; arrays of shape (V, days)."""
    count = len(book.counters)
    odometer = own["odo"][:, None] + np.cumsum(own["km"][:, None] * day["use"], 1)
    since = odometer - own["odo"][:, None] + rng.uniform(500, 15000, count)[:, None]
    warm = np.cumsum(day["use"] * 1.4, 1) + rng.uniform(20, 200, count)[:, None]
    for v in range(count):
        for cleared in np.flatnonzero(book.counters[v]):
            since[v, cleared:] = odometer[v, cleared:] - odometer[v, cleared]
            warm[v, cleared:] -= warm[v, cleared]
    return {"odometer": odometer, "CLR_DIST": since, "WARM_UPS": np.floor(warm)}


def _take(
    rng: Generator,
    own: Columns,
    day: Columns,
    fault: tuple[Columns, NDArray[np.float64]],
    learned: NDArray[np.float64],
    depot: Integers,
    times: tuple[Integers, Integers, Integers, NDArray[np.float64]],
) -> Taken:
    """Run the engines at the moments of the snapshots and read them; counters are left to the caller."""
    v, d, state, hour = times
    draw = {name: rng.standard_normal(len(v)) for name in ("demand", "load", "heat", "air", "purge", "cmd")}
    draw["uniform"] = rng.random(len(v))
    swing = np.array([place.day_swing for place in DEPOTS])[depot[v, d]]
    warmth = day["t"][v, d] + swing * np.cos(2 * np.pi * (hour - _WARMEST_HOUR) / 24)
    idle = (state == IDLE) | (state == COLD)
    doing, speed = draw_state(rng, own, warmth, (v, state, hour))
    parts, severity = fault
    clock = (idle, hour, swing, _WARMEST_HOUR)
    x = moment(own, day, parts, severity, (v, d), clock, draw, doing)
    values = read(rng, own, day["crank"], learned, (v, d, state), (x, run(x)), speed)
    false_on, steering = x.false_load > _BELIEVED, parts["load_which"][v] > 0
    switches = {
        "ac": doing["ac"] | (false_on & ~steering),
        "power_steering": doing["steer"] | (false_on & steering),
        "in_gear": doing["gear"],
    }
    return Taken(
        vehicle=v, day=d, state=state, hour=hour, odometer_km=np.zeros(0), values=values, switches=switches
    )


def _truth_and_work(folder: Path, start: date, depot: Integers, faults: list[Fault], jobs: list[Job]) -> None:
    def on(day: int) -> str:
        return (start + timedelta(days=int(day))).isoformat()

    rows = [
        [
            name_of(one.vehicle), one.cause, one.shape, on(one.onset), on(one.complaint),
            "" if one.repaired is None else on(one.repaired - 1), one.days,
        ]
        for one in sorted(faults, key=lambda one: one.vehicle)
    ]  # fmt: skip
    write_table(folder / "truth.csv", "vehicle cause shape onset complaint repaired days", rows)
    order = {"complaint": 0, "repair": 1}
    # Work is done on the evening before the day that shows it; complaints come at noon.
    done = [job if job.kind == "complaint" else job._replace(day=job.day - 1) for job in jobs]
    entries = []
    for job in sorted(done, key=lambda job: (job.day, job.vehicle, order.get(job.kind, 2))):
        at = datetime.combine(
            start + timedelta(days=job.day),
            time(12 if job.kind == "complaint" else 20, 15),
            ZoneInfo(DEPOTS[depot[job.vehicle, job.day]].zone),
        )
        entries.append(
            [
                name_of(job.vehicle), at.isoformat(), job.kind, job.cause, "", job.parts_cost,
                job.labour_hours, job.notes,
            ]
        )  # fmt: skip
    head = "vehicle done_at kind cause ticket parts_cost labour_hours notes"
    write_table(folder / "work.csv", head, entries)


def write(folder: Path, seed: int, *, vehicles: int, days: int, healthy: bool) -> date:
    """Write the files of a fleet; give the first day of its history.

    Parameters
    ----------
    folder : Path
        Where the files go; it is there and empty.
    seed : int
        The same seed gives the same files.
    vehicles, days : int
        Size of the fleet and length of its history, at least 120 days.
    healthy : bool
        Leaves the faults out; everything else stays.
    """
    rng, for_faults, for_readings, for_files = (np.random.default_rng([seed, part]) for part in range(4))
    start = _FIRST_MONDAY + timedelta(days=7 * int(rng.integers(0, 60)))
    day_of_year = np.array([(start + timedelta(days=day)).timetuple().tm_yday for day in range(days)])
    weather = draw_weather(rng, day_of_year)
    own, depot = draw_vehicles(rng, vehicles, days)
    day = draw_days(rng, depot, weather)
    faults, severity = plant(for_faults, own["sheet"], days)
    if healthy:
        faults, severity = [], np.zeros((vehicles, days))
    parts: Columns = {name: np.zeros(vehicles) for name in PARTS}
    luck = []
    for fault in faults:
        for name, size in fault.parts.items():
            parts[name][fault.vehicle] = size
        luck.append(for_faults.random(4))
    shape = (vehicles, days)
    book = Book(
        days=days, resets=np.zeros(shape, bool), counters=np.zeros(shape, bool), after=np.zeros(shape)
    )
    _everyday(rng, book)
    _repairs(for_faults, book, faults, luck)
    day["after"] = book.after
    learned, day["soc"] = learn(own, day, parts, severity, book.resets)
    times = draw_times(rng, own, day)
    taken = _take(for_readings, own, day, (parts, severity), learned, depot, times)
    counted = _counters(for_files, own, day, book)
    at = (taken.vehicle, taken.day)
    taken.values.update({name: counted[name][at] for name in ("CLR_DIST", "WARM_UPS")})
    taken = Taken(
        vehicle=taken.vehicle,
        day=taken.day,
        state=taken.state,
        hour=taken.hour,
        odometer_km=counted["odometer"][at],
        values=taken.values,
        switches=taken.switches,
    )
    write_files(for_files, folder, own, (start, depot), taken)
    _truth_and_work(folder, start, depot, faults, book.jobs)
    return start
