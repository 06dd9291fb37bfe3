"""Idle loads that a vehicle does not report: its idle air says less.

A compressor or a gear adds as much idle air as a good part of a fault. Vehicles that report their load
switches have that taken out. One that does not, among like vehicles that do, may simply have begun to run its
compressor, and no number of readings says otherwise.
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


def hidden_loads(
    seen: Observations, taught: NDArray[np.bool_], group: NDArray[np.int32]
) -> NDArray[np.bool_]:
    """Say which vehicles report load switches on few idles while most like vehicles do on most.

    Parameters
    ----------
    seen : Observations
    taught : bool array of shape (k,)
        Observations to learn from.
    group : int32 array of shape (V,)

    Returns
    -------
    bool array of shape (V,)
    """
    vehicles = len(group)
    row = np.flatnonzero(LOADED[seen.series] & taught)
    told = np.isfinite(seen.covariate(row, LOADS)).any(axis=1)
    idles = np.bincount(seen.vehicle[row], minlength=vehicles)
    share = np.bincount(seen.vehicle[row], told, minlength=vehicles) / np.maximum(idles, 1)
    hidden = (share < 0.5) & (idles > 0)
    groups = int(group.max(initial=0)) + 1
    telling = np.bincount(group, (share >= 0.5) & (idles > 0), minlength=groups)
    asked = np.bincount(group, idles > 0, minlength=groups)
    return np.asarray(hidden & (telling[group] > 0.5 * asked[group]))


def doubts() -> NDArray[np.float64]:
    """Give the spread of what unreported loads do to each series, shape (S,) [series' unit]."""
    return np.where(LOADED, UNREPORTED * typical_shift(), 0.0)


def doubt_loads(evidence: Evidence, hidden: NDArray[np.bool_]) -> Evidence:
    """Let idle air of vehicles with hidden loads say no more than such loads leave open.

    Parameters
    ----------
    evidence : Evidence
        Of V vehicles.
    hidden : bool array of shape (V,)

    Returns
    -------
    Evidence
        The spread of loads added to the error of each change; sizes of the changes stay.
    """
    doubt = doubts()
    z, root = evidence.z.copy(), evidence.root_information.copy()
    held = np.sqrt(1.0 + (root[hidden] * doubt) ** 2)
    z[hidden] /= held
    root[hidden] /= held
    return replace(evidence, z=z, root_information=root)
