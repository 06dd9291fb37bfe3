"""Idle air of vehicles that do not report their loads."""

import numpy as np
import pytest

from models.causes.table import typical_shift
from models.compare import Replay
from models.evidence.loads import OF_NOISE, UNREPORTED, doubt_loads, hidden_loads
from models.evidence.scan import Evidence
from models.panel import Wish
from models.series import PLACE, SERIES, observe
from tests.models.fleets import BARE, FEW, Town

QUIET = np.zeros((2, len(SERIES)))
IDLE, VOLTS = PLACE["IAC@warm_idle"], PLACE["VPWR@warm_idle"]


def _town(silent: tuple[int, ...], vehicles: int = 16) -> Town:
    town = Town(vehicles, 150, sheet=BARE, channels=FEW)
    town.switch("ac")[:] = town.rng.random((vehicles, 150)) < 0.2
    town.switch("ac")[list(silent)] = np.nan
    return town


def _hidden(town: Town) -> list[int]:
    fleet = town.fleet()
    seen = observe(fleet, town.daily())
    return np.flatnonzero(hidden_loads(seen, np.ones(len(seen), dtype=bool), town.vehicles)).tolist()


def test_who_tells_nothing_hides_loads() -> None:
    """Two vehicles without switch readings among sixteen of one sheet."""
    assert _hidden(_town((3, 9))) == [3, 9]


@pytest.mark.parametrize("silent", [(), tuple(range(16)), tuple(range(9))])
def test_loads_are_hidden_whatever_like_vehicles_tell(silent: tuple[int, ...]) -> None:
    """A sheet whose vehicles report no switch at all has compressors, too."""
    assert _hidden(_town(silent)) == list(silent)


def _evidence() -> Evidence:
    z = np.full((2, 1, len(SERIES)), 8.0)
    return Evidence(z=z, root_information=np.full_like(z, 4.0))


def test_sizes_stay_and_idle_air_says_less() -> None:
    """The estimate of a change is as large as before; only its error grows, and only for idle air."""
    told = doubt_loads(_evidence(), np.array([False, True]), QUIET)

    np.testing.assert_allclose(told.z / told.root_information, 2.0)
    np.testing.assert_array_equal(told.z[0], 8.0)
    assert told.z[1, 0, VOLTS] == 8.0
    assert told.z[1, 0, IDLE] < 8.0


@pytest.mark.parametrize("noise", [0.0, 1.0, 6.0])
def test_no_number_of_readings_proves_a_shift_within_the_loads(noise: float) -> None:
    """However much information there is, a change of the loads' own spread stays at one standard error.

    That spread is a share of complaint size, or of the noise of one reading where loads make it large.
    """
    evidence, sigma = _evidence(), np.full((2, len(SERIES)), noise)
    size = max(UNREPORTED * typical_shift()[IDLE], OF_NOISE * noise)
    evidence.root_information[1, 0, IDLE] = 1e6
    evidence.z[1, 0, IDLE] = 1e6 * size

    told = doubt_loads(evidence, np.array([False, True]), sigma)

    assert told.z[1, 0, IDLE] == pytest.approx(1.0)


def test_a_compressor_in_use_is_no_ticket_where_it_is_not_reported() -> None:
    """Idle air up by a compressor for a month: a ticket where loads are told off, none where hidden."""
    open_, hidden = _town(()), _town((3,))
    for town in (open_, hidden):
        town.at("IAC", "warm_idle")[3, 110:] += 4.0
    open_.switch("ac")[3, 110:] = 0.0

    tiers = [
        [one.tier for one in Replay(town.fleet(), town.daily(), Wish()).at(town.last_day).findings]
        for town in (open_, hidden)
    ]

    assert tiers[0] == ["ticket"]
    assert "ticket" not in tiers[1]
