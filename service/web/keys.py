"""Tokens whose successor takes their name: the same for the page and for the command."""

from datetime import datetime

from service.auth.tokens import ApiToken, issue
from service.store import NotFound, Work


def replace_token(
    work: Work, name: str, *, until: datetime, now: datetime, who: str
) -> tuple[str, ApiToken, str]:
    """Issue a token's successor under its name; the old one works on for a while under another.

    Parameters
    ----------
    work : Work
        For writing; nothing is kept until it is committed.
    name : str
        Of the token.
    until : datetime
        When the old one ends, unless it ends earlier anyway; aware.
    now : datetime
        Aware.
    who : str
        Who replaces it, for the event log.

    Returns
    -------
    tuple of (str, ApiToken, str)
        The new secret, to be shown once; what is kept of it; the old one's name from now on.

    Raises
    ------
    NotFound
        No token of that name is in use.
    """
    old = next((one for one in work.tokens() if one.name == name and not one.has_ended(now)), None)
    if old is None:
        raise NotFound("token in use", name)
    secret, token = issue(name, old.scopes, now=now, vehicles=old.vehicles, expires_at=old.expires_at)
    retired = f"{name[:43]} until {until:%Y%m%d%H%M%S}"  # a name has at most 64 characters
    work.retire_token(name, retired, min(until, old.expires_at or until))
    work.put_token(token)
    work.log_event(at=now, who=who, what="token replaced", subject=name, before=retired, after=token.prefix)
    return secret, token, retired
