"""What the models work on."""

import numpy as np
import pytest

from models.panel import Wish
from models.series import observe
from tests.models.fleets import Town, snapshots


def test_tables_know_their_length() -> None:
    """Readings, daily rows and observations count their rows."""
    town = Town(2, 5)

    assert len(snapshots([(0, 8.0, "crank", {"CRANK_VMIN": 9.0})])) == 1
    assert len(town.daily()) == 2 * 5 * 2
    assert len(observe(town.fleet(), town.daily())) == 2 * 5 * 6


def test_facts_cannot_be_changed() -> None:
    """What was asked and who was there cannot be changed under a run's feet."""
    with pytest.raises(AttributeError):
        Wish().false_tickets = 9.0  # type: ignore[misc]
    with pytest.raises(AttributeError):
        Town(1, 1).daily().day = np.zeros(1, np.int32)  # type: ignore[misc]
