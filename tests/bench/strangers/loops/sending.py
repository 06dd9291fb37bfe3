"""From a vehicle's loops to its snapshots in the post: loggers are fitted, swapped, fail, and send late."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.builds import ALIAS_SHEET
from tests.bench.strangers.loops.calendar import Calendar
from tests.bench.strangers.loops.loggers import Logger, declare, draw_logger, lacking, record
from tests.bench.strangers.loops.moments import Moments, pick
from tests.bench.strangers.loops.places import DEPOTS, Floats
from tests.bench.strangers.loops.readings import (
    Loops,
    read_air,
    read_counters,
    read_fuel,
    read_volts,
    read_warmth,
)
from tests.bench.strangers.loops.uploads import WEEK, Post, Snapshot, Value

LATE: Final = 0.02
TWICE: Final = 0.012
"""Shares of snapshots sent some weeks late, and sent again a week later."""


class Sender:
    """Sends one vehicle's snapshots."""

    def __init__(self, rng: np.random.Generator, loops: Loops, calendar: Calendar, days: int) -> None:
        self.rng, self.loops, self.calendar, self.days = rng, loops, calendar, days
        vehicle = loops.vehicle
        self.lacks = lacking(rng)
        self.has_switches = bool(rng.random() < 0.9)
        self.has_odometer = bool(rng.random() < 0.8)
        self.loggers: list[tuple[int, Logger]] = [(0, draw_logger(rng, f"K{2000 + 2 * vehicle.index}"))]
        if rng.random() < 0.06:
            swap = int(rng.integers(40, days - 20))
            self.loggers.append((swap, draw_logger(rng, f"K{2001 + 2 * vehicle.index}")))

    def _read(self, moments: Moments) -> dict[str, Floats]:
        warmth, coolant = read_warmth(self.rng, self.loops, moments)
        found = {
            **warmth,
            **read_fuel(self.rng, self.loops, moments, coolant),
            **read_air(self.rng, self.loops, moments, coolant),
            **read_volts(self.rng, self.loops, moments, coolant),
            **read_counters(self.loops, moments),
        }
        if self.loops.vehicle.build.sheet != ALIAS_SHEET:
            found.pop("ALCH_PCT")
        needed = set() if self.loops.vehicle.build.has_meter else {"MAP"}
        return {name: column for name, column in found.items() if name not in self.lacks - needed}

    def _present(self, moments: Moments) -> NDArray[np.bool_]:
        """Tell at which moments the logger worked; now and then it is out for weeks."""
        day = self.loops.day(moments)
        working = np.ones(len(day), dtype=np.bool_)
        if self.rng.random() < 0.1:
            start = int(self.rng.integers(0, self.days))
            working &= ~((day >= start) & (day < start + int(self.rng.integers(10, 45))))
        return working

    def _switches(self, moments: Moments, index: int) -> dict[str, bool] | None:
        if not self.has_switches:
            return None
        return {
            "ac": bool(moments.aircon[index]),
            "power_steering": bool(moments.steering[index] or moments.stuck[index]),
            "in_gear": bool(moments.gear[index]),
        }

    def _snapshots(self, moments: Moments, logger: Logger, which: NDArray[np.bool_]) -> list[Snapshot]:
        columns = record(self.rng, logger, self._values, which)
        states = declare(self.rng, logger, moments, which)
        closed = columns.pop("closed").tolist()
        names = list(columns)
        rows = np.column_stack([np.round(columns[name], 4) for name in names]).tolist()
        drives = self.loops.drives
        found = []
        for place, index in enumerate(np.flatnonzero(which).tolist()):
            values: dict[str, Value] = {
                name: value
                for name, value in zip(names, rows[place], strict=True)
                if value == value  # noqa: PLR0124 - NaN
            }
            if closed[place] in (0.0, 1.0):
                values["FUELSYS1"] = "CL" if closed[place] else "OL"
            here = int(moments.drive[index])
            day = int(drives.day[here])
            zone = DEPOTS[self.loops.vehicle.depot_on(day)].zone
            hour = float(drives.hour[here] + moments.minute[index] / 60.0)
            km = round(float(drives.odometer_km[here])) if self.has_odometer else None
            found.append(
                Snapshot(
                    vehicle=self.loops.vehicle.number,
                    taken_at=self.calendar.moment(zone, day, hour),
                    state=states[place],
                    device=logger.device,
                    number=f"{logger.device}-{index}" if logger.numbers else "",
                    odometer_km=km,
                    values=values,
                    switches=self._switches(moments, index),
                )
            )
        return found

    def send(self, post: Post) -> list[str]:
        """Put all snapshots into the post; give the devices that need names explained."""
        moments = pick(self.rng, self.loops.vehicle, self.loops.drives, self.loops.parts)
        self._values = self._read(moments)
        day, working = self.loops.day(moments), self._present(moments)
        last_week = (self.days - 1) // WEEK
        starts = [start for start, _ in self.loggers]
        for (start, logger), end in zip(self.loggers, [*starts[1:], self.days], strict=True):
            which = working & (day >= start) & (day < end)
            snapshots = self._snapshots(moments, logger, which)
            draws = self.rng.random((len(snapshots), 2))
            for snapshot, today, (late, twice) in zip(
                snapshots, day[which].tolist(), draws.tolist(), strict=True
            ):
                week = min(today // WEEK + (int(1 + late / LATE * 4) if late < LATE else 0), last_week)
                depot = DEPOTS[self.loops.vehicle.depot_on(today)].name
                by_sheet = self.loops.vehicle.build.sheet == ALIAS_SHEET and logger.numbers
                post.add(week, depot, logger.dialect, snapshot, by_sheet=by_sheet)
                if twice < TWICE:
                    post.add(min(week + 1, last_week), depot, logger.dialect, snapshot, by_sheet=by_sheet)
        return [logger.device for _, logger in self.loggers if logger.dialect == "named"]
