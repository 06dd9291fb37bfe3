"""Scores of stated probabilities and their correction."""

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss

from models.errors import OutOfRangeError, ShapeError
from models.statistics.calibration import brier_score, fit_curve, reliability_table


def _statements(seed: int, count: int = 4000) -> tuple[np.ndarray, np.ndarray]:
    """Make well calibrated statements and outcomes."""
    rng = np.random.default_rng(seed)
    stated = rng.uniform(size=count)
    return (rng.random(count) < stated).astype(float), stated


def test_score_is_the_librarys() -> None:
    """The score agrees with scikit-learn."""
    happened, stated = _statements(0)

    assert brier_score(happened, stated) == pytest.approx(brier_score_loss(happened, stated), abs=1e-12)


def test_unknown_outcomes_are_left_out() -> None:
    """An outcome not known yet counts neither way; none at all has no score."""
    assert brier_score([1, np.nan, 0], [1.0, 0.5, 0.0]) == 0.0
    assert np.isnan(brier_score([], []))


def test_right_statements_stay_inside_their_bins() -> None:
    """Well calibrated statements lie inside the 95 % range of nearly all ten bins."""
    happened, stated = _statements(2)

    rows = reliability_table(happened, stated)

    assert sum(row.count for row in rows) == 4000
    assert sum(row.observed_low <= row.stated <= row.observed_high for row in rows) >= 8


def test_edges_of_bins() -> None:
    """A statement on an edge belongs to the row above, 1 to the last row; empty rows say nothing."""
    rows = reliability_table([1, 0, 1], [0.5, 0.0, 1.0], bins=2)

    assert [row.count for row in rows] == [1, 2]
    empty = reliability_table([1], [0.9], bins=2)[0]
    assert np.isnan(empty.stated)
    assert (empty.observed_low, empty.observed_high) == (0.0, 1.0)


def test_curve_corrects_boasting() -> None:
    """Statements twice as sure as they should be are drawn back to what happened."""
    happened, honest = _statements(3)
    logit = np.log(honest / (1 - honest))
    boasting = 1 / (1 + np.exp(-2.0 * logit))

    curve = fit_curve(happened, boasting)

    assert curve.slope == pytest.approx(0.5, abs=0.06)
    assert brier_score(happened, curve.apply(boasting)) < brier_score(happened, boasting) - 0.005


def test_few_labels_move_little() -> None:
    """Three outcomes leave statements almost alone; none leave them alone."""
    curve = fit_curve([0, 0, 0], [0.5, 0.5, 0.5])

    assert 0.2 < float(curve.apply(0.5)) < 0.5
    np.testing.assert_allclose(fit_curve([], []).apply([0.1, 0.7, np.nan]), [0.1, 0.7, np.nan])


def test_a_curve_never_turns_statements_round() -> None:
    """Where sure statements fail and doubtful ones come true, the slope stops at zero."""
    curve = fit_curve([0] * 50 + [1] * 50, [0.9] * 50 + [0.1] * 50)

    assert curve.slope == 0.0


@pytest.mark.parametrize(
    ("happened", "stated", "kind"),
    [([1], [0.5, 0.5], ShapeError), ([2], [0.5], OutOfRangeError), ([1], [1.5], OutOfRangeError)],
)
def test_calibration_refuses(happened: list[float], stated: list[float], kind: type[Exception]) -> None:
    """Shapes that differ, outcomes that are neither 0 nor 1 and statements outside 0..1 are refused."""
    with pytest.raises(kind):
        brier_score(happened, stated)


def test_no_bins_are_refused() -> None:
    """A table needs one row at least, a curve a pull above zero."""
    with pytest.raises(OutOfRangeError, match="bins"):
        reliability_table([1], [0.5], bins=0)
    with pytest.raises(OutOfRangeError, match="hold"):
        fit_curve([1], [0.5], hold=0.0)
