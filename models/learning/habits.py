"""How often a driver has a load switch on, by air temperature: learned from like vehicles.

For each switch and like vehicles, logit p = a + f(air temperature) + u, u normal with a spread of its own:
nobody cools in the cold, in the heat some always do and some never. The spread between drivers is integrated
over a few points, and so is what a driver's own readings say of his or her habit.

References
----------
Breslow, N. E. and Clayton, D. G. (1993). Approximate inference in generalized linear mixed models. J. Amer.
Statist. Assoc. 88, 9-25; fitted here by expectation and maximisation over the points. From memory.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import clip_to_neighbours
from models.series import AIR, SERIES, Observations

POINTS: Final = np.linspace(-2.0, 2.0, 7)
"""Habits a driver may have [spreads from the ordinary one]; chosen by us: beyond two, a stuck switch is
likelier than a driver. With three, long runs in the cold passed for drivers on tuning fleets."""

PRIOR: Final = np.exp(-(POINTS**2) / 2.0) / np.exp(-(POINTS**2) / 2.0).sum()
"""Share of drivers at each point."""

LEAST: Final = 0.03
MOST: Final = 0.97
"""Bounds of the chance of "on": some readings are neither weather's nor driver's doing; chosen by us. At
0.02 three cold readings in a row were enough for a ticket, and sound vehicles showed three."""

WEATHER: Final = 1.5
"""How far air temperatures of neighbouring readings may lie apart [10 K]; chosen by us: morning and noon."""

_SPREAD: Final = (0.5, 2.5)
"""Bounds of the spread between drivers [logit]; chosen by us."""

_FAR: Final = 2.25
"""Square of the distance that a driver counts with, at most, for the spread; chosen by us: 1.5 spreads. A
vehicle whose switch is stuck must not widen what drivers are believed to do."""

_USUALLY_FAR: Final = float(np.minimum(POINTS**2, _FAR) @ PRIOR)

_BEND_AT: Final = (0.25, 0.5, 0.75)
"""Where in the temperatures met the response may bend: with three bends it fits S-shapes of any width."""

_RIDGE: Final = 1.0
"""Prior weight of slopes, of one logit per 10 K; chosen by us, as in `models.learning.adjust`."""

_ENOUGH: Final = 4_000
"""Readings of like vehicles beyond which only every other, third, ... teaches: more say the same."""

_ROUNDS: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Habit:
    """The habit of like drivers with one switch.

    Parameters
    ----------
    centre : float
        Mean air temperature of the readings it was learned from, which stands in where none was read [10 K].
    bends : float64 array of shape (b,)
        Temperatures at which the response may bend [10 K from the centre]; none without air temperature.
    slopes : float64 array of shape (1 + (b > 0) + b,)
        Level and slopes [logit, per 10 K].
    doubt : float64 array of shape (slopes, slopes)
        Covariance of the slopes' errors: large in weather that has not been met yet.
    spread : float
        Standard deviation between drivers [logit].
    """

    centre: float
    bends: NDArray[np.float64]
    slopes: NDArray[np.float64]
    doubt: NDArray[np.float64]
    spread: float

    def chances(self, air: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the chance of "on" at some air temperatures [10 K], by `POINTS`; shape (n, points)."""
        terms = _terms(air, self.centre, self.bends)
        reach = np.sqrt(self.spread**2 + np.einsum("ni,ij,nj->n", terms, self.doubt, terms))
        return _within(_logistic((terms @ self.slopes)[:, None] + reach[:, None] * POINTS))


def steady_air(seen: Observations, rows: NDArray[np.int64], vehicles: int) -> NDArray[np.float64]:
    """Give the air temperature of some readings of switches, as far as it can be believed.

    One not read is that of the reading before. A single wild one must not turn a hot day into a cold one: it
    is pulled to within `WEATHER` of the median of itself and those before.

    Parameters
    ----------
    seen : Observations
    rows : int64 array of shape (n,)
        Places among the observations, ascending.
    vehicles : int

    Returns
    -------
    float64 array of shape (n,)
        [10 K]; NaN where a switch has no earlier reading with one.
    """
    part = seen.take(rows)
    if not len(part):
        return np.empty(0)
    air = seen.covariate(rows, np.array([AIR]))[:, 0]
    place = np.arange(len(rows))
    start = np.maximum.accumulate(np.where(np.diff(part.cell, prepend=-1) != 0, place, 0))
    air = air[np.maximum.accumulate(np.where(np.isfinite(air), place, start))]
    reach = np.full((vehicles, len(SERIES)), WEATHER)
    return clip_to_neighbours(part, air, reach, part.cell, np.ones(len(air), dtype=bool), width=1.0)


