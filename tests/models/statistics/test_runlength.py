"""Run lengths against simulation, and the search for limits."""

import numpy as np
import pytest

from models.errors import OutOfRangeError
from models.statistics.charts import cusum, ewma, ewma_reach
from models.statistics.runlength import (
    cusum_limit,
    cusum_run_length,
    ewma_run_length,
    ewma_width,
    wanted_run_length,
)


def _first_signal(outside: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> float:
    """Average the reading at which rows first signal; every row must."""
    assert outside.any(axis=1).all()
    return float((outside.argmax(axis=1) + 1).mean())


def test_cusum_against_simulation() -> None:
    """Simulated charts signal as late as the equation says."""
    values = np.random.default_rng(0).normal(0.5, 1.0, (4000, 400))

    sums = cusum(values, 0.5)

    told = cusum_run_length(0.5, 4.0, 0.5)
    assert _first_signal(np.maximum(sums.high, sums.low) > 4.0) == pytest.approx(told, rel=0.05)


def test_ewma_against_simulation() -> None:
    """Simulated charts signal as late as the equation says."""
    values = np.random.default_rng(1).normal(0.5, 1.0, (4000, 600))

    outside = np.abs(ewma(values, 0.1)) > ewma_reach(0.1, 2.7)

    assert _first_signal(outside) == pytest.approx(ewma_run_length(0.1, 2.7, 0.5), rel=0.05)


def test_correlated_readings_signal_far_more_often() -> None:
    """At lag-1 correlation 0.4 a chart sized for independent readings signals over five times as often."""
    values = np.random.default_rng(2).standard_normal((300, 3000))
    for place in range(1, 3000):
        values[:, place] = 0.4 * values[:, place - 1] + np.sqrt(1 - 0.16) * values[:, place]

    sums = cusum(values, 0.5)

    assert _first_signal(np.maximum(sums.high, sums.low) > 5.0) < cusum_run_length(0.5, 5.0) / 5


@pytest.mark.parametrize("wanted", [50.0, 5e3, 1e6, 1e9])
def test_limits_invert_run_lengths(wanted: float) -> None:
    """The limit found has the run length asked for, up to very quiet charts."""
    limit, width = cusum_limit(0.5, wanted), ewma_width(0.1, wanted)

    assert cusum_run_length(0.5, limit) == pytest.approx(wanted, rel=1e-4)
    assert ewma_run_length(0.1, width) == pytest.approx(wanted, rel=1e-4)


def test_longer_runs_need_wider_limits() -> None:
    """Ten times fewer false signals cost a wider limit, and not much of it."""
    narrow, wide = cusum_limit(0.5, 1.5e4), cusum_limit(0.5, 1.5e5)

    assert narrow < wide < 1.4 * narrow


def test_a_head_start_is_quicker() -> None:
    """Starting half way up shortens the run under a shift and never lengthens it."""
    assert cusum_run_length(0.5, 5.0, 1.0, start=2.5) < cusum_run_length(0.5, 5.0, 1.0)


def test_run_lengths_refuse() -> None:
    """Numbers out of range and run lengths that no limit has are refused."""
    with pytest.raises(OutOfRangeError, match="limit"):
        cusum_run_length(0.5, 0.0)
    with pytest.raises(OutOfRangeError, match="start"):
        cusum_run_length(0.5, 4.0, start=5.0)
    with pytest.raises(OutOfRangeError, match="weight"):
        ewma_run_length(0.0, 3.0)
    with pytest.raises(OutOfRangeError, match="run_length"):
        cusum_limit(0.5, 0.5)
    with pytest.raises(OutOfRangeError, match="run_length"):
        ewma_width(0.1, 1e12)
    with pytest.raises(OutOfRangeError, match="reference"):
        cusum_limit(0.0, 100.0)
    with pytest.raises(OutOfRangeError, match="series"):
        wanted_run_length(0.1, series=0)
