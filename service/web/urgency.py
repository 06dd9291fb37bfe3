"""The five words that say where a vehicle stands."""

from typing import Final, get_args

from dashboards.rows import Urgency

URGENCIES: Final[tuple[Urgency, ...]] = get_args(Urgency)
"""The most urgent first."""


def as_urgency(word: str) -> Urgency:
    """Take a vehicle's word for what it is; a vehicle that no evaluation has seen cannot be judged.

    Examples
    --------
    >>> as_urgency("watch"), as_urgency("learning")
    ('watch', 'cannot_say')
    """
    return next((one for one in URGENCIES if one == word), "cannot_say")
