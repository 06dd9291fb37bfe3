"""How many sign-ins may fail before the next one has to wait.

Tries are counted by the login that was typed and by the address that they come from, whether or not there is
such an account: what is answered tells nothing of it.
"""

import hashlib
from datetime import timedelta
from typing import Final

FREE_TRIES: Final = 5
"""Tries for one login before the first wait; chosen by us: a forgotten password takes three or four."""

FREE_TRIES_ADDRESS: Final = 50
"""The same from one address; chosen by us: a whole workshop may stand behind one."""

FIRST_WAIT: Final = timedelta(minutes=1)
LONGEST_WAIT: Final = timedelta(minutes=15)
"""Each further failure doubles the wait up to this; chosen by us: about a hundred guesses a day are left."""

FORGET_AFTER: Final = timedelta(hours=24)
"""Without a try for so long, counting starts anew; chosen by us."""


def key_of(kind: str, text: str) -> str:
    """Give the key under which tries are counted: it tells neither login nor address.

    Parameters
    ----------
    kind : str
        `login` or `address`.
    text : str
        As typed, or as the connection says.
    """
    return hashlib.sha256(f"{kind}:{text.strip().casefold()}".encode("utf-8", "replace")).hexdigest()


def wait_after(failures: int, free: int = FREE_TRIES) -> timedelta:
    """Give how long the next try has to wait.

    Parameters
    ----------
    failures : int
        Counted so far, this one included.
    free : int
        How many have no wait.

    Examples
    --------
    >>> [wait_after(count).seconds for count in (4, 5, 6, 7, 60)]
    [0, 60, 120, 240, 900]
    """
    if failures < free:
        return timedelta()
    doublings = min(failures - free, 10)
    wait: timedelta = FIRST_WAIT * 2**doublings
    return min(wait, LONGEST_WAIT)
