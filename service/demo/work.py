"""The workshop's side of the history: complaints, repairs, visits that found nothing, new batteries."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from service.demo.faults import Fault
from service.demo.nuisances import Circumstances, Reset
from service.demo.strengths import Strengths


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One work record: vehicle place, day of the history, local hour and the contract's columns."""

    vehicle: int
    day: int
    hour: float
    kind: str
    cause: str = ""
    parts_cost: float | None = None
    labour_hours: float | None = None
    notes: str = ""


_COMPLAINTS = (
    "hesitates when pulling away",
    "idle feels rough at lights",
    "hard to start in the morning",
    "stalled once at a stop",
    "smells of fuel at times",
    "lacks power on the climb",
)
_FOUND_EARLY = "found before anybody complained"
_ERRANDS = ("tyres changed", "wiper motor", "brake pads front", "door seal", "yearly inspection", "lamp unit")


def _fix(rng: np.random.Generator, fault: Fault, day: int, cause: str, notes: str) -> Job:
    return Job(
        vehicle=fault.vehicle,
        day=day - 1,
        hour=float(rng.uniform(18, 22.5)),
        kind="battery_replaced" if cause == "battery_ageing" and rng.random() < 0.5 else "repair",
        cause=cause,
        parts_cost=round(float(np.exp(rng.normal(4.6, 0.8))), 2),
        labour_hours=round(float(rng.uniform(0.4, 4.0)), 1),
        notes=notes,
    )


def fault_jobs(
    rng: np.random.Generator,
    faults: tuple[Fault, ...],
    days: int,
    strengths: Strengths,
    written: NDArray[np.bool_],
) -> tuple[list[Job], list[Reset]]:
    """Write what the workshop knows of the planted faults.

    A repair happens on the evening before the first healthy day. Some first repairs miss; some records do not
    say the cause; at half of the repairs the adaptive memory is cleared, and half of those are written down.

    Parameters
    ----------
    written : bool array of shape (number of faults,)
        Whether somebody writes the repair down that cures each fault.

    Returns
    -------
    jobs : list of Job
    resets : list of Reset
        Losses of memory that go with repairs.
    """
    jobs, resets = [], []
    for fault, told in zip(faults, written.tolist(), strict=True):
        if fault.complaint_day < days:
            text = str(rng.choice(_COMPLAINTS))
            jobs.append(
                Job(vehicle=fault.vehicle, day=fault.complaint_day, hour=float(rng.uniform(8, 17)),
                    kind="complaint", notes=text)
            )  # fmt: skip
        if fault.end_day >= days:
            continue
        wait = fault.end_day - fault.complaint_day
        if wait > 4 and rng.random() < strengths.failed_repair:
            wrong = str(rng.choice([cause for cause in CAUSES if cause not in (fault.cause, "unknown")]))
            early = fault.complaint_day + int(rng.integers(2, wait - 1))
            jobs.append(_fix(rng, fault, early, wrong, "no better afterwards"))
        cause = fault.cause if rng.random() < 0.9 else ""
        early = fault.complaint_day > fault.end_day
        fixed = _fix(rng, fault, fault.end_day, cause, _FOUND_EARLY if early else "complaint gone")
        jobs += [fixed] if told else []
        if rng.random() < 0.5 or fault.cause == "battery_ageing":
            cleared = bool(rng.random() < 0.5) and told
            resets.append(Reset(vehicle=fault.vehicle, day=fault.end_day, recorded=cleared, reason="repair"))
    return jobs, resets


def other_jobs(
    rng: np.random.Generator, vehicles: int, days: int, circumstances: Circumstances, strengths: Strengths
) -> list[Job]:
    """Write the records that have nothing to do with a fault: visits, notes, complaints, new batteries."""
    jobs = []
    years = days / 365.25
    for vehicle, count in enumerate(rng.poisson(strengths.visits * years, vehicles)):
        for _ in range(count):
            kind = str(rng.choice(["repair", "no_fault_found", "note"], p=[0.6, 0.2, 0.2]))
            cost = round(float(rng.uniform(20, 300)), 2) if kind == "repair" else None
            jobs.append(
                Job(vehicle=vehicle, day=int(rng.integers(0, days)), hour=float(rng.uniform(8, 18)),
                    kind=kind, parts_cost=cost, labour_hours=round(float(rng.uniform(0.2, 2)), 1),
                    notes=str(rng.choice(_ERRANDS)))
            )  # fmt: skip
    for vehicle, count in enumerate(rng.poisson(strengths.healthy_complaints * years, vehicles)):
        jobs += [
            Job(vehicle=vehicle, day=int(rng.integers(0, days)), hour=float(rng.uniform(8, 17)),
                kind="complaint", notes=str(rng.choice(_COMPLAINTS)))
            for _ in range(count)
        ]  # fmt: skip
    jobs += [
        Job(vehicle=vehicle, day=day - 1, hour=20.0, kind="battery_replaced", notes="by age")
        for vehicle, day in circumstances.new_batteries
    ]
    return jobs


def reset_jobs(rng: np.random.Generator, resets: tuple[Reset, ...]) -> list[Job]:
    """Write the memory losses that somebody wrote down."""
    return [
        Job(
            vehicle=reset.vehicle,
            day=reset.day - 1,
            hour=float(rng.uniform(18.5, 22.8)),
            kind="memory_cleared",
            notes="battery disconnected" if reset.reason == "disconnect" else "cleared after the repair",
        )
        for reset in resets
        if reset.recorded and reset.reason != "battery"
    ]
