"""What can go wrong when the schedule works.

ScheduleError
├── UnknownZone         the fleet's time zone has no such name
├── WrongSpan           the dates of a replay do not make a span
├── ReplayRefused       tickets or evaluations stand in the way of a replay
└── TooContested        other writers changed the same tickets again and again
"""

# ruff: noqa: N818  (an error here is named after the fact it states)


class ScheduleError(Exception):
    """Base of everything the schedule raises on purpose."""

    code = "schedule-error"


class UnknownZone(ScheduleError):
    """The fleet's time zone has no such name."""

    code = "unknown-time-zone"

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"There is no time zone {name!r}; allowed are IANA names such as Europe/Vienna.")


class WrongSpan(ScheduleError):
    """The dates of a replay do not make a span."""

    code = "wrong-span"

    def __init__(self, detail: str) -> None:
        self.detail = detail
        super().__init__(f"Cannot replay: {detail}")


class ReplayRefused(ScheduleError):
    """Tickets or evaluations stand in the way of a replay."""

    code = "replay-refused"

    def __init__(self, detail: str) -> None:
        self.detail = detail
        super().__init__(f"Cannot replay: {detail}")


class TooContested(ScheduleError):
    """Other writers changed the same tickets again and again."""

    code = "too-contested"

    def __init__(self, attempts: int) -> None:
        self.attempts = attempts
        super().__init__(
            f"The tickets were changed by others {attempts} times while being written; try again."
        )
