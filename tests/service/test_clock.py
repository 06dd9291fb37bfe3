"""The clock tells aware UTC times."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from service.clock import Clock


def test_tells_utc() -> None:
    """A reader in another zone is turned into UTC."""
    summer = datetime(2031, 7, 1, 14, 0, tzinfo=timezone(timedelta(hours=2)))

    assert Clock(lambda: summer).now() == datetime(2031, 7, 1, 12, 0, tzinfo=UTC)
    assert Clock(lambda: summer).now().tzinfo is UTC


def test_refuses_time_without_zone() -> None:
    """A reader that does not tell its zone is a mistake."""
    with pytest.raises(ValueError, match="must tell its zone"):
        Clock(lambda: datetime(2031, 7, 1)).now()  # noqa: DTZ001 (that is the fault under test)


def test_present_time_has_its_zone() -> None:
    """The real clock goes forward and is aware."""
    clock = Clock()
    first = clock.now()

    assert first.tzinfo is UTC
    assert clock.now() >= first
