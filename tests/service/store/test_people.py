"""Keys, accounts and the log."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.auth.tokens import issue, verify
from service.store import Actor, AlreadyThere, Attempts, BadCursor, NotFound, Person, SignIn, Store

NOW = datetime(2031, 3, 4, 2, 0, tzinfo=UTC)


def test_token_is_found_and_revoked(store: Store) -> None:
    """A token is found by its digest alone, its name is taken, and revoking it ends it."""
    secret, token = issue("logger 1", ["send"], now=NOW, vehicles=["V-1"])
    with store.begin() as work:
        work.put_token(token)
        assert verify(secret, work.find_token(token.digest), NOW) == token
        assert work.find_token("0" * 64) is None
        with pytest.raises(AlreadyThere):
            work.put_token(replace(token, digest="1" * 64))
        assert work.revoke_token("logger 1", NOW)
        assert not work.revoke_token("logger 1", NOW + timedelta(days=1))
        assert work.tokens() == (replace(token, revoked_at=NOW),)
        with pytest.raises(NotFound):
            work.revoke_token("logger 2", NOW)


def test_people_and_sign_ins(store: Store) -> None:
    """An account reads back, and signing a person out ends that person's sign-ins only."""
    ann = Person(login="ann", role="manager", password="$argon2", created_at=NOW, preferences={"units": "us"})  # noqa: S106 (made up)
    bob = replace(ann, login="bob", depot="North", depot_only=True, password_until=NOW)
    with store.begin() as work:
        for person in (ann, bob, bob):
            work.put_person(person)
        for login in ("ann", "bob"):
            work.put_sign_in(
                SignIn(
                    digest=login * 8,
                    login=login,
                    created_at=NOW,
                    expires_at=NOW + timedelta(hours=8),
                    seen_at=NOW,
                )
            )
        assert work.people() == (ann, bob)
        assert work.person("eve") is None
        assert work.end_sign_ins(login="bob") == 1
        assert work.find_visit("bob" * 8) is None
        assert (work.find_visit("ann" * 8) or ("", ""))[1] == ann
        work.touch_sign_in("ann" * 8, NOW + timedelta(hours=1))
        assert work.last_visits() == {"ann": NOW + timedelta(hours=1)}
        assert work.end_sign_ins(expired_by=NOW + timedelta(hours=8)) == 1
        with pytest.raises(ValueError, match="Name the person"):
            work.end_sign_ins()


def test_login_is_unique(store: Store) -> None:
    """A second account under one login is refused."""
    ann = Person(login="ann", role="viewer", password="$argon2", created_at=NOW)  # noqa: S106 (made up)
    with store.begin() as work:
        work.add_person(ann)
        with pytest.raises(AlreadyThere):
            work.add_person(replace(ann, role="admin"))
        assert work.people(to_change=True) == (ann,)


def test_attempts_are_counted(store: Store) -> None:
    """Tries under a key are counted, locked, forgotten after a time without one, and cleared."""
    day = timedelta(days=1)
    with store.begin() as work:
        assert [work.count_attempt("k", NOW, forget_after=day) for _ in range(3)] == [1, 2, 3]
        work.lock_attempts("k", NOW + day)
        assert work.attempts("k") == Attempts(failures=3, locked_until=NOW + day)
        assert work.count_attempt("k", NOW + 2 * day, forget_after=day) == 1
        work.forget_attempts(key="k")
        assert work.attempts("k") == Attempts()
        work.count_attempt("old", NOW, forget_after=day)
        work.forget_attempts(before=NOW + day)
        assert work.attempts("old") == Attempts()


def test_log_is_one_line(store: Store) -> None:
    """Nothing that is logged can forge a second line (ASVS 5.0.0 V16.4.1)."""
    with store.begin() as work:
        work.log_event(at=NOW, who="ann", what="x\r\ny", subject="a\tb\x1b[2J\u2028c")
        entry = work.log_entries().rows[0]
        assert (entry.what, entry.subject) == ("x  y", "a b [2J c")


def test_acting_leaves_a_line(store: Store) -> None:
    """A commit on somebody's behalf is logged, with the work's own words or the request's."""
    actor = Actor(who="ann", what="POST /costs", subject="x", source="192.0.2.1", at=NOW)
    acting = store.on_behalf(actor=actor)
    with acting.begin() as work:
        work.put_preference("hours", "20")
        work.commit()
    with acting.begin() as work:
        work.put_preference("hours", "16")
        work.log_event(at=NOW, who="ann", what="hours changed", subject="", before="20", after="16")
        work.commit()
    with store.begin(readonly=True) as work:
        assert [one.what for one in work.log_entries().rows] == ["hours changed", "POST /costs"]


def test_log_pages_and_binds_its_cursor(store: Store) -> None:
    """The log lists the newest first; a cursor serves only the list and filters that gave it."""
    with store.begin() as work:
        for number in range(5):
            work.log_event(at=NOW, who="ann", what="sheet enforced", subject=f"S-{number}", after="{}")
        page = work.log_entries(who="ann", limit=2)
        assert [entry.subject for entry in page.rows] == ["S-4", "S-3"]
        following = work.log_entries(who="ann", limit=2, cursor=page.cursor)
        assert [entry.subject for entry in following.rows] == ["S-2", "S-1"]
        for wrong in ("x", "é", page.cursor[:-3], page.cursor + "AAAA"):
            with pytest.raises(BadCursor):
                work.log_entries(who="ann", cursor=wrong)
        with pytest.raises(BadCursor, match="other filters"):
            work.log_entries(who="bob", cursor=page.cursor)


def test_preferences(store: Store) -> None:
    """The fleet's settings read back; inner marks do not show."""
    with store.begin() as work:
        work.put_preference("hours", "20")
        work.put_preference("hours", "16")
        assert work.preferences() == {"hours": "16"}
