"""The second opinion."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.outlier import second_opinion

NAMES = ("trim idle", "trim cruise", "idle air", "voltage")


@pytest.fixture
def fleet() -> NDArray[np.float64]:
    """Eighty like vehicles; in vehicle 11 two trims part that go together in all the others."""
    rng = np.random.default_rng(0)
    rows = rng.normal(size=(80, 4))
    rows[:, 1] = 0.95 * rows[:, 0] + 0.3 * rows[:, 1]
    rows[11] = [1.8, -1.8, 0.2, 0.1]
    return rows


def test_odd_mixture_is_found(fleet: NDArray[np.float64]) -> None:
    """No single value is far out, and yet the mixture is the strangest of the sheet."""
    view = second_opinion(fleet, NAMES, 1)

    assert int(np.argmax(view.score)) == 11
    assert float(view.p[11]) == pytest.approx(1 / 80)
    assert {name for name, _ in view.leading[11]} <= {"trim idle", "trim cruise"}


def test_explanation_names_the_feature(fleet: NDArray[np.float64]) -> None:
    """One feature far out is named with its side and its share; ordinary vehicles get no words."""
    fleet[30, 3] = -9.0

    view = second_opinion(fleet, NAMES, 1)

    assert view.words[30].startswith("voltage ")
    assert "below the middle of like vehicles" in view.words[30]
    assert view.leading[30][0][1] > 0.8
    assert view.words[int(np.argmin(view.score))] == ""


def test_order_of_rows_plays_no_part(fleet: NDArray[np.float64]) -> None:
    """Shuffled vehicles keep their scores to the last bit."""
    order = np.random.default_rng(5).permutation(80)

    np.testing.assert_array_equal(
        second_opinion(fleet[order], NAMES, 1).score, second_opinion(fleet, NAMES, 1).score[order]
    )


def test_units_play_no_part(fleet: NDArray[np.float64]) -> None:
    """Other units for some features change no score."""
    other = fleet * np.array([1.0, 1000.0, 0.001, 1.8]) + np.array([0.0, 5.0, 0.0, 32.0])

    np.testing.assert_allclose(
        second_opinion(other, NAMES, 1).score, second_opinion(fleet, NAMES, 1).score, rtol=1e-6
    )


def test_same_seed_same_scores(fleet: NDArray[np.float64]) -> None:
    """The seed decides; the caller's array is not written to."""
    before = fleet.copy()

    first, second = (second_opinion(fleet, NAMES, 3) for _ in range(2))

    np.testing.assert_array_equal(first.score, second.score)
    assert first.words == second.words
    np.testing.assert_array_equal(fleet, before)


def test_columns_it_cannot_digest(fleet: NDArray[np.float64]) -> None:
    """Constant, repeated, coarse, crowded and mostly missing features are left out, each with its reason."""
    crowded = np.where(np.arange(80) < 45, 0.0, fleet[:, 0])
    missing = np.where(np.arange(80) < 45, np.nan, fleet[:, 0])
    bad = np.column_stack([np.ones(80), 3.0 - 2.0 * fleet[:, 2], np.round(fleet[:, 0] / 3), crowded, missing])
    names = ("constant", "repeat", "coarse", "crowded", "missing")

    view = second_opinion(np.hstack([fleet, bad]), NAMES + names, 1)

    assert view.columns == NAMES
    reasons = dict(view.dropped)
    assert reasons["constant"] == "constant"
    assert reasons["repeat"].startswith("follows from")
    assert "different values" in reasons["coarse"]
    assert "share one value" in reasons["crowded"]
    assert reasons["missing"].startswith("missing")
    np.testing.assert_allclose(view.score, second_opinion(fleet, NAMES, 1).score)


def test_few_rows_fall_back(fleet: NDArray[np.float64]) -> None:
    """Below five rows a column the shrunken covariance takes over, and the view says so."""
    assert second_opinion(fleet[:19], NAMES, 1).method == "isolation forest + LedoitWolf"
    assert second_opinion(fleet[:20], NAMES, 1).method == "isolation forest + MinCovDet"


@pytest.mark.parametrize("rows", [0, 1, 7])
def test_too_few_to_compare(rows: int, fleet: NDArray[np.float64]) -> None:
    """Fewer than eight vehicles give no opinion, with the reason."""
    view = second_opinion(fleet[:rows], NAMES, 1)

    assert view.method == "none"
    assert view.words == ("",) * rows
    assert np.isnan(view.p).all()
    assert view.notes == ("fewer than 8 rows to compare with",)


