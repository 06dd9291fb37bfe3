"""Mean run lengths against the published tables that size every level."""

import pytest

from models.statistics.runlength import (
    cusum_limit,
    cusum_run_length,
    ewma_run_length,
    ewma_width,
    wanted_run_length,
)

SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)

CUSUM_TABLE = {
    # Lucas & Crosier 1982, Table 1 (through the help pages of the R package spc, xcusum.arl).
    4.0: (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.19),
    # Montgomery, Table 9.3 (from memory, recomputed); printed 465, 139, 38.0, 17.0, 10.4 ...
    5.0: (465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 2.57),
    # Hawkins' design value for a run length of 370 (from memory, recomputed).
    4.77: (370, 121, 35.2, 16.2, 9.92, 5.52, 3.86, 2.48),
}

EWMA_TABLE = {
    # Lucas & Saccucci 1990 and Montgomery, Table 9.11 (from memory, recomputed), save where said.
    (0.10, 2.814): (500, 106, 31.3, 15.9, 10.3, 6.1, 4.4, 2.9),
    (0.20, 2.962): (500, 150, 41.8, 18.2, 10.5, 5.5, 3.7, 2.4),
    (0.05, 2.615): (500, 84.0, 28.8, 16.4, 11.4, 7.1, 5.2, 3.5),
    # Chandrasekaran 1995 (through the help page xewma.arl of the R package spc); 48.14, 20.02, 11.07 and 3.59
    # there are for limits that vary from the first reading on, so the fixed-limit values stand here.
    (0.25, 2.998): (500, 170.09, 48.3, 20.1, 11.1, 5.5, 3.6, 2.3),
    # Lucas & Saccucci 1990, Table 3 (same help page).
    (0.03, 2.437): (500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99, 4.03),
    # Computed with an independent solver.
    (0.10, 2.7): (369, 89.1, 28.2, 14.7, 9.73, 5.8, 4.18, 2.76),
}


@pytest.mark.parametrize("limit", CUSUM_TABLE)
def test_cusum_table(limit: float) -> None:
    """A two-sided CUSUM at k 0.5 has the published run length at every shift, to the printed digits."""
    for shift, printed in zip(SHIFTS, CUSUM_TABLE[limit], strict=True):
        assert cusum_run_length(0.5, limit, shift) == pytest.approx(printed, rel=6e-3)


@pytest.mark.parametrize("design", EWMA_TABLE)
def test_ewma_table(design: tuple[float, float]) -> None:
    """A two-sided EWMA has the published run length at every shift, to the printed digits."""
    for shift, printed in zip(SHIFTS, EWMA_TABLE[design], strict=True):
        one_decimal = printed < 10 and round(printed, 1) == printed
        tolerance = 0.051 if one_decimal else 6e-3 * printed
        assert ewma_run_length(*design, shift) == pytest.approx(printed, abs=tolerance)


def test_high_precision_anchors() -> None:
    """The nine-digit values of the R package spc come out: 4.1500836225 (CUSUM), 11.154267016 (EWMA)."""
    assert cusum_run_length(0.25, 8.0, 2.5, two_sided=False) == pytest.approx(4.1500836225, abs=2e-7)
    assert ewma_run_length(0.25, 3.0, 1.0) == pytest.approx(11.154267016, abs=1e-8)


def test_brook_and_evans() -> None:
    """Brook and Evans 1972: one-sided, k 0.5, h 3 runs 117.6 sound readings and 3.75 at a shift of 1.5."""
    assert cusum_run_length(0.5, 3.0, two_sided=False) == pytest.approx(117.6, abs=0.05)
    assert cusum_run_length(0.5, 3.0, 1.5, two_sided=False) == pytest.approx(3.75, abs=0.005)


def test_head_start() -> None:
    """Lucas & Crosier 1982: a head start of h/2 at h 4 gives 149 sound readings and 5.29 at one sigma."""
    assert cusum_run_length(0.5, 4.0, start=2.0) == pytest.approx(149, abs=0.5)
    assert cusum_run_length(0.5, 4.0, 1.0, start=2.0) == pytest.approx(5.29, abs=0.005)


def test_shewhart_is_an_ewma_without_memory() -> None:
    """Single readings held against three sigma run 370.40."""
    assert ewma_run_length(1.0, 3.0) == pytest.approx(370.40, abs=0.005)


def test_alarm_load_of_a_fleet() -> None:
    """200 vehicles with one weekly chart each at 370.4 signal falsely 0.540 times a week, 28 times a year."""
    per_week = 200 / ewma_run_length(1.0, 3.0)

    assert per_week == pytest.approx(0.540, abs=5e-4)
    assert per_week * 52.18 == pytest.approx(28, abs=0.5)


def test_levels_come_back_from_run_lengths() -> None:
    """The published limits are found again from their run lengths."""
    assert cusum_limit(0.5, 465.44) == pytest.approx(5.0, abs=1e-4)
    assert cusum_limit(0.5, 168.0) == pytest.approx(4.0, abs=5e-3)
    assert ewma_width(0.2, 500.0) == pytest.approx(2.962, abs=5e-4)
    assert ewma_width(0.05, 500.0) == pytest.approx(2.615, abs=5e-4)


def test_one_number_sizes_every_chart() -> None:
    """0.1 false tickets per 100 vehicle-months, five daily series: one chart errs once in 417 years."""
    days = wanted_run_length(0.1, series=5)

    assert days == pytest.approx(100 / 0.1 * 5 * 30.4375)
    assert wanted_run_length(1.0, series=5) == pytest.approx(days / 10)
    assert days / 365.25 == pytest.approx(417, abs=0.5)
