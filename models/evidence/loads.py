"""Idle loads that a vehicle does not report: in compressor weather its idle air says less.

A compressor or a gear adds as much idle air as a good part of a fault. Vehicles that report their load
switches have that taken out. One that does not may simply have begun to run its compressor, and no number of
readings says otherwise: but nobody cools in the cold.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.table import typical_shift
from models.evidence.scan import SHAPES, Evidence
from models.series import AIR, LOADED, LOADS, Observations

UNREPORTED: Final = 0.10
"""Spread of what unreported loads do, as a share of the shift at which drivers complain; chosen by us."""

OF_NOISE: Final = 0.5
"""The same as a share of the noise of one reading, if that is more; chosen by us: where loads come and go
unreported they are most of that noise."""

COMPRESSOR_WEATHER: Final = (1.0, 1.8)
"""Air temperatures below which compressors rest and above which any may run [10 K], a straight line between;
chosen by us: of sound vehicles that tell no loads, on tuning fleets of three makers, idle air of the last 25
days stood two errors high in 0.3 % of 670 windows below 12 degC and in 4.2 % of 577 from 18 to 24 degC."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HiddenLoads:
    """Who does not report idle loads, and in what weather those vehicles idled; h of V vehicles.

    Parameters
    ----------
    first_day : int
    place : int32 array of shape (V,)
        Row of each vehicle in the sums; -1 of those that report.
    idles, warm : float32 arrays of shape (h, days + 1)
        Sums over readings at idle before each day: of 1, and of how much each had compressor weather.
    """

    first_day: int
    place: NDArray[np.int32]
    idles: NDArray[np.float32]
    warm: NDArray[np.float32]

    def share(self, rows: NDArray[np.int64], *, day: int, ages: NDArray[np.float64]) -> NDArray[np.float64]:
        """Say how much of the readings since so many days may be a compressor's, shape (n, A).

        Parameters
        ----------
        rows : int64 array of shape (n,)
            Vehicles.
        day : int
            Evaluation day.
        ages : float64 array of shape (A,)
            Lengths of windows that end with it [days].

        Returns
        -------
        float64 array of shape (n, A)
            0 to 1; 0 of vehicles that report their loads.
        """
        found = np.zeros((len(rows), len(ages)))
        hiding = np.flatnonzero(self.place[rows] >= 0)
        mine = self.place[rows[hiding]][:, None]
        last = self.idles.shape[1] - 1
        after = day + 1 - self.first_day
        now, then = np.clip(after, 0, last), np.clip(after - ages.astype(np.int64), 0, last)[None, :]
        idles = self.idles[mine, now] - self.idles[mine, then]
        warm = self.warm[mine, now] - self.warm[mine, then]
        found[hiding] = np.where(idles > 0, warm / np.maximum(idles, 1.0), 1.0)
        return found


def hidden_loads(
    seen: Observations, taught: NDArray[np.bool_], vehicles: int, days: tuple[int, int]
) -> HiddenLoads:
    """Find the vehicles that report load switches on fewer than half of their idles.

    Parameters
    ----------
    seen : Observations
    taught : bool array of shape (k,)
        Observations to learn from.
    vehicles : int
        How many there are, V.
    days : (first, last)
        Days that the observations span.

    Returns
    -------
    HiddenLoads
        A reading without air temperature may have had any weather.
    """
    row = np.flatnonzero(LOADED[seen.series])
    vehicle, learned = seen.vehicle[row], taught[row]
    told = np.asarray(np.isfinite(seen.covariate(row, LOADS)).any(axis=1))
    idles = np.bincount(vehicle[learned], minlength=vehicles)
    share = np.bincount(vehicle[learned], told[learned], minlength=vehicles) / np.maximum(idles, 1)
    hiding = np.flatnonzero((share < 0.5) & (idles > 0))
    place = np.full(vehicles, -1, np.int32)
    place[hiding] = np.arange(len(hiding))
    row = row[place[vehicle] >= 0]
    coldest, warmest = COMPRESSOR_WEATHER
    warm = (seen.covariate(row, np.array([AIR]))[:, 0] - coldest) / (warmest - coldest)
    first, last = days
    length = last - first + 2
    cell = place[seen.vehicle[row]].astype(np.int64) * length + seen.day[row] - first + 1
    weights = np.nan_to_num(np.clip(warm, 0.0, 1.0), nan=1.0)

    def run(weight: NDArray[np.float64] | None) -> NDArray[np.float32]:
        daily = np.bincount(cell, weight, minlength=len(hiding) * length).reshape(len(hiding), length)
        return np.asarray(np.cumsum(daily, axis=1), np.float32)

    return HiddenLoads(first_day=first, place=place, idles=run(None), warm=run(weights))


def doubts(sigma: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the spread of what unreported loads do to each series [series' unit].

    Parameters
    ----------
    sigma : float64 array of shape (..., S)
        Noise of one reading of vehicles with hidden loads.

    Returns
    -------
    float64 array of shape (..., S)
    """
    return np.where(LOADED, np.maximum(UNREPORTED * typical_shift(), OF_NOISE * sigma), 0.0)


def doubt_loads(evidence: Evidence, share: NDArray[np.float64], sigma: NDArray[np.float64]) -> Evidence:
    """Let idle air of vehicles with hidden loads say no more than such loads leave open.

    Parameters
    ----------
    evidence : Evidence
        Of n vehicles.
    share : float64 array of shape (n, len(LAGS))
        See `HiddenLoads.share`, of the ages of `LAGS`.
    sigma : float64 array of shape (n, S)
        Noise of one reading.

    Returns
    -------
    Evidence
        The spread of loads added to the error of each change; sizes of the changes stay.
    """
    return evidence.doubted(share.repeat(len(SHAPES), axis=1)[:, :, None] * doubts(sigma)[:, None, :])
