"""Fleets by other hands are files of the contract: they load, repeat, and tell their truth."""

import json
from pathlib import Path

import pytest

from ingest.parameters import CAUSES
from models.panel import Wish
from tests.bench.fleets import fleet_of
from tests.bench.rivals import RIVALS
from tests.bench.routes import read_stored
from tests.bench.score import Raised, score, tally
from tests.bench.strangers.maker import KINDS, LEAST_DAYS, Kind, Stranger, make, write
from tests.bench.table import methods_table, slope_class, split_table

VEHICLES = 12


@pytest.fixture(scope="module", params=KINDS)
def kind(request: pytest.FixtureRequest) -> Kind:
    """Give each maker in turn."""
    found: Kind = request.param
    return found


@pytest.fixture(scope="module")
def stranger(kind: Kind) -> Stranger:
    """Give a small fleet."""
    return make(kind, 1, VEHICLES, LEAST_DAYS)


def test_files_load(stranger: Stranger, tmp_path: Path) -> None:
    """Nothing is rejected; what no sensor can read is quarantined, and that is little."""
    stored, counts = read_stored(stranger.files, tmp_path / "fleet.db", stranger.key.last_day)

    assert (counts["register_rejected"], counts["work_refused"], counts["rejected"]) == (0, 0, 0)
    assert counts["accepted"] > VEHICLES * LEAST_DAYS
    assert counts["duplicates"] > 0
    assert counts["quarantined"] < 0.02 * counts["accepted"]
    assert stored.material.fleet.vehicles == stranger.key.vehicles
    assert len(stranger.key.vehicles) == VEHICLES
    days = stored.daily.day
    assert stranger.key.first_day <= days.min() < days.max() <= stranger.key.last_day


def test_same_for_the_same_seed(kind: Kind, stranger: Stranger) -> None:
    """A seed gives the same files again, another seed others."""
    assert make(kind, 1, VEHICLES, LEAST_DAYS).files == stranger.files
    assert make(kind, 2, VEHICLES, LEAST_DAYS).files != stranger.files


def test_truth(stranger: Stranger) -> None:
    """A third of the vehicles have a fault with a known cause, whose days are in order."""
    truths = stranger.key.truths

    assert len(truths) == len({truth.vehicle for truth in truths}) == VEHICLES // 3
    assert {truth.vehicle for truth in truths} <= set(stranger.key.vehicles)
    assert {truth.cause for truth in truths} <= set(CAUSES)
    assert all(stranger.key.first_day < truth.onset < truth.complaint < truth.end for truth in truths)
    assert "truth.csv" not in stranger.files


def test_healthy_fleets_have_no_truth(kind: Kind) -> None:
    """A healthy fleet has the same vehicles and nothing planted."""
    sound = make(kind, 1, VEHICLES, LEAST_DAYS, healthy=True)

    assert sound.key.truths == ()
    assert len(sound.key.vehicles) == VEHICLES


def test_packed_files_are_read_unpacked(stranger: Stranger) -> None:
    """Packed files have their contents under the name without the ending."""
    snapshots = [name for name in stranger.files if name.startswith("snapshots")]

    assert {name.rpartition(".")[2] for name in snapshots} == {"ndjson", "csv"}
    assert all(
        json.loads(stranger.files[name].partition(b"\n")[0])["vehicle"] in stranger.key.vehicles
        for name in snapshots
        if name.endswith(".ndjson") and stranger.files[name]
    )


def test_too_short_a_history(kind: Kind, tmp_path: Path) -> None:
    """A history in which nothing could be planted is refused."""
    with pytest.raises(ValueError, match="at least"):
        write(kind, 1, tmp_path, VEHICLES, LEAST_DAYS - 1)


def test_perfect_tickets_score_perfectly(stranger: Stranger) -> None:
    """A ticket on every onset finds every fault; tables leave out the bound, which nobody knows."""
    tickets = [Raised(vehicle=t.vehicle, day=t.onset, causes=(t.cause,)) for t in stranger.key.truths]

    found = tally(stranger.key, tickets)

    assert score(found).in_time == score(found).faults
    assert (score(found).false, score(found).seconds_per_fault) == (0, 0.0)
    assert "bound" not in methods_table({"perfect": found}) + split_table(found, "speed", slope_class)


def test_methods_beside_the_service(kind: Kind) -> None:
    """Every method and the service walk a small fleet; loaded once, it is walked in columns."""
    fleet = fleet_of(kind, 1, vehicles=VEHICLES, days=LEAST_DAYS, per_day=1.6, direct=True)
    panel = fleet.panel()

    for method in RIVALS.values():
        assert {ticket.vehicle for ticket in method(panel)} <= set(fleet.key.vehicles)
    outcome = fleet.outcome(every=30, wish=Wish())
    assert outcome.counts["rejected"] == 0
    assert {ticket.vehicle for ticket in outcome.tickets} <= set(fleet.key.vehicles)
    assert fleet.judge(outcome) == []


@pytest.mark.slow
def test_both_ways_give_the_same_tickets(kind: Kind) -> None:
    """Replayed through the store or walked in columns, the tickets are the same."""
    direct, through = (
        fleet_of(kind, 1, vehicles=VEHICLES, days=240, per_day=1.6, direct=way).outcome(every=5, wish=Wish())
        for way in (True, False)
    )

    assert len(direct.tickets) > 0
    assert sorted(direct.tickets, key=str) == sorted(through.tickets, key=str)
    assert direct.counts == through.counts
