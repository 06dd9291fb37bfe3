"""Idle loads that a vehicle does not report: its idle air says less.

A compressor or a gear adds as much idle air as a good part of a fault. Vehicles that report their load
switches have that taken out. One that does not may simply have begun to run its compressor, and no number of
readings says otherwise.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.table import typical_shift
from models.evidence.scan import Evidence
from models.series import LOADED, LOADS, Observations

UNREPORTED: Final = 0.10
"""Spread of what unreported loads do, as a share of the shift at which drivers complain; chosen by us."""

OF_NOISE: Final = 0.5
"""The same as a share of the noise of one reading, if that is more; chosen by us: where loads come and go
unreported they are most of that noise."""


def hidden_loads(seen: Observations, taught: NDArray[np.bool_], vehicles: int) -> NDArray[np.bool_]:
    """Say which vehicles report load switches on fewer than half of their idles.

    Parameters
    ----------
    seen : Observations
    taught : bool array of shape (k,)
        Observations to learn from.
    vehicles : int
        How many there are, V.

    Returns
    -------
    bool array of shape (V,)
    """
    row = np.flatnonzero(LOADED[seen.series] & taught)
    told = np.isfinite(seen.covariate(row, LOADS)).any(axis=1)
    idles = np.bincount(seen.vehicle[row], minlength=vehicles)
    share = np.bincount(seen.vehicle[row], told, minlength=vehicles) / np.maximum(idles, 1)
    return np.asarray((share < 0.5) & (idles > 0))


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


def doubt_loads(evidence: Evidence, hidden: NDArray[np.bool_], sigma: NDArray[np.float64]) -> Evidence:
    """Let idle air of vehicles with hidden loads say no more than such loads leave open.

    Parameters
    ----------
    evidence : Evidence
        Of V vehicles.
    hidden : bool array of shape (V,)
    sigma : float64 array of shape (V, S)
        Noise of one reading.

    Returns
    -------
    Evidence
        The spread of loads added to the error of each change; sizes of the changes stay.
    """
    doubt = doubts(sigma[hidden])[:, None, :]
    z, root = evidence.z.copy(), evidence.root_information.copy()
    held = np.sqrt(1.0 + (root[hidden] * doubt) ** 2)
    z[hidden] /= held
    root[hidden] /= held
    return replace(evidence, z=z, root_information=root)
