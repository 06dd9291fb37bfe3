"""The second opinion: which vehicles of one spec sheet are an odd mixture of trend features.

One idea: charts watch one series each; a vehicle may be odd only in the combination. Two scores look at the
combination, an isolation forest and a robust Mahalanobis distance, and the stranger one counts. The opinion
ranks and explains; it does not measure severity, since the forest's score saturates.

References
----------
F. T. Liu, K. M. Ting, Z.-H. Zhou, Isolation Forest, ICDM 2008 (from memory).
P. J. Rousseeuw, K. van Driessen, Technometrics 41 (1999) 212-223 (from memory): the determinant.
O. Ledoit, M. Wolf, J. Multivariate Analysis 88 (2004) 365-411 (from memory): shrunken covariance.
"""

import math
import warnings
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.arguments import as_columns, demand_share
from models.statistics.columns import ROWS_PER_COLUMN, usable_columns
from models.statistics.multiple import conformal_p, conformal_p_within
from models.statistics.robust import mad_sigma, middle

EULER_GAMMA: Final = 0.5772156649
"""Euler's constant, as the isolation forest's paper rounds it [1]."""

TREES: Final = 200
"""Trees of the forest [1]; chosen by us: one row's score then varies by 1 to 3 % from seed to seed."""

LARGEST_SAMPLE: Final = 256
"""Most rows that one tree sees [1]; the isolation forest's paper."""

LEAST_ROWS: Final = 8
"""Fewest vehicles that can be compared with each other [1]; the fleet's own minimum for like vehicles."""

CLIP_SPREADS: Final = 3.0
"""Where shrinkage, which is not robust itself, pulls rows in before learning [spreads]; chosen by us."""

