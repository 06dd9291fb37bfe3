"""What covariates explain."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.learning.adjust import MIN_READINGS, fit_adjustment, sort_cells
from models.series import COVARIATES, PLACE, Observations
from tests.models.fleets import FIRST_DAY, observed

Floats = NDArray[np.float64]
ALL = FIRST_DAY + 10_000
_WARMTH, _AC = (list(COVARIATES).index(name) for name in ("air_temperature", "ac"))
_SCALE = COVARIATES["air_temperature"][1]


class Weather:
    """Trims of some like vehicles over a year with known responses to air temperature and load."""

    def __init__(
        self, vehicles: int = 12, days: int = 200, *, slope: float = 0.08, step: float = 1.0
    ) -> None:
        rng = np.random.default_rng(5)
        warmth = 12 + 11 * np.sin(np.arange(days) * 2 * np.pi / 365) + rng.normal(0, 3, (vehicles, days))
        load = (rng.random((vehicles, days)) < 0.3).astype(float)
        own = rng.normal(0, 2, (vehicles, 1))
        self.said = slope * warmth + step * load
        self.value = own + self.said + rng.normal(0, 1.0, (vehicles, days))
        self.covariate = np.full((vehicles, days, len(COVARIATES)), np.nan)
        self.covariate[..., _WARMTH] = warmth / _SCALE
        self.covariate[..., _AC] = load / COVARIATES["ac"][1]
        self.group = np.zeros(vehicles, np.int32)

    def seen(self, scale: float = 1.0) -> Observations:
        """Give the observations."""
        vehicle, day = np.indices(self.value.shape).reshape(2, -1)
        return observed(
            vehicle,
            PLACE["LONGFT1@warm_idle"],
            FIRST_DAY + day,
            self.value.ravel() * scale,
            self.covariate.reshape(-1, len(COVARIATES)),
        )

    def explained(self, until: int = ALL, scale: float = 1.0) -> Floats:
        """Give what the fit explains, shape (vehicles, days)."""
        seen = self.seen(scale)
        return fit_adjustment(seen, sort_cells(seen, self.group), until).reshape(self.value.shape)


def _error(found: Floats, truth: Floats) -> float:
    """Give the largest error after the means have been taken off."""
    return float(np.abs((found - found.mean()) - (truth - truth.mean())).max())


def test_a_known_response_is_recovered() -> None:
    """A temperature slope and a load step put into sound vehicles are found again."""
    weather = Weather()

    # 2,400 readings of noise 1 fix a slope over 3-degree days to about 0.01 %/degC, 0.3 % over the range.
    assert _error(weather.explained(), weather.said) < 0.5


def test_a_drifting_vehicle_does_not_teach_its_drift() -> None:
    """One vehicle drifting along with the season leaves the pooled response nearly as it was."""
    sound, sick = Weather(), Weather()
    sick.value[0] += 0.06 * np.arange(200)

    assert np.abs(sick.explained() - sound.explained()).max() < 0.3


def test_where_a_vehicle_lives_does_not_teach() -> None:
    """Vehicles of warm places that happen to run rich do not bend the response to warmth."""
    same, apart = Weather(), Weather()
    there = 2.0 * np.arange(12)[:, None]
    apart.covariate[..., _WARMTH] += there / _SCALE
    apart.value += 0.08 * there - 3.0 * there

    found = apart.explained() - 0.08 * there

    assert _error(found, same.said) < 0.5


def test_wild_readings_do_not_teach() -> None:
    """A reading forty points off on one day in forty moves the response little."""
    sound, wild = Weather(), Weather()
    wild.value[:, ::40] += 40.0

    assert np.abs(wild.explained() - sound.explained()).max() < 0.3


def test_missing_covariates_explain_nothing() -> None:
    """A reading whose covariates are all missing is left as it was, and teaches others nothing."""
    weather = Weather()
    weather.covariate[3] = np.nan

    found = weather.explained()

    assert (found[3] == 0).all()
    assert _error(np.delete(found, 3, 0), np.delete(weather.said, 3, 0)) < 0.5


def test_few_readings_explain_nothing() -> None:
    """Below the least number of readings nothing is explained; from it on something is."""
    weather = Weather(vehicles=1, days=MIN_READINGS, slope=1.0)

    assert (weather.explained(FIRST_DAY + MIN_READINGS - 2) == 0).all()
    assert (weather.explained() != 0).any()


def test_little_history_shrinks_the_response() -> None:
    """A few readings explain less than many would: never more than the data can carry."""
    short, long = Weather(vehicles=1, days=14, slope=0.3), Weather(slope=0.3)

    assert np.ptp(short.explained()) < np.ptp(short.said)
    assert np.ptp(long.explained()) == pytest.approx(np.ptp(long.said), rel=0.1)


def test_later_readings_do_not_teach() -> None:
    """What is explained depends on the days up to the fit date only."""
    weather, changed = Weather(), Weather()
    changed.value[:, 120:] += 30.0

    until = FIRST_DAY + 119

    np.testing.assert_allclose(weather.explained(until), changed.explained(until), atol=1e-12)


def test_unit_change_scales() -> None:
    """Values in a thousandth of the unit have a thousand times the explanation."""
    np.testing.assert_allclose(Weather().explained(scale=1000.0), 1000 * Weather().explained(), rtol=1e-9)


def test_like_vehicles_teach_only_each_other() -> None:
    """Two sheets with opposite responses each keep their own."""
    weather = Weather()
    weather.value[6:] -= 2 * weather.said[6:]
    weather.said[6:] *= -1
    weather.group[6:] = 1

    found = weather.explained()

    assert _error(found[:6], weather.said[:6]) < 0.5
    assert _error(found[6:], weather.said[6:]) < 0.5


def test_constant_values_explain_nothing() -> None:
    """Values that never move have no response."""
    weather = Weather()
    weather.value[:] = 3.0

    np.testing.assert_allclose(weather.explained(), 0.0, atol=1e-9)


def test_nothing_gives_nothing() -> None:
    """No observations, nothing explained."""
    assert Weather(vehicles=0, days=0).explained().size == 0
