"""How much a few series changed since each candidate onset, read off with later readings known.

The watch over the whole fleet (`models.evidence.scan`) pulls a wild reading towards those before it, because
a number that it used must never change: the first readings after a step are then held back, and a young step
looks like a ramp. Where a finding stands only a few series are looked at, and the same reading can be held
against its neighbours on both sides, which leaves the edge of a step where it is.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import WILD, middle_of_windows
from models.evidence.loads import doubts
from models.evidence.scan import LAGS, MIN_BEFORE, MIN_DAYS
from models.telling.forecast import Shifts
from models.verdict.scene import Scene

PARTS: Final = 2
"""Steps between two candidate ages of the watch: with many clear readings the likelihood is narrower than
their grid, and slopes read off at the grid's ages alone would miss the true one; chosen by us from simulated
ramps."""

_PLACE: Final = np.arange((len(LAGS) - 1) * PARTS + 1) / PARTS
_LEFT: Final = np.minimum(_PLACE.astype(np.int64), len(LAGS) - 2)
_RIGHT: Final = _PLACE - _LEFT

ONSETS: Final = np.round(
    np.exp((1 - _RIGHT) * np.log(np.array(LAGS)[_LEFT]) + _RIGHT * np.log(np.array(LAGS)[_LEFT + 1])), 9
)
"""Candidate ages [days], shape (A,)."""

NEIGHBOURS: Final = 3
"""Readings on either side whose median decides, with the reading itself, what is wild: as many in all as
`history.CLIP_LEAST`; the newest readings have fewer."""


def refine(shifts: Shifts) -> Shifts:
    """Read shifts at the ages of the watch, shape (n, len(LAGS)), off at `ONSETS`."""
    known = shifts.root > 0
    safe = np.where(known, shifts.root, 1.0)
    tried = (known[:, _LEFT] | (_RIGHT == 1)) & (known[:, _LEFT + 1] | (_RIGHT == 0))
    size = _between(np.where(known, shifts.z / safe, 0.0), known)
    error = _between(np.where(known, 1.0 / safe, 0.0), known)
    tried &= error > 0
    root = np.where(tried, 1.0 / np.where(tried, error, 1.0), 0.0)
    return Shifts(z=size * root, root=root)


def _between(values: NDArray[np.float64], known: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Read values off between neighbours, bent as the values around them are where those are known."""
    bend = np.zeros_like(values)
    bend[:, 1:-1] = np.diff(values, 2, axis=1)
    bend[:, 1:-1][~(known[:, :-2] & known[:, 1:-1] & known[:, 2:])] = 0.0
    bend[:, 0], bend[:, -1] = bend[:, 1], bend[:, -2]
    line = (1 - _RIGHT) * values[:, _LEFT] + _RIGHT * values[:, _LEFT + 1]
    bent = (1 - _RIGHT) * bend[:, _LEFT] + _RIGHT * bend[:, _LEFT + 1]
    mixed: NDArray[np.float64] = line - _RIGHT * (1 - _RIGHT) / 2 * bent
    return mixed


