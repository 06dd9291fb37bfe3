"""Rules of accounts, tries and sign-ins."""

import doctest
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.auth import people, rights, sessions, tries
from service.auth.errors import LastAdmin, WrongPerson
from service.auth.people import check_admin_stays, check_person
from service.auth.rights import ROLES
from service.auth.sessions import form_token_of, is_over, new_cookie
from service.auth.tries import LONGEST_WAIT, key_of, wait_after

NOW = datetime(2031, 3, 4, 12, tzinfo=UTC)


@dataclass(frozen=True)
class One:
    """An account, as far as these rules look at it."""

    login: str
    role: str = "admin"
    disabled_at: datetime | None = None


@pytest.mark.parametrize("login", ["", "Ann", "ann lee", "-ann", "ann/lee", "a" * 65, "ann\n", "ånn"])
def test_wrong_login(login: str) -> None:
    """A login that could be mistaken or break an address is refused."""
    with pytest.raises(WrongPerson, match="login"):
        check_person(login, "viewer")


@pytest.mark.parametrize(
    ("role", "depot", "only"),
    [("boss", "", False), ("viewer", "", True), ("manager", "North", True), ("lead", "a\nb", False)],
)
def test_wrong_role_or_depot(role: str, depot: str, only: bool) -> None:
    """A role that is none, or a limit to a depot that makes no sense, is refused."""
    with pytest.raises(WrongPerson):
        check_person("ann", role, depot=depot, depot_only=only)


@pytest.mark.parametrize("role", ROLES)
def test_right_person(role: str) -> None:
    """Every role can be given."""
    check_person("ann.lee@harrow", role, depot="North")


def test_last_admin_stays() -> None:
    """The last administrator can be neither disabled nor demoted."""
    both = [One("ann"), One("bob")]
    check_admin_stays(both, One("ann", disabled_at=NOW))
    for changed in (One("ann", disabled_at=NOW), One("ann", role="viewer")):
        with pytest.raises(LastAdmin):
            check_admin_stays([One("ann"), One("bob", role="lead"), One("eve", disabled_at=NOW)], changed)


@given(
    st.lists(st.tuples(st.sampled_from(ROLES), st.booleans()), min_size=1, max_size=6),
    st.integers(0, 5),
    st.sampled_from(ROLES),
    st.booleans(),
)
def test_an_admin_always_stays(kept: list[tuple[str, bool]], at: int, role: str, disabled: bool) -> None:
    """What passes leaves an administrator where there was one; what is refused would leave none."""
    accounts = [One(f"p{n}", role, NOW if off else None) for n, (role, off) in enumerate(kept)]
    changed = One(f"p{at % len(accounts)}", role, NOW if disabled else None)
    after = [changed if one.login == changed.login else one for one in accounts]

    def has_admin(rows: list[One]) -> bool:
        return any(one.role == "admin" and one.disabled_at is None for one in rows)

    try:
        check_admin_stays(accounts, changed)
    except LastAdmin:
        assert not has_admin(after)
    else:
        assert has_admin(after) or not has_admin(accounts)


@given(st.integers(0, 10_000))
def test_waits_grow(failures: int) -> None:
    """Each further failure waits at least as long, and never longer than the longest."""
    assert timedelta() <= wait_after(failures) <= wait_after(failures + 1) <= LONGEST_WAIT


def test_keys_tell_nothing() -> None:
    """Tries are counted under digests: equal for one login however typed, telling neither kind."""
    assert key_of("login", " Ann ") == key_of("login", "ann") != key_of("address", "ann")
    assert "ann" not in key_of("login", "ann")


def test_cookie_is_random() -> None:
    """A cookie has 256 random bits, and the form token does not give it away (ASVS 5.0.0 V7.2.3, V11.5.1)."""
    cookies = {new_cookie() for _ in range(100)}

    assert len(cookies) == 100
    assert all(len(one) == 43 for one in cookies)
    for one in cookies:
        assert one not in form_token_of(one)
        assert form_token_of(one) != form_token_of(one, "visit")


@given(st.integers(0, 100_000), st.integers(0, 100_000), st.integers(1, 100_000))
def test_ends(unseen_s: int, left_s: int, idle_s: int) -> None:
    """A sign-in goes on exactly while it is in use, before its end, and the account is enabled."""
    over = is_over(
        NOW,
        seen_at=NOW - timedelta(seconds=unseen_s),
        expires_at=NOW + timedelta(seconds=left_s),
        idle=timedelta(seconds=idle_s),
        disabled=False,
    )

    assert over is (unseen_s > idle_s or left_s == 0)


@pytest.mark.parametrize("module", [people, rights, sessions, tries])
def test_examples(module: object) -> None:
    """The examples of these modules give what they show."""
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
