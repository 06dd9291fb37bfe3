"""Readings of one vehicle that cannot be right: its sensors or its logger are looked at before its engine."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from dashboards.coverage import Doubt
from ingest.belief import ALLOWANCES
from ingest.parameters import CODES, PARAMETERS
from models.findings import Assessment
from models.panel import Readings
from service.tickets.remarks import DOUBTS
from service.tickets.words import counted

WINDOW_DAYS: Final = 28
LEAST: Final = 5
"""Readings at the end of a range within the window before they are told; chosen by us: one is a hiccup."""


def doubts_of(said: Assessment | None, vehicle: str) -> Iterable[Doubt]:
    """Give what the newest evaluation does not believe of a vehicle."""
    for one in () if said is None else said.unusable:
        if one.vehicle == vehicle:
            yield Doubt(vehicle=vehicle, series=one.series, reason=DOUBTS[one.reason])


def ends_of(readings: Readings, vehicle: str) -> Iterable[Doubt]:
    """Give the parameters that often stood at an end of their sensor's range of late.

    Parameters
    ----------
    readings : Readings
        Of the vehicle, sorted by time.
    vehicle : str
        The fleet's own number.
    """
    if not len(readings):
        return
    late = readings.values[readings.day > readings.day[-1] - WINDOW_DAYS]
    for place, code in enumerate(CODES):
        known = late[np.isfinite(late[:, place]), place]
        at_end = sum(
            int(np.count_nonzero(np.abs(known - end) <= ALLOWANCES[place]))
            for end in PARAMETERS[code].stuck_at
        )
        if at_end >= LEAST:
            reason = (
                f"at the end of its sensor's range in {at_end} of {counted(len(known), 'reading')} of four "
                "weeks: sensor, wiring or logger. They are left out"
            )
            yield Doubt(vehicle=vehicle, series=code, reason=reason)
