"""The practice fleet's workshop: it mends early, leaves work for the last day, and touches no other fleet."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from service.demo.faults import NEVER, Fault
from service.demo.fleet import make_fleet, practice_fleet
from service.demo.upkeep import Workshop, attend

DAYS = 420
RAMP = Fault(
    vehicle=0,
    cause="unmetered_air",
    onset_day=100,
    complaint_day=200,
    end_day=NEVER,
    shape="ramp",
    days_to_one=100.0,
    power=1.0,
    first_level=0.0,
    size=1.0,
    sign=1,
    bank=0,
)
ALWAYS = Workshop(mended=1.0, early=1.0, recent=0.0)


def _attended(workshop: Workshop, fault: Fault = RAMP, count: int = 200) -> tuple[Fault, ...]:
    return attend(np.random.default_rng(1), (fault,) * count, DAYS, workshop)


def test_early_repairs_come_before_the_complaint() -> None:
    """A fault is mended some days after its severity was noticed, and nobody complains of it."""
    for fault in _attended(ALWAYS):
        noticed = 100 + round(100 * ALWAYS.level[0])
        assert noticed + ALWAYS.wait[0] <= fault.end_day < 200
        assert fault.complaint_day == NEVER


def test_what_may_stall_is_seen_to_first() -> None:
    """A ramp of a cause that may stop the vehicle ends sooner than the same ramp of another."""
    pressing = _attended(ALWAYS, replace(RAMP, cause="charging_low"))

    assert np.mean([f.end_day for f in pressing]) < np.mean([f.end_day for f in _attended(ALWAYS)]) - 10


def test_shares_are_kept() -> None:
    """Some faults are never mended, some only after the complaint; the rest early."""
    found = _attended(Workshop(mended=0.8, early=0.5, recent=0.0), count=1_000)
    never = sum(fault.end_day == NEVER for fault in found)
    late = sum(fault.complaint_day < fault.end_day < NEVER for fault in found)

    assert 150 < never < 250
    assert 330 < late < 470


def test_recent_faults_lie_around_the_last_day() -> None:
    """Faults moved to the end keep their course, and are mended just before or after the history ends."""
    for fault in _attended(replace(ALWAYS, recent=1.0)):
        assert DAYS - 6 <= fault.end_day < DAYS + 10
        assert 0.4 <= replace(fault, end_day=NEVER).severity(DAYS + 40)[fault.end_day - 3] < 0.9


def test_a_fleet_without_a_workshop_is_what_it_was() -> None:
    """The workshop draws from a stream of its own: without it, a seed's history is untouched."""
    plain = make_fleet(5, vehicles=12, days=120)
    attended = make_fleet(5, vehicles=12, days=120, workshop=Workshop())

    np.testing.assert_array_equal(plain.taken_us, attended.taken_us)
    assert [(f.vehicle, f.cause, f.size) for f in plain.faults] == [
        (f.vehicle, f.cause, f.size) for f in attended.faults
    ]
    assert plain.faults != attended.faults


def test_mended_faults_are_on_record() -> None:
    """Every repair inside the history is a work record of that vehicle and evening; later ones are not."""
    history = practice_fleet(date(2027, 2, 3), vehicles=24)
    last = history.date_of(history.days - 1)
    noted = {
        (history.roster.names[job.vehicle], history.date_of(job.day))
        for job in history.jobs
        if job.kind in {"repair", "battery_replaced"}
    }

    assert len(history.mended()) >= 8
    for vehicle, on in history.mended():
        if on <= last - timedelta(days=1):
            assert (vehicle, on) in noted
        assert on > last or (vehicle, on) in noted
