"""What every step of a day's evaluation looks at, in one value."""

from dataclasses import dataclass

from models.alarm.levels import Levels
from models.alarm.limits import Bands, Medians
from models.alarm.switches import Runs
from models.causes.table import Directions
from models.changes.beginnings import Beginning
from models.changes.returns import Falls
from models.changes.swaps import Swaps
from models.learning.fit import Fit, Material
from models.panel import Fleet, Wish


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """The fleet as it is known under one fit.

    Parameters
    ----------
    fleet : Fleet
    material : Material
        Observations, groups and resets, independent of any fit.
    fit : Fit
        Learned from everything up to its date.
    tables : tuple of Directions
        Directions of every sheet that may raise a ticket, and last of vehicles without one.
    naming : tuple of Directions
        The same with those that only name a cause.
    bands, medians
        The sheets' limits and what is held against them.
    runs : Runs
        Switches that read on without a break.
    swaps : Swaps
        Changed loggers, and which series step at them.
    falls : Falls
        Series that came back towards their past.
    beginnings : tuple of Beginning
        What may begin segments, in the order in which it becomes known.
    levels : Levels
        Evidence needed for each tier.
    wish : Wish
    """

    fleet: Fleet
    material: Material
    fit: Fit
    tables: tuple[Directions, ...]
    naming: tuple[Directions, ...]
    bands: Bands
    medians: Medians
    runs: Runs
    swaps: Swaps
    falls: Falls
    beginnings: tuple[Beginning, ...]
    levels: Levels
    wish: Wish
