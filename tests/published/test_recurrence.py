"""Mean cumulative function: published recurrence data.

Valve-seat replacements on 41 diesel engines of one fleet: W. Nelson, Technometrics 37 (1995) 147-157; the
data as printed in a statistics package's public sample library. The estimates and standard errors below are
those of its listing, from memory.
"""

import numpy as np
import pytest

from models.money.recurrence import mean_cumulative

WATCHED = (
    761, 759, 667, 667, 665, 667, 663, 653, 653, 651, 650, 648, 644, 642, 641, 649, 631, 596, 614, 582, 589,
    593, 589, 606, 594, 613, 595, 389, 601, 601, 611, 608, 587, 603, 585, 587, 578, 578, 586, 585, 582,
)  # fmt: skip
REPLACED = {
    2: (98,), 3: (326, 653, 653), 5: (84,), 6: (87,), 7: (646,), 8: (92,), 10: (258, 328, 377, 621),
    11: (61, 539), 12: (254, 276, 298, 640), 13: (76, 538), 14: (635,), 15: (349, 404, 561), 18: (120, 479),
    19: (323, 449), 20: (139, 139), 22: (573,), 23: (165, 408, 604), 24: (249,), 25: (344, 497),
    26: (265, 586), 27: (166, 206, 348), 29: (410, 581), 33: (367,), 34: (202, 563, 570),
}  # fmt: skip
LISTED = {
    61: (0.024, 0.024), 76: (0.049, 0.034), 84: (0.073, 0.041), 87: (0.098, 0.047), 92: (0.122, 0.052),
    98: (0.146, 0.056), 120: (0.171, 0.059),
}  # fmt: skip


def engines() -> tuple[np.ndarray, ...]:
    """Give unit, age and amount of each replacement, and how long each engine was watched."""
    events = [(unit, float(age)) for unit, ages in REPLACED.items() for age in ages]
    unit, age = (np.array(column) for column in zip(*events, strict=True))
    return unit.astype(np.int64), age, np.ones(len(events)), np.array(WATCHED, dtype=np.float64)


def test_valve_seats() -> None:
    """48 replacements on 41 engines give the listed estimates and standard errors, to the last figure."""
    unit, age, amount, watched = engines()
    assert (len(watched), len(unit)) == (41, 48)

    found = mean_cumulative(unit, age, amount, watched)

    for at, (mean, error) in LISTED.items():
        place = int(np.flatnonzero(found.age == at)[0])
        assert round(float(found.mean[place]), 3) == mean
        assert round(float(found.variance[place]) ** 0.5, 3) == error


def test_artificial_costs() -> None:
    """Nelson's artificial costs of six systems: each step is the mean over the systems still watched."""
    events = {
        0: ((19, 2), (39, 2)), 1: ((8, 2), (14, 1), (26, 1)), 2: ((18, 3),), 3: ((16, 2), (2, 1), (8, 1)),
        5: ((5, 3), (12, 1)),
    }  # fmt: skip
    rows = [(unit, age, cost) for unit, pairs in events.items() for age, cost in pairs]
    unit, age, cost = (np.array(column) for column in zip(*rows, strict=True))
    watched = np.array([42.0, 33.0, 29.0, 20.0, 16.0, 12.0])

    found = mean_cumulative(unit.astype(np.int64), age.astype(float), cost.astype(float), watched)

    steps = [1 / 6, 3 / 6, 3 / 6, 1 / 6, 1 / 5, 2 / 5, 3 / 4, 2 / 4, 1 / 3, 2 / 1]
    assert found.age.tolist() == [2, 5, 8, 12, 14, 16, 18, 19, 26, 39]
    assert found.mean.tolist() == pytest.approx(np.cumsum(steps).tolist())
