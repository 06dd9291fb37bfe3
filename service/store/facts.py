"""The fleet as the models see it on one day."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from sqlalchemy import select

from ingest.records import SpecSheet
from models.panel import Fleet, SheetFacts, WorkFact
from service.store.history import History
from service.store.summaries import Summaries
from service.store.tables import VEHICLE, VEHICLE_PLACE, WORK_RECORD
from service.store.zones import DAY_US

LOGGER_CHANGED = "logger_changed"
"""Kind of the work fact that stands for another device reporting the vehicle from that day on."""


class Facts(Summaries, History):
    """Facts that go with daily summaries."""

    def fleet_facts(self, *, as_of_day: int) -> Fleet:
        """Build the models' fleet as of a day.

        Parameters
        ----------
        as_of_day : int
            Sheets in force and depots are those of this day, work is told up to it [days since 1970-01-01].

        Returns
        -------
        Fleet
            Vehicles sorted by number; a second device's first day counts as work of kind `logger_changed`.
        """
        vehicles = self._connection.execute(
            select(VEHICLE.c.vehicle, VEHICLE.c.vehicle_no, VEHICLE.c.spec_sheet).order_by(VEHICLE.c.vehicle)
        ).all()
        sheets = self.sheets(as_of_day=as_of_day)
        sheet_place = {sheet.sheet: place for place, sheet in enumerate(sheets)}
        depot_of = self._depots(as_of_day)
        depots = tuple(sorted({depot for depot in depot_of.values() if depot}))
        depot_place = {depot: place for place, depot in enumerate(depots)}
        return Fleet(
            vehicles=tuple(row.vehicle for row in vehicles),
            sheet=np.array([sheet_place.get(row.spec_sheet, -1) for row in vehicles], dtype=np.int32),
            sheets=tuple(sheet_facts(sheet) for sheet in sheets),
            depot=np.array(
                [depot_place.get(depot_of.get(row.vehicle_no, ""), -1) for row in vehicles], dtype=np.int32
            ),
            depots=depots,
            work=self._work_facts(vehicles, as_of_day),
        )

    def depots_on(self, day: int) -> dict[str, str]:
        """Give the depot that each vehicle in sight stood in at the end of a day, by its number."""
        place_of = self._depots(day)
        query = select(VEHICLE.c.vehicle, VEHICLE.c.vehicle_no).where(self._in_sight())
        return {row.vehicle: place_of.get(row.vehicle_no, "") for row in self._connection.execute(query)}

    def _depots(self, as_of_day: int) -> dict[int, str]:
        """Give each vehicle's depot at the end of a day (UTC: depots change by whole days)."""
        query = (
            select(VEHICLE_PLACE)
            .where(VEHICLE_PLACE.c.from_us < (as_of_day + 1) * DAY_US)
            .order_by(VEHICLE_PLACE.c.vehicle_no, VEHICLE_PLACE.c.from_us)
        )
        return {row.vehicle_no: row.depot for row in self._connection.execute(query)}

    def _work_facts(self, vehicles: Sequence[Any], until: int) -> tuple[WorkFact, ...]:
        place_of_number = {row.vehicle_no: place for place, row in enumerate(vehicles)}
        place_of_name = {row.vehicle: place for place, row in enumerate(vehicles)}
        query = select(
            WORK_RECORD.c.vehicle_no, WORK_RECORD.c.day, WORK_RECORD.c.kind, WORK_RECORD.c.cause
        ).where(WORK_RECORD.c.day <= until)
        facts = [
            WorkFact(vehicle=place_of_number[number], day=day, kind=kind, cause=cause)
            for number, day, kind, cause in self._connection.execute(query)
        ]
        for name, starts in self.device_starts().items():
            facts += [
                WorkFact(vehicle=place_of_name[name], day=day, kind=LOGGER_CHANGED)
                for day, _ in starts[1:]
                if day <= until
            ]
        facts.sort(key=lambda fact: (fact.vehicle, fact.day, fact.kind, fact.cause))
        return tuple(facts)


def sheet_facts(sheet: SpecSheet) -> SheetFacts:
    """Give what the models need of a spec sheet."""
    return SheetFacts(
        sheet=sheet.sheet,
        revision=sheet.revision,
        source=sheet.source,
        displacement_l=sheet.displacement_l,
        cylinders=sheet.cylinders,
        banks=sheet.banks,
        air_metering=sheet.air_metering,
        idle_control=sheet.idle_control,
        charging=sheet.charging,
        soak_hours=sheet.soak_hours,
        soak_gap_degc=sheet.soak_gap_degc,
        limits=tuple((limit.parameter, limit.state, limit.low, limit.high) for limit in sheet.limits),
    )
