"""Breaks as pages and charts list them."""

from models.compare import Replay
from models.panel import Wish
from tests.models.fleets import FEW, FIRST_DAY, Town


def _listed(town: Town) -> list[tuple[str, int, str, bool]]:
    said = Replay(town.fleet(), town.daily(), Wish()).at(town.last_day)
    return [(item.vehicle, item.day - FIRST_DAY, item.reason, item.found) for item in said.breaks]


def test_breaks_are_listed_once() -> None:
    """A clearing that was told and then seen is listed once, as told; one not told is listed as found."""
    town = Town(12, 60, channels=(*FEW, ("WARM_UPS", "warm_idle", 0.0, 0.0)))
    for vehicle, day in ((0, 21), (1, 30)):
        town.at("WARM_UPS", "warm_idle")[vehicle, :day] = 100.0
    town.did(0, 20, "memory_cleared")
    town.did(1, 50, "repair", "charging_low")
    town.did(1, 51, "note")

    assert _listed(town) == [
        ("V-0000", 20, "memory_cleared", False),
        ("V-0001", 30, "memory_cleared", True),
        ("V-0001", 50, "repair", False),
    ]


def test_a_new_logger_is_listed() -> None:
    """A change of logger that a device told is a break on record."""
    town = Town(8, 60)
    town.did(3, 40, "logger_changed")

    assert _listed(town) == [("V-0003", 40, "logger_changed", False)]