def test_nothing_to_compare_by() -> None:
    """All missing, or all constant, gives no opinion."""
    assert second_opinion(np.full((20, 2), np.nan), ("a", "b"), 1).method == "none"
    view = second_opinion(np.ones((20, 2)), ("a", "b"), 1)
    assert (view.method, view.notes) == ("none", ("no usable feature",))


def test_missing_values_are_the_middle(fleet: NDArray[np.float64]) -> None:
    """A missing value speaks for no fault; a vehicle with none at all has no score."""
    fleet[11, 1] = np.nan
    fleet[40] = np.nan

    view = second_opinion(fleet, NAMES, 1)

    assert view.p[11] > 1 / 80
    assert np.isnan(view.score[40])
    assert np.isnan(view.p[40])
    assert int(np.isnan(view.score).sum()) == 1


def test_sound_reference_gives_honest_p() -> None:
    """Against sound rows, a sound sheet exceeds 10 % about as often as it should, and a fault always."""
    p = []
    for seed in range(3):
        rng = np.random.default_rng(seed)
        rows = rng.normal(size=(60, 3))
        rows[0] = [0.0, 8.0, 0.0]
        view = second_opinion(rows, ("a", "b", "c"), seed, reference=rng.normal(size=(300, 3)))
        np.testing.assert_array_equal(view.score > view.threshold, view.p <= 0.01)
        p.append(view.p)
    every = np.array(p)

    assert np.all(every[:, 0] <= 0.01)
    assert float(np.mean(every[:, 1:] <= 0.1)) == pytest.approx(0.1, abs=0.05)


def test_threshold_belongs_to_the_level(fleet: NDArray[np.float64]) -> None:
    """Scores above the threshold are those with p at or below the level; too few rows allow none."""
    view = second_opinion(fleet, NAMES, 1, level=0.05)

    np.testing.assert_array_equal(view.score > view.threshold, view.p <= 0.05)
    assert np.isinf(second_opinion(fleet, NAMES, 1, level=0.01).threshold)


def test_second_opinion_refuses(fleet: NDArray[np.float64]) -> None:
    """Names that do not fit, repeat, and levels that are no share are refused."""
    with pytest.raises(ShapeError, match="3 named features"):
        second_opinion(fleet, NAMES[:3], 1)
    with pytest.raises(OutOfRangeError, match="names"):
        second_opinion(fleet, ("a", "a", "b", "c"), 1)
    with pytest.raises(OutOfRangeError, match="level"):
        second_opinion(fleet, NAMES, 1, level=0.0)


def test_missing_single_channels_is_its_known_weakness() -> None:
    """Among twelve channels a four-sigma drift in one is judged by the distance, not by the forest alone."""
    rng = np.random.default_rng(8)
    rows = rng.normal(size=(400, 12))
    rows[0] = 0.0
    rows[0, 4] = 5.5

    view = second_opinion(rows, tuple("abcdefghijkl"), 2)

    place = {name: int((part >= part[0]).sum()) for name, part in
             (("forest", view.forest), ("distance", view.distance), ("score", view.score))}  # fmt: skip
    assert place["score"] <= 8
    assert place["distance"] < place["forest"]


def test_a_vehicle_in_the_middle_has_nothing_to_explain(fleet: NDArray[np.float64]) -> None:
    """Asked about everybody, it says of the vehicle in the very middle that no feature explains its score."""
    fleet[5] = np.median(np.delete(fleet, 5, axis=0), axis=0)

    view = second_opinion(fleet, NAMES, 1, explain_below=1.0)

    assert view.words[5] == "no single feature explains the score"
    assert view.leading[5] == ()
    assert all(view.words)


def test_an_odd_row_needs_fewer_splits(fleet: NDArray[np.float64]) -> None:
    """The strangest row needs the fewest splits, well below the usual number."""
    view = second_opinion(fleet, NAMES, seed=1)
    strangest = int(view.forest.argmax())

    assert view.splits[strangest] == view.splits.min() < 0.8 * view.usual_splits
    np.testing.assert_allclose(2.0 ** (-view.splits / view.usual_splits), view.forest)
