"""Evidence for a change: generalised likelihood ratios over onset, shape and direction.

For every vehicle, series and candidate onset the readings since then are held against a ramp and a step on
top of the vehicle's own level. The level is not a window but a parameter: every reading of the segment
before the onset speaks for it, with the like vehicles' spread as its prior, so the baseline is frozen at
the candidate onset, starts by itself and carries its uncertainty. Series of one fault add up along the
directions of the cause table, with their correlation taken off.

References
----------
Lorden, G. (1971). Procedures for reacting to a change in distribution. Ann. Math. Statist. 42, 1897-1908.
Lai, T. L. (1998). Information bounds and quick detection of parameter changes. IEEE Trans. Inf. Theory 44.
Both from memory.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.table import Directions
from models.evidence.history import History
from models.evidence.noise import Noise
from models.series import STRAYING, TRIMS

LAGS: Final = (6, 9, 13, 18, 25, 35, 49, 69, 97, 137, 193, 272)
"""Candidate ages of an onset [days], each about 1.4 times the last."""

SHAPES: Final = ("ramp", "step")

TEMPLATES: Final = tuple((lag, shape) for lag in LAGS for shape in SHAPES)
"""Every (age, shape) tried, in the order of the T axis."""

INDIFFERENT: Final = 0.07
"""A change below this share of the size at which drivers complain is not worth a ticket; chosen by us: sound
vehicles wander by that much over months."""

INDIFFERENT_TRIM: Final = 0.15
"""The same for directions with learned trims, which wander more."""

BORNE_OUT: Final = 4.0
"""How much more than its witnesses alone a nuisance may explain; chosen by us."""

ROUGHLY: Final = 4.0
"""Readings that the long-run scatter is worth beside those of a window, where single readings stray; chosen
by us."""

DOUBTED: Final = (30.0, 6.0)
"""Readings and deviation beyond which a window is doubted no less and no more; chosen by us: of a plain shift
its best onset leads, not its longest window."""

MIN_DAYS: Final = 3
"""A series speaks only with readings on this many days since the onset: one reading never raises a ticket."""

MIN_BEFORE: Final = 4
"""Days with readings before the onset without which nothing can be called a change; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Evidence by vehicle, template and series, each of shape (n, T, S).

    Parameters
    ----------
    z : float64 array
        Standardised estimate of the change; 0 where the series has nothing to say.
    root_information : float64 array
        Square root of the information on the size of the change [1 / series' unit]; the estimate of the
        change itself is `z / root_information`.
    """

    z: NDArray[np.float64]
    root_information: NDArray[np.float64]

    def doubted(self, error: NDArray[np.float64]) -> "Evidence":
        """Add an error to that of each change; sizes of the changes stay.

        Parameters
        ----------
        error : float64 array, broadcast to shape (n, T, S)
            Standard error [series' unit].
        """
        held = np.sqrt(1.0 + (self.root_information * error) ** 2)
        return Evidence(z=self.z / held, root_information=self.root_information / held)


def weigh(
    history: History,
    *,
    day: int,
    start: NDArray[np.int32],
    noise: Noise,
    group: NDArray[np.int32],
    spread: NDArray[np.float64],
    rows: NDArray[np.int64],
    least: tuple[int, int] = (MIN_DAYS, MIN_BEFORE),
) -> Evidence:
    """Hold every series against every template on one day.

    Parameters
    ----------
    history : History
        Residuals less the like vehicles' level.
    day : int
        Evaluation day.
    start : int32 array of shape (n, S)
        First day of each running baseline segment of the vehicles in `rows`.
    noise : Noise
    group : int32 array of shape (n,)
        Like vehicles of each of them.
    spread : float64 array of shape (n, S)
        Standard deviation between like vehicles, prior of the own level; inf where unknown.
    rows : int64 array of shape (n,)
        Vehicles to weigh.
    least : tuple of int
        Days with readings since the onset and before it below which a series is silent.

    Returns
    -------
    Evidence
    """
    sigma = noise.sigma[rows]
    now = history.before(day + 1, rows)
    origin = history.before(start, rows)
    whole = history.sums(origin, now)
    prior = sigma**2 * noise.inflate(group, whole.count) / spread**2
    weight = whole.count + prior
    z = np.zeros((len(rows), len(TEMPLATES), start.shape[1]))
    root = np.zeros_like(z)
    for place, lag in enumerate(LAGS):
        low = np.maximum(history.before(day - lag + 1, rows), origin)
        part = history.sums(low, now)
        enough = (part.count >= least[0]) & (whole.count - part.count >= least[1])
        variance = sigma**2 * noise.inflate(group, part.count)
        onset = day - lag - history.first_day
        ramp = _contrast(
            (part.day - onset * part.count) / lag,
            (part.day_squared - 2 * onset * part.day + onset**2 * part.count) / lag**2,
            (part.day_value - onset * part.value) / lag,
            whole.value,
            weight,
        )
        step = _contrast(part.count, part.count, part.value, whole.value, weight)
        for shape, (cross, square) in enumerate((ramp, step)):
            square = np.where(enough & (square > 1e-9), square, np.inf)
            index = 2 * place + shape
            information = np.where(np.isfinite(square), square, 0.0) / variance
            away = np.nan_to_num(cross / np.sqrt(square * variance))
            certain = np.ones_like(away)
            certain[:, STRAYING] = _certainty(away[:, STRAYING], part.count[:, STRAYING])
            root[:, index] = certain * np.sqrt(np.nan_to_num(information))
            z[:, index] = certain * away
    return Evidence(z=z, root_information=root)


def _certainty(z: NDArray[np.float64], count: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the share of a deviation that is left where the scatter of so many readings is only roughly known.

    The root of Student's log-likelihood ratio over the normal one's: near 1 where readings are many or the
    deviation is small.
    """
    most, far = DOUBTED
    share = np.maximum(np.minimum(z**2, far**2) / (np.minimum(count, most) + ROUGHLY), 1e-9)
    return np.sqrt(np.log1p(share) / share)


def _contrast(
    x: NDArray[np.float64],
    xx: NDArray[np.float64],
    xr: NDArray[np.float64],
    total: NDArray[np.float64],
    weight: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sum of products and squares of a template after the own level has been taken off."""
    safe = np.maximum(weight, 1e-9)
    return xr - x * total / safe, xx - x**2 / safe


def likelihood_ratios(
    evidence: Evidence, directions: Directions, correlation: NDArray[np.float64], rows: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Give the log-likelihood ratio of every direction for some vehicle-template pairs.

    Parameters
    ----------
    evidence : Evidence
    directions : Directions
        K directions of the vehicles' sheet.
    correlation : float64 array of shape (S, S)
    rows : int64 array of shape (n, 2)
        Vehicle and template of each pair.

    Returns
    -------
    float64 array of shape (n, K)
        In nats, against the best change of the indifferent size; 0 where the data point the other way. A
        single-series direction counts that series alone; a joint one never more than its series together,
        so that what correlation predicts cannot stand in for what was seen.
    """
    z = evidence.z[rows[:, 0], rows[:, 1]]
    root = evidence.root_information[rows[:, 0], rows[:, 1]]
    inverse = invert_present(correlation, np.asarray((root > 0).any(axis=0)))
    ratio = np.empty((len(rows), len(directions.shift)))
    single = directions.single
    place = np.abs(directions.shift[single]).argmax(axis=1)
    alone = z[:, place] * np.sign(directions.shift[single, place])
    reach = root[:, place] * np.abs(directions.shift[single, place])
    zone = np.where((directions.shift[:, TRIMS] != 0).any(axis=1), INDIFFERENT_TRIM, INDIFFERENT)
    ratio[:, single] = np.maximum(alone - zone[single] * reach, 0.0) ** 2 / 2.0
    shift = directions.shift[~single]
    along = (z @ inverse * root) @ shift.T
    power = _power(root, shift, inverse)
    known = power > 1e-9
    error = np.sqrt(np.where(known, power, 1.0))
    beyond = np.where(known, along / error - zone[~single] * error, 0.0)
    up, down = (shift > 0).astype(np.float64), (shift < 0).astype(np.float64)
    agreeing = np.maximum(z, 0.0) ** 2 @ up.T + np.minimum(z, 0.0) ** 2 @ down.T
    ratio[:, ~single] = np.minimum(np.maximum(beyond, 0.0) ** 2, agreeing) / 2.0
    return np.maximum(ratio - _excuses(z, root, directions, inverse), 0.0)


def _excuses(
    z: NDArray[np.float64],
    root: NDArray[np.float64],
    directions: Directions,
    inverse: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Give what the best nuisance explains of each direction's evidence, either sign, shape (n, K).

    It explains no more than `BORNE_OUT` times what its witnesses say by themselves.
    """
    fit = np.minimum(
        _fit(z, root, directions.excuse, inverse),
        BORNE_OUT * _fit(z, root, directions.witness, inverse),
    )
    return np.asarray((fit[:, :, None] * directions.excused[None, :, :]).max(axis=1))


def _fit(
    z: NDArray[np.float64],
    root: NDArray[np.float64],
    shift: NDArray[np.float64],
    inverse: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Log-likelihood ratio of the best size of each direction, either sign, shape (n, N)."""
    power = _power(root, shift, inverse)
    along = (z @ inverse * root) @ shift.T
    return np.where(power > 1e-9, along**2 / (2.0 * np.where(power > 1e-9, power, 1.0)), 0.0)


def _power(
    root: NDArray[np.float64], shift: NDArray[np.float64], inverse: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Information on the size of the fault along each direction, shape (n, K).

    Directions name few series, so only the pairs that some direction names together are multiplied out.
    """
    one, other = np.nonzero(np.triu((shift != 0).T.astype(np.int64) @ (shift != 0)))
    weight = shift[:, one] * shift[:, other] * inverse[one, other] * np.where(one == other, 1.0, 2.0)
    return (root[:, one] * root[:, other]) @ weight.T


def invert_present(correlation: NDArray[np.float64], present: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Invert the part of a correlation matrix that is present; zero elsewhere, shape (S, S)."""
    inverse = np.zeros_like(correlation)
    part = np.ix_(present, present)
    inverse[part] = np.linalg.inv(correlation[part])
    return inverse
