"""How vehicles answer to loads where they differ from their like."""

from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from models.learning.answers import LEAST_VEHICLES, own_answers
from models.series import COVARIATES, PLACE, SERIES, Observations
from tests.models.fleets import FIRST_DAY, observed

Floats = NDArray[np.float64]

_AC = list(COVARIATES).index("ac")
_SCALE = COVARIATES["ac"][1]
NOISE: Final = 1.5
VEHICLES, DAYS = 20, 240


def _taught(
    seen: Observations, taught: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], Floats, NDArray[np.int32]]:
    """Give what teaches, the noise and the like vehicles."""
    vehicles = int(seen.vehicle.max()) + 1
    return taught, np.full((vehicles, len(SERIES)), NOISE), np.zeros(vehicles, np.int32)


class Idles:
    """Idle air of like vehicles, every second idle with the compressor on, less what is common to them."""

    def __init__(
        self, vehicles: int = VEHICLES, *, spread: float, seed: int = 3, name: str = "IAC@warm_idle"
    ) -> None:
        rng = np.random.default_rng(seed)
        self.on = (rng.random((vehicles, DAYS)) < 0.5).astype(float)
        self.answer = rng.normal(0.0, spread, vehicles)
        self.level = rng.normal(0.0, 2.0, (vehicles, 1))
        self.value = self.level + self.answer[:, None] * self.on + rng.normal(0.0, NOISE, (vehicles, DAYS))
        self.series = PLACE[name]

    def seen(self) -> Observations:
        """Give the observations."""
        vehicle, day = np.indices(self.value.shape).reshape(2, -1)
        covariate = np.full((self.value.size, len(COVARIATES)), np.nan)
        covariate[:, _AC] = self.on.ravel() / _SCALE
        return observed(vehicle, self.series, FIRST_DAY + day, self.value.ravel(), covariate)

    def explained(self, until: int = DAYS) -> Floats:
        """Give what is explained, shape (vehicles, days)."""
        seen = self.seen()
        found = own_answers(seen, seen.value, *_taught(seen, seen.day < FIRST_DAY + until))
        return found.reshape(self.value.shape)


def _answers(idles: Idles, found: Floats) -> Floats:
    """Read each vehicle's answer off what is explained while on."""
    given: Floats = (found * idles.on).sum(axis=1) / idles.on.sum(axis=1)
    return given


def test_answers_are_found_and_drawn_together() -> None:
    """Answers as wide as the noise come back within their errors."""
    idles = Idles(spread=NOISE)

    found = idles.explained()

    # 240 readings in blocks of 60: the error of a slope is 1.5 / sqrt(60) = 0.19 for on against off.
    np.testing.assert_allclose(_answers(idles, found), idles.answer, atol=0.7)
    assert (found[idles.on == 0] == 0).all()


def test_who_is_heard_of_seldom_is_drawn_further() -> None:
    """The share of its own slope that a vehicle keeps is spread^2 / (spread^2 + error^2): 0.99 and 0.9 here.

    Shrinkage of one random slope (Robinson 1991; from memory). With spread 3 and noise 1.5, on for half of n
    readings, the error of a slope is 3 / sqrt(n) but for the levels of the blocks.
    """
    idles = Idles(spread=3.0)
    seen = idles.seen()
    many = own_answers(seen, seen.value, *_taught(seen, np.ones(len(seen), dtype=bool)))
    few_taught = (seen.vehicle != 0) | (seen.day < FIRST_DAY + 12)
    few = own_answers(seen, seen.value, *_taught(seen, few_taught))

    on = idles.on[0, :12] == 1
    slope = idles.value[0, :12][on].mean() - idles.value[0, :12][~on].mean()
    kept = _answers(idles, few.reshape(idles.value.shape))[0] / slope

    assert _answers(idles, many.reshape(idles.value.shape))[0] == pytest.approx(idles.answer[0], abs=0.5)
    assert 0.6 < kept < 1.0


@pytest.mark.parametrize("seed", range(5))
def test_like_vehicles_that_answer_alike_keep_the_common_answer(seed: int) -> None:
    """Where errors explain the differences next to nothing is taken for a vehicle's own."""
    found = Idles(spread=0.0, seed=seed).explained()

    assert np.abs(found).max() < 0.25


def test_a_faulty_vehicle_does_not_widen_the_spread() -> None:
    """One of twenty that answers wildly leaves the others alone, and is itself drawn all the way to them."""
    idles = Idles(spread=0.0)
    idles.value[4] += 9.0 * idles.on[4]

    found = _answers(idles, idles.explained())

    assert np.abs(np.delete(found, 4)).max() < 0.25
    assert abs(found[4]) < 3.0


def test_a_step_between_blocks_is_no_answer() -> None:
    """A fault that stands while the compressor runs as before is left where it is."""
    idles = Idles(spread=2.0)
    before = _answers(idles, idles.explained())
    idles.value[3, 120:] += 8.0

    after = _answers(idles, idles.explained())

    assert after[3] == pytest.approx(before[3], abs=0.6)


def test_what_comes_later_does_not_teach() -> None:
    """Readings after the fit date change nothing."""
    idles = Idles(spread=3.0)
    early = idles.explained(until=120)
    idles.value[:, 120:] += 5.0 * idles.on[:, 120:]

    np.testing.assert_array_equal(idles.explained(until=120), early)


def test_few_vehicles_have_no_like() -> None:
    """Below the least number nobody's own answer counts."""
    assert (Idles(LEAST_VEHICLES - 1, spread=3.0).explained() == 0).all()


def test_what_loads_do_not_bear_on_is_left_alone() -> None:
    """A trim has no own answer to the compressor."""
    assert (Idles(spread=3.0, name="LONGFT1@warm_idle").explained() == 0).all()