def learn_habits(
    seen: Observations,
    rows: NDArray[np.int64],
    air: NDArray[np.float64],
    taught: NDArray[np.bool_],
    group: NDArray[np.int32],
) -> dict[tuple[int, int], Habit]:
    """Learn the habits of like vehicles.

    Parameters
    ----------
    seen : Observations
    rows : int64 array of shape (n,)
        Readings of switches: shares of a day's readings that were "on".
    air : float64 array of shape (n,)
        See `steady_air`.
    taught : bool array of shape (n,)
        Readings to learn from.
    group : int32 array of shape (V,)

    Returns
    -------
    dict of (like vehicles, series) to Habit
        Of every pair with readings, taught or not.
    """
    like, series = group[seen.vehicle[rows]].astype(np.int64), seen.series[rows].astype(np.int64)
    cell = like * len(SERIES) + series
    found = {}
    for number in np.unique(cell).tolist():
        mine = np.flatnonzero((cell == number) & taught)
        mine = mine[:: len(mine) // _ENOUGH + 1]
        place, which = divmod(number, len(SERIES))
        weather = "air_temperature" in SERIES[which].explained_by
        found[place, which] = _fit(
            air[mine] if weather else None, seen.value[rows[mine]], seen.vehicle[rows[mine]]
        )
    return found


def _fit(air: NDArray[np.float64] | None, value: NDArray[np.float64], vehicle: NDArray[np.int32]) -> Habit:
    known = np.empty(0) if air is None else air[np.isfinite(air)]
    centre = float(known.mean()) if len(known) else 0.0
    bends = np.unique(np.quantile(known - centre, _BEND_AT)) if len(known) else np.empty(0)
    terms = _terms(np.zeros(len(value)) if air is None else air, centre, bends)
    _, driver = np.unique(vehicle, return_inverse=True)
    share = (value.sum() + 0.5) / (len(value) + 1.0)
    slopes = np.zeros(terms.shape[1])
    slopes[0] = np.log(share / (1.0 - share))
    spread = 1.0
    ridge = _RIDGE * np.eye(len(slopes))
    ridge[0, 0] = 1e-3
    sharpness = ridge
    for _ in range(_ROUNDS if len(value) else 0):
        wish = _logistic((terms @ slopes)[:, None] + spread * POINTS)
        chance = _within(wish)
        on, off = value[:, None], 1.0 - value[:, None]
        fits = on * np.log(chance) + off * np.log1p(-chance)
        belief = np.log(PRIOR) + np.stack([np.bincount(driver, column) for column in fits.T], axis=1)
        belief = np.exp(belief - belief.max(axis=1, keepdims=True))
        belief /= belief.sum(axis=1, keepdims=True)
        meant = (MOST - LEAST) * (on * wish / chance + off * (1.0 - wish) / (1.0 - chance))
        weight = belief[driver] * meant
        sharpness = (terms * (weight * wish * (1.0 - wish)).sum(axis=1)[:, None]).T @ terms + ridge
        pull = (weight * (value[:, None] - wish)).sum(axis=1)
        slopes = slopes + np.linalg.solve(sharpness, terms.T @ pull - ridge @ slopes)
        far = (belief @ np.minimum(POINTS**2, _FAR)).mean()
        spread = float(np.clip(spread * np.sqrt(far / _USUALLY_FAR), *_SPREAD))
    return Habit(
        centre=centre,
        bends=bends,
        slopes=slopes,
        doubt=np.asarray(np.linalg.inv(sharpness), np.float64),
        spread=spread,
    )


def _terms(air: NDArray[np.float64], centre: float, bends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Level, slope and bends at each temperature; an unknown one is ordinary."""
    if not len(bends):
        return np.ones((len(air), 1))
    away = np.nan_to_num(air - centre)
    return np.column_stack((np.ones(len(air)), away, np.maximum(away[:, None] - bends, 0.0)))


def _within(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Leave room for readings that are neither weather's nor driver's doing."""
    return LEAST + (MOST - LEAST) * chance


def _logistic(x: NDArray[np.float64]) -> NDArray[np.float64]:
    found: NDArray[np.float64] = 1.0 / (1.0 + np.exp(-x))
    return found
