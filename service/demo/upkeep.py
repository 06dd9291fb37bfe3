"""A workshop that looks after its fleet: most faults are mended before their driver complains."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.demo.faults import NEVER, Fault

MAY_STALL: Final = (
    "fuel_delivery_low", "throttle_deposits", "charging_low", "charging_high", "battery_ageing",
    "voltage_drop",
)  # fmt: skip
"""Causes that a workshop sees to first: the vehicle may stop or not start."""

NEVER_LATER: Final = 1_000
"""Days by which every fault has reached any severity below 1; the slowest takes 240 days to reach 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """How a workshop mends faults. All figures are made up.

    Parameters
    ----------
    mended : float
        Share of faults that are mended at all.
    early : float
        Share of those that are mended before a complaint.
    level, pressing_level : (float, float)
        Severity at which a fault mended early is taken in hand, drawn between these, for causes that leave a
        vehicle running and for `MAY_STALL`; 1 is where its driver would complain.
    wait : (int, int)
        Days from there, or from the complaint, to the repair, drawn between these.
    recent : float
        Share of faults mended early that are moved to the end of the history, so that its last day has work
        in hand.
    around : (int, int)
        Days before and after the end of the history between which those are mended.
    """

    mended: float = 0.97
    early: float = 0.85
    level: tuple[float, float] = (0.45, 0.65)
    pressing_level: tuple[float, float] = (0.38, 0.5)
    wait: tuple[int, int] = (3, 9)
    recent: float = 0.35
    around: tuple[int, int] = (6, 10)


def attend(
    rng: np.random.Generator, faults: tuple[Fault, ...], days: int, workshop: Workshop
) -> tuple[Fault, ...]:
    """Let a workshop mend faults.

    Parameters
    ----------
    rng : Generator
    faults : tuple of Fault
        As planted.
    days : int
        Length of the history.
    workshop : Workshop

    Returns
    -------
    tuple of Fault
        The same faults with their first healthy day; one that is mended early has no complaint.
    """
    return tuple(_attend(rng, fault, days, workshop) for fault in faults)


def _attend(rng: np.random.Generator, fault: Fault, days: int, workshop: Workshop) -> Fault:
    is_mended, is_early, is_recent = rng.random(3) < (workshop.mended, workshop.early, workshop.recent)
    level = rng.uniform(*(workshop.pressing_level if fault.cause in MAY_STALL else workshop.level))
    first_look, wait = (int(rng.integers(*workshop.wait)) for _ in range(2))
    last_days = int(rng.integers(days - workshop.around[0], days + workshop.around[1]))
    if not is_mended:
        return replace(fault, end_day=NEVER)
    if not is_early:
        return replace(fault, end_day=fault.complaint_day + wait)
    end = fault.onset_day + _days_to(fault, float(level)) + wait
    if fault.shape == "step":  # it comes at once: somebody has to look at it first
        end += first_look
    if end >= fault.complaint_day:
        return replace(fault, end_day=end)
    moved = max(0, last_days - end) if is_recent else 0
    return replace(fault, onset_day=fault.onset_day + moved, end_day=end + moved, complaint_day=NEVER)


def _days_to(fault: Fault, level: float) -> int:
    """Give the days from the onset to a severity; 0 for a step that begins above it."""
    severity = replace(fault, onset_day=0, end_day=NEVER).severity(NEVER_LATER)
    return int(np.argmax(severity >= level))