def read_onsets(
    scene: Scene,
    *,
    day: int,
    start: NDArray[np.int32],
    vehicle: NDArray[np.int64],
    series: NDArray[np.int64],
) -> tuple[Shifts, Shifts]:
    """Hold n series against a ramp and a step of each age in `ONSETS`, on top of their own level.

    Parameters
    ----------
    scene : Scene
    day : int
        Evaluation day [days since 1970-01-01]; later readings are not looked at.
    start : int32 array of shape (n,)
        First day of the running baseline segment of each.
    vehicle, series : int64 arrays of shape (n,)

    Returns
    -------
    ramps, steps : Shifts
        Each of shape (n, A); root 0 where too few readings lie before or since the onset.
    """
    fit, group = scene.fit, scene.material.group[vehicle]
    place, ends = _readings(scene, day=day, start=start, vehicle=vehicle, series=series)
    counts = np.diff(ends)
    owner = np.repeat(np.arange(len(vehicle)), counts)
    sigma = fit.noise.sigma[vehicle, series]
    value = fit.adjusted[place] - fit.peers.level[group, series][owner]
    value = _pull_in(value, ends, sigma[owner])
    x = (scene.material.seen.day[place] - day).astype(np.float64)
    running = np.zeros((len(place) + 1, 5))
    for column, term in enumerate((np.ones(len(x)), x, x**2, value, value * x)):
        np.cumsum(term, out=running[1:, column])
    reach = float(scene.fit.history.days + LAGS[-1] + 1)
    first = np.searchsorted(
        owner * reach + x, (np.arange(len(vehicle)) * reach)[:, None] - ONSETS[None, :], side="right"
    )
    first = np.maximum(first, ends[:-1, None])
    count, days, squares, total, product = np.moveaxis(running[ends[1:], None] - running[first], 2, 0)
    whole = running[ends[1:]] - running[ends[:-1]]
    before = whole[:, :1] - count
    memory = fit.noise.inflate_at(group[:, None], series[:, None], count)
    prior = sigma**2 * fit.noise.inflate_at(group, series, whole[:, 0])
    weight = np.maximum(whole[:, 0] + prior / fit.peers.spread[group, series] ** 2, 1.0)[:, None]
    variance = sigma[:, None] ** 2 * memory
    loads = doubts(fit.noise.sigma[vehicle])[np.arange(len(vehicle)), series]
    rounded = fit.noise.rounding_of_change[vehicle, series]
    doubt = np.hypot(fit.hidden.share(vehicle, day=day, ages=ONSETS) * loads[:, None], rounded[:, None])
    ramp = (days / ONSETS + count, squares / ONSETS**2 + 2 * days / ONSETS + count, product / ONSETS + total)
    shapes = []
    for along, square, cross in (ramp, (count, count, total)):
        left = square - along**2 / weight
        enough = (count >= MIN_DAYS) & (before >= MIN_BEFORE) & (left > 1e-9)
        left = np.where(enough, left, 1.0)
        root = np.where(enough, np.sqrt(left / variance), 0.0)
        z = np.where(enough, (cross - along * whole[:, 3:4] / weight) / np.sqrt(left * variance), 0.0)
        held = np.sqrt(1.0 + (root * doubt) ** 2)
        shapes.append(Shifts(z=z / held, root=root / held))
    return shapes[0], shapes[1]


def _readings(
    scene: Scene,
    *,
    day: int,
    start: NDArray[np.int32],
    vehicle: NDArray[np.int64],
    series: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the places of each series' usable observations since its start, and where each series' end."""
    history = scene.fit.history
    low, high = history.place(vehicle, series, start), history.place(vehicle, series, day + 1)
    count = np.maximum(high - low, 0)
    place = np.arange(count.sum()) + np.repeat(low - np.cumsum(count) + count, count)
    kept = scene.material.usable[place]
    ends = np.concatenate(([0], np.cumsum(kept)))[np.concatenate(([0], np.cumsum(count)))]
    return place[kept], ends


def _pull_in(
    value: NDArray[np.float64], ends: NDArray[np.int64], sigma: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Pull each reading to within `WILD` sigma of the median of itself and its neighbours in its series."""
    if not len(value):
        return value
    owner_first = np.repeat(ends[:-1], np.diff(ends))
    owner_last = np.repeat(ends[1:] - 1, np.diff(ends))
    place = np.arange(len(value))[:, None] + np.arange(-NEIGHBOURS, NEIGHBOURS + 1)[None, :]
    inside = (place >= owner_first[:, None]) & (place <= owner_last[:, None])
    window = np.where(inside, value[np.clip(place, 0, len(value) - 1)], np.inf)
    middle = middle_of_windows(window, inside.sum(axis=1))
    return np.clip(value, middle - WILD * sigma, middle + WILD * sigma)
