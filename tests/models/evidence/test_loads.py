"""Idle air of vehicles that do not report their loads."""

import numpy as np
import pytest

from models.causes.table import typical_shift
from models.compare import Replay
from models.evidence.loads import OF_NOISE, UNREPORTED, HiddenLoads, doubt_loads, hidden_loads
from models.evidence.scan import LAGS, SHAPES, Evidence
from models.panel import Wish
from models.series import PLACE, SERIES, observe
from tests.models.fleets import BARE, FEW, FIRST_DAY, Town

QUIET = np.zeros((2, len(SERIES)))
ONE_TELLS = np.array([[0.0], [1.0]]) * np.ones(len(LAGS))
AGES = np.array([10.0, 40.0])
IDLE, VOLTS = PLACE["IAC@warm_idle"], PLACE["VPWR@warm_idle"]


def _town(silent: tuple[int, ...], vehicles: int = 16, *, air: float = 30.0) -> Town:
    town = Town(vehicles, 150, sheet=BARE, channels=(*FEW, ("AAT", "warm_idle", air, 0.0)))
    town.switch("ac")[:] = town.rng.random((vehicles, 150)) < 0.2
    town.switch("ac")[list(silent)] = np.nan
    return town


def _hidden(town: Town) -> HiddenLoads:
    seen = observe(town.fleet(), town.daily())
    return hidden_loads(seen, np.ones(len(seen), dtype=bool), town.vehicles, (FIRST_DAY, town.last_day))


def _who_hides(town: Town) -> list[int]:
    return np.flatnonzero(_hidden(town).place >= 0).tolist()


def test_who_tells_nothing_hides_loads() -> None:
    """Two vehicles without switch readings among sixteen of one sheet."""
    assert _who_hides(_town((3, 9))) == [3, 9]


@pytest.mark.parametrize("silent", [(), tuple(range(16)), tuple(range(9))])
def test_loads_are_hidden_whatever_like_vehicles_tell(silent: tuple[int, ...]) -> None:
    """A sheet whose vehicles report no switch at all has compressors, too."""
    assert _who_hides(_town(silent)) == list(silent)


@pytest.mark.parametrize(("air", "share"), [(-5.0, 0.0), (10.0, 0.0), (14.0, 0.5), (18.0, 1.0), (35.0, 1.0)])
def test_compressors_run_in_warm_air(air: float, share: float) -> None:
    """In the cold no idle may be a compressor's, in the heat each; who reports loads hides none."""
    found = _hidden(_town((3,), air=air)).share(np.array([2, 3]), day=FIRST_DAY + 149, ages=AGES)

    np.testing.assert_allclose(found, [[0.0, 0.0], [share, share]], atol=1e-6)


def test_only_the_days_asked_for_count() -> None:
    """Twenty hot days end a cool season: all of the last ten were hot, half of the last forty."""
    town = _town((3,), air=0.0)
    town.at("AAT", "warm_idle")[:, 130:] = 30.0
    hidden, rows = _hidden(town), np.array([3])

    np.testing.assert_allclose(hidden.share(rows, day=FIRST_DAY + 149, ages=AGES), [[1.0, 0.5]])
    np.testing.assert_allclose(hidden.share(rows, day=FIRST_DAY + 120, ages=AGES), [[0.0, 0.0]])


def test_unknown_weather_may_have_been_warm() -> None:
    """Where nobody reads the air's temperature, and where nothing was read, loads are doubted in full."""
    town = _town((3,), air=0.0)
    town.at("AAT", "warm_idle")[:] = np.nan

    np.testing.assert_allclose(_hidden(town).share(np.array([3]), day=FIRST_DAY + 149, ages=AGES), 1.0)
    np.testing.assert_allclose(
        _hidden(_town((3,), air=0.0)).share(np.array([3]), day=FIRST_DAY + 400, ages=AGES), 1.0
    )


def _evidence() -> Evidence:
    z = np.full((2, len(LAGS) * len(SHAPES), len(SERIES)), 8.0)
    return Evidence(z=z, root_information=np.full_like(z, 4.0))


def test_sizes_stay_and_idle_air_says_less() -> None:
    """The estimate of a change is as large as before; only its error grows, and only for idle air."""
    told = doubt_loads(_evidence(), ONE_TELLS, QUIET)

    np.testing.assert_allclose(told.z / told.root_information, 2.0)
    np.testing.assert_array_equal(told.z[0], 8.0)
    assert (told.z[1, :, VOLTS] == 8.0).all()
    assert (told.z[1, :, IDLE] < 8.0).all()


def test_cold_windows_are_believed() -> None:
    """Of one vehicle the windows in compressor weather are doubted, the others not; shapes alike."""
    share = ONE_TELLS.copy()
    share[1, 4:] = 0.0

    told = doubt_loads(_evidence(), share, QUIET)

    assert (told.z[1, : 4 * len(SHAPES), IDLE] < 8.0).all()
    assert (told.z[1, 4 * len(SHAPES) :, IDLE] == 8.0).all()


@pytest.mark.parametrize("noise", [0.0, 1.0, 6.0])
def test_no_number_of_readings_proves_a_shift_within_the_loads(noise: float) -> None:
    """However much information there is, a change of the loads' own spread stays at one standard error.

    That spread is a share of complaint size, or of the noise of one reading where loads make it large.
    """
    evidence, sigma = _evidence(), np.full((2, len(SERIES)), noise)
    size = max(UNREPORTED * typical_shift()[IDLE], OF_NOISE * noise)
    evidence.root_information[1, 0, IDLE] = 1e6
    evidence.z[1, 0, IDLE] = 1e6 * size

    told = doubt_loads(evidence, ONE_TELLS, sigma)

    assert told.z[1, 0, IDLE] == pytest.approx(1.0)


@pytest.mark.parametrize(("air", "told"), [(30.0, False), (0.0, True)])
def test_a_compressor_in_use_is_no_ticket_where_it_is_not_reported(air: float, *, told: bool) -> None:
    """Idle air up by a compressor for a month: a ticket where loads are told off, or hidden in the cold."""
    open_, hidden = _town((), air=air), _town((3,), air=air)
    for town in (open_, hidden):
        town.at("IAC", "warm_idle")[3, 110:] += 4.0
    open_.switch("ac")[3, 110:] = 0.0

    tiers = [
        [one.tier for one in Replay(town.fleet(), town.daily(), Wish()).at(town.last_day).findings]
        for town in (open_, hidden)
    ]

    assert tiers[0] == ["ticket"]
    assert ("ticket" in tiers[1]) == told
