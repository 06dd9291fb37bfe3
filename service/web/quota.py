"""How much each token may send: a bucket that fills at an even pace, in the memory of one process."""

import threading
from dataclasses import dataclass, field
from datetime import datetime
from math import ceil


@dataclass(slots=True)
class Quota:
    """Counts requests by token. Each process counts for itself: several give a token as many shares."""

    _left: dict[str, tuple[float, datetime]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False)

    def take(self, name: str, now: datetime, per_minute: int) -> int:
        """Take one request from a token's bucket.

        Parameters
        ----------
        name : str
            Of the token.
        now : datetime
            Aware.
        per_minute : int
            What the bucket holds, and what flows into it in a minute.

        Returns
        -------
        int
            0 when the request may pass; else seconds until the next may.

        Examples
        --------
        >>> from datetime import UTC
        >>> at, quota = datetime(2031, 3, 4, tzinfo=UTC), Quota()
        >>> [quota.take("logger", at, 2) for _ in range(3)]
        [0, 0, 30]
        """
        with self._lock:
            left, since = self._left.get(name, (float(per_minute), now))
            pace = per_minute / 60
            left = min(float(per_minute), left + max(0.0, (now - since).total_seconds()) * pace)
            passes = left >= 1
            self._left[name] = (left - 1 if passes else left, now)
            return 0 if passes else max(1, ceil((1 - left) / pace))