LEAST_SHARE: Final = 0.15
"""Share of the score from which a feature is named [1]; chosen by us: a reader wants one to three names."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlierView:
    """What the second opinion says about the V rows of one group.

    Parameters
    ----------
    score : float64 array of shape (V,)
        Larger is stranger [robust spreads of the sound rows' score]; NaN where nothing could be said.
    p : float64 array of shape (V,)
        Share of sound rows at least as strange; NaN as above.
    forest, distance : float64 array of shape (V,)
        Isolation score in 0..1 and robust Mahalanobis distance [standard deviations].
    splits : float64 array of shape (V,)
        Mean number of random splits that set the row apart, which the isolation score stands for.
    usual_splits : float
        What is expected of any row among as many, c(n).
    threshold : float
        Scores above it have p at or below the level; infinite where too few rows allow no such p.
    words : tuple of str, length V
        Which features make the row strange; empty where p is above the level of explanation.
    leading : tuple of tuple of (str, float), length V
        The same as names with their share of the score [1], largest first; those below 15 % left out.
    columns : tuple of str
        Features that were used.
    dropped : tuple of (str, str)
        Features that were not, with the reason.
    method : str
        What scored, `isolation forest + MinCovDet` or `isolation forest + LedoitWolf`; `none`.
    notes : tuple of str
        Codes of circumstances and of what the libraries complained about.
    """

    score: NDArray[np.float64]
    p: NDArray[np.float64]
    forest: NDArray[np.float64]
    distance: NDArray[np.float64]
    splits: NDArray[np.float64]
    usual_splits: float
    threshold: float
    words: tuple[str, ...]
    leading: tuple[tuple[tuple[str, float], ...], ...]
    columns: tuple[str, ...]
    dropped: tuple[tuple[str, str], ...]
    method: str
    notes: tuple[str, ...] = ()


def average_path_length(count: ArrayLike) -> NDArray[np.float64]:
    """Give the mean depth at which a random tree isolates one of n points, c(n) of the isolation forest.

    Parameters
    ----------
    count : array-like
        Points [1].

    Returns
    -------
    float64 array
        0 up to one point, 1 for two, else 2 (ln(n - 1) + gamma) - 2 (n - 1) / n.

    Examples
    --------
    >>> average_path_length([1, 2, 5, 256]).round(6)
    array([ 0.      ,  1.      ,  2.32702 , 10.244771])
    """
    n = np.asarray(count, dtype=np.float64)
    many = np.maximum(n, 3.0)
    depth = 2.0 * (np.log(many - 1.0) + EULER_GAMMA) - 2.0 * (many - 1.0) / many
    return np.asarray(np.where(n <= 1.0, 0.0, np.where(n <= 2.0, 1.0, depth)))


def squared_distance(
    rows: NDArray[np.float64], place: NDArray[np.float64], covariance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the squared Mahalanobis distance of rows from a place.

    Parameters
    ----------
    rows : float64 array of shape (n, F)
        Rows.
    place : float64 array of shape (F,)
        Centre.
    covariance : float64 array of shape (F, F)
        Positive definite.

    Returns
    -------
    float64 array of shape (n,)
        [1]

    Examples
    --------
    >>> squared_distance(np.array([[3.0, 4.0]]), np.zeros(2), np.diag([9.0, 4.0]))
    array([5.])
    """
    root = np.linalg.cholesky(covariance)
    return np.asarray((np.linalg.solve(root, (rows - place).T) ** 2).sum(axis=0))


def second_opinion(
    features: ArrayLike,
    names: tuple[str, ...],
    seed: int,
    *,
    reference: ArrayLike | None = None,
    level: float = 0.01,
    explain_below: float = 0.05,
    trees: int = TREES,
) -> OutlierView:
    """Score the vehicles of one spec sheet by an isolation forest and a robust distance.

    Parameters
    ----------
    features : array-like of shape (V, F)
        Few trend features of each vehicle in any units; NaN marks a missing one and is read as the middle.
    names : tuple of str, length F
        Names of the features, for the words.
    seed : int
        Seed of the forest and of the determinant method.
    reference : array-like of shape (R, F), optional
        Features of the same kind from sound times. Half of them teach the scores, the other half give the
        p-values. Without them the rows are compared with each other, and p only ranks: the first has 1 / V.
    level : float
        p at which `threshold` is drawn.
    explain_below : float
        p up to which rows are explained.
    trees : int
        Trees of the forest; fewer are quicker and coarser.

    Returns
    -------
    OutlierView
        The order of rows plays no part: the same rows shuffled get the same numbers.

    Raises
    ------
    ShapeError, OutOfRangeError
        When shapes and names do not fit, or a level is no share.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> rows = rng.normal(size=(60, 3))
    >>> rows[7] = [0.5, 6.0, -0.5]
    >>> view = second_opinion(rows, ("trim", "idle air", "voltage"), seed=1)
    >>> int(view.score.argmax()), view.method
    (7, 'isolation forest + MinCovDet')
    >>> view.words[7]
    'idle air 5.3 spreads above the middle of like vehicles, 98 % of the score'
    """
    rows = _as_table(features, names, "features")
    learned = rows if reference is None else _as_table(reference, names, "reference")
    demand_share(level, "level")
    demand_share(explain_below, "explain_below", ends=True)
    empty = np.isnan(rows).all(axis=1)
    teaching = learned[~np.isnan(learned).all(axis=1)]
    teaching = teaching[np.lexsort(teaching.T[::-1])] if teaching.size else teaching
    calibrating = teaching[1::2]
    if reference is not None:
        teaching = teaching[::2]
    if len(teaching) < LEAST_ROWS:
        return _no_opinion(len(rows), names, f"fewer than {LEAST_ROWS} rows to compare with")
    kept, dropped = usable_columns(teaching, names)
    if not kept:
        return _no_opinion(len(rows), (), "no usable feature", dropped)
    scale = _Scale(teaching[:, kept])
    scorer = _Scorer(scale.apply(teaching[:, kept]), seed, trees)
    inside = scale.apply(rows[:, kept])
    score, forest, distance = scorer.score(inside)
    for column in (score, forest, distance):
        column[empty] = np.nan
    known = score[~empty] if reference is None else scorer.score(scale.apply(calibrating[:, kept]))[0]
    p = conformal_p_within(score) if reference is None else conformal_p(known, score)
    used = tuple(names[place] for place in kept)
    leading, words = _explain(scorer, inside, score, p <= explain_below, used)
    return OutlierView(
        score=score,
        p=p,
        forest=forest,
        distance=distance,
        splits=-np.log2(forest) * scorer.usual_splits,
        usual_splits=scorer.usual_splits,
        threshold=_threshold(known, level, extra=reference is not None),
        words=words,
        leading=leading,
        columns=used,
        dropped=dropped,
        method=f"isolation forest + {scorer.shape_method}",
        notes=scorer.notes if reference is not None else (*scorer.notes, "ranked within the group"),
    )


class _Scale:
    """Standardise columns by the median and MAD of the teaching rows; missing values become the middle."""

    def __init__(self, teaching: NDArray[np.float64]) -> None:
        self.centre = middle(teaching.T)
        self.spread = mad_sigma(teaching.T)

    def apply(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return rows in spreads from the middle."""
        return np.nan_to_num((rows - self.centre) / self.spread, nan=0.0)


class _Scorer:
    """A forest and a distance taught by the same standardised rows, brought to one scale."""

    def __init__(self, teaching: NDArray[np.float64], seed: int, trees: int) -> None:
        # The library costs a second and 100 MB to import: only who asks for an opinion pays.
        from sklearn.ensemble import IsolationForest

        self.notes: tuple[str, ...] = ()
        sample = min(LARGEST_SAMPLE, len(teaching))
        self.usual_splits = float(average_path_length(sample))
        self.tree = IsolationForest(n_estimators=trees, max_samples=sample, random_state=seed).fit(teaching)
        self._learn_shape(teaching, seed)
        forest, distance = self._raw(teaching)
        self.centre = middle(np.stack([forest, distance]))
        self.spread = np.maximum(mad_sigma(np.stack([forest, distance])), np.finfo(np.float64).eps)

    def _learn_shape(self, teaching: NDArray[np.float64], seed: int) -> None:
        """Learn centre and covariance, robustly where the rows suffice."""
        from sklearn.covariance import LedoitWolf, MinCovDet

        if len(teaching) >= ROWS_PER_COLUMN * teaching.shape[1]:
            with warnings.catch_warnings(record=True) as caught:
                warnings.simplefilter("always")
                shape = MinCovDet(random_state=seed).fit(teaching)
            self.notes = tuple(sorted({f"MinCovDet: {str(one.message)[:80]}" for one in caught}))
            self.shape_method = "MinCovDet"
        else:
            shape = LedoitWolf().fit(np.clip(teaching, -CLIP_SPREADS, CLIP_SPREADS))
            self.shape_method = "LedoitWolf"
        self.place = np.asarray(shape.location_, dtype=np.float64)
        self.covariance = np.asarray(shape.covariance_, dtype=np.float64)

    def _raw(self, rows: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Give the isolation score and the Mahalanobis distance of standardised rows."""
        if len(rows) == 0:
            return np.empty(0), np.empty(0)
        forest = -np.asarray(self.tree.score_samples(rows), dtype=np.float64)
        return forest, np.sqrt(squared_distance(rows, self.place, self.covariance))

    def score(
        self, rows: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Give the stranger of both scores in spreads of the teaching rows, and both as they are."""
        forest, distance = self._raw(rows)
        on_scale = (np.stack([forest, distance]) - self.centre[:, np.newaxis]) / self.spread[:, np.newaxis]
        return on_scale.max(axis=0), forest, distance


def _as_table(values: ArrayLike, names: tuple[str, ...], name: str) -> NDArray[np.float64]:
    """Copy into float64 and demand rows by named columns."""
    table = as_columns(values, name)
    if table.ndim != 2 or table.shape[1] != len(names):
        raise ShapeError(name, f"two axes (rows, {len(names)} named features)", table.shape)
    if len(set(names)) != len(names):
        raise OutOfRangeError("names", "all different", names)
    return table


def _threshold(known: NDArray[np.float64], level: float, *, extra: bool) -> float:
    """Find the score above which the p-value is at or below the level.

    p counts the row itself: as one more beside the known ones (extra), or as one among them.
    """
    places = math.floor(level * (len(known) + extra) + 1e-9)
    if places < 1:
        return math.inf
    return float(np.sort(known)[::-1][min(places - extra, len(known) - 1)])


def _explain(
    scorer: _Scorer,
    rows: NDArray[np.float64],
    score: NDArray[np.float64],
    wanted: NDArray[np.bool_],
    names: tuple[str, ...],
) -> tuple[tuple[tuple[tuple[str, float], ...], ...], tuple[str, ...]]:
    """Say by how much the score drops when each feature is put back to the middle."""
    chosen = np.flatnonzero(wanted)
    width = rows.shape[1]
    trial = np.repeat(rows[chosen], width, axis=0)
    trial[np.arange(len(trial)), np.tile(np.arange(width), len(chosen))] = 0.0
    without = scorer.score(trial)[0].reshape(len(chosen), width)
    drop = np.maximum(score[chosen, np.newaxis] - without, 0.0)
    leading: list[tuple[tuple[str, float], ...]] = [()] * len(rows)
    words = [""] * len(rows)
    for place, fall in zip(chosen, drop, strict=True):
        if fall.sum() <= 0.0:
            words[place] = "no single feature explains the score"
            continue
        share = fall / fall.sum()
        order = [int(one) for one in np.argsort(-share, kind="stable") if share[one] >= LEAST_SHARE]
        leading[place] = tuple((names[one], float(share[one])) for one in order)
        words[place] = "; ".join(_phrase(names[one], rows[place, one], share[one]) for one in order)
    return tuple(leading), tuple(words)


def _phrase(name: str, spreads: float, share: float) -> str:
    """Put one feature's part into words."""
    way = "above" if spreads > 0.0 else "below"
    part = f"{100.0 * share:.0f} % of the score"
    return f"{name} {abs(spreads):.1f} spreads {way} the middle of like vehicles, {part}"


def _no_opinion(
    count: int, names: tuple[str, ...], reason: str, dropped: tuple[tuple[str, str], ...] = ()
) -> OutlierView:
    """Say that nothing can be said about any row."""
    nothing = np.full(count, np.nan)
    return OutlierView(
        score=nothing,
        p=nothing.copy(),
        forest=nothing.copy(),
        distance=nothing.copy(),
        splits=nothing.copy(),
        usual_splits=math.nan,
        threshold=math.inf,
        words=("",) * count,
        leading=((),) * count,
        columns=(),
        dropped=dropped or tuple((name, reason) for name in names),
        method="none",
        notes=(reason,),
    )
