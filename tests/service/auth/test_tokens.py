"""Tokens: random, shown once, kept as digests, compared in constant time."""

from datetime import UTC, datetime, timedelta

import pytest

from service.auth import (
    SCOPES,
    Grant,
    InsufficientScope,
    InvalidToken,
    MissingToken,
    WrongToken,
    digest_of,
    issue,
    read_bearer,
    verify,
)

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)


def test_secret_is_long_and_new() -> None:
    """Each token carries 256 fresh random bits."""
    secrets = {issue("a", ["send"], now=NOW)[0] for _ in range(50)}

    assert len(secrets) == 50
    assert all(len(secret) == len("flt_") + 43 for secret in secrets)


def test_only_the_digest_is_kept() -> None:
    """What is kept holds the SHA-256 of the token and a few first characters."""
    secret, token = issue("a", ["send"], now=NOW)

    assert token.digest == digest_of(secret)
    assert secret.startswith(token.prefix)
    assert secret not in repr(token)


def test_known_digest() -> None:
    """The digest is SHA-256 (FIPS 180-4 example "abc")."""
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize("name", ["", " a", "a" * 65, "a\nb", "ä", "a/b"])
def test_wrong_names(name: str) -> None:
    """A name that could confuse a log or a list is refused."""
    with pytest.raises(WrongToken, match="name is 1-64"):
        issue(name, ["send"], now=NOW)


@pytest.mark.parametrize("scopes", [[], ["write"], ["send", "everything"]])
def test_wrong_scopes(scopes: list[str]) -> None:
    """Scopes come from the list, at least one."""
    with pytest.raises(WrongToken, match="scopes are among send, read, work, admin"):
        issue("a", scopes, now=NOW)


def test_vehicles_limit_sending_only() -> None:
    """A list of vehicles makes sense for tokens that only send."""
    with pytest.raises(WrongToken, match="only send"):
        issue("a", ["send", "read"], now=NOW, vehicles=["V-1"])


def test_ended_before_it_began() -> None:
    """A token that has expired already is not issued."""
    with pytest.raises(WrongToken, match="ended already"):
        issue("a", ["send"], now=NOW, expires_at=NOW)


@pytest.mark.parametrize("header", [None, "", "Basic abc", "Bearer", "Bearer "])
def test_no_token(header: str | None) -> None:
    """Without a bearer token nothing is read."""
    with pytest.raises(MissingToken):
        read_bearer(header)


@pytest.mark.parametrize("text", ["abc", "flt_short", "flt_" + "!" * 43])
def test_other_shape(text: str) -> None:
    """A token of another shape is refused before the store is asked."""
    with pytest.raises(InvalidToken):
        read_bearer(f"Bearer {text}")


def test_scheme_has_no_case() -> None:
    """The scheme's name is read in any case (RFC 9110 11.1)."""
    secret, _ = issue("a", ["send"], now=NOW)

    assert read_bearer(f"bEARER {secret}") == secret


def test_verify() -> None:
    """The right token passes; another, a revoked and an expired one do not."""
    secret, token = issue("a", ["send"], now=NOW, expires_at=NOW + timedelta(days=1))
    other, _ = issue("b", ["send"], now=NOW)

    assert verify(secret, token, NOW) == token
    for wrong, kept, now in (
        (other, token, NOW),
        (secret, None, NOW),
        (secret, token, NOW + timedelta(days=1)),
    ):
        with pytest.raises(InvalidToken):
            verify(wrong, kept, now)


@pytest.mark.parametrize("held", SCOPES)
@pytest.mark.parametrize("needed", SCOPES)
def test_scopes_are_separate(held: str, needed: str) -> None:
    """A scope opens itself only; admin opens all."""
    grant = Grant(name="a", scopes=frozenset({held}))

    if held in (needed, "admin"):
        grant.require(needed)
    else:
        with pytest.raises(InsufficientScope, match=f"scope '{needed}'"):
            grant.require(needed)


def test_roles() -> None:
    """Scopes act in roles of the ticket's life-cycle; sending and reading give none."""
    assert Grant(name="a", scopes=frozenset({"send", "read"})).roles == ()
    assert Grant(name="a", scopes=frozenset({"work"})).roles == ("mechanic", "lead")
    assert "manager" in Grant(name="a", scopes=frozenset({"work", "admin"})).roles
