"""`forelamp token`: bearer tokens of devices and programs; the secret is shown once."""

import re
from datetime import UTC, datetime, timedelta
from typing import Annotated, Final

import typer

from service.auth.errors import WrongToken
from service.auth.tokens import SCOPES, issue
from service.cli.opened import opened
from service.cli.talk import AsJson, give, give_json, say
from service.web.keys import replace_token

app = typer.Typer(help="Tokens of devices and programs.", no_args_is_help=True)
LONGEST_OVERLAP: Final = timedelta(days=90)
"""Longest time that an old token works beside its successor; chosen by us: a quarter."""


@app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="Name of the device or program.")],
    scope: Annotated[list[str], typer.Option("--scope", help=f"One or more of {', '.join(SCOPES)}.")],
    vehicle: Annotated[
        list[str] | None, typer.Option("--vehicle", help="Vehicles it may send for; all when left out.")
    ] = None,
    expires: Annotated[
        datetime | None, typer.Option("--expires", formats=["%Y-%m-%d"], help="Last day plus one, UTC.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Issue a token; its secret is printed once and kept only as a digest."""
    with opened() as found:
        now = found.clock.now()
        secret, token = issue(
            name=name,
            scopes=scope,
            now=now,
            vehicles=vehicle or [],
            expires_at=expires.replace(tzinfo=UTC) if expires else None,
        )
        with found.store.begin() as work:
            work.put_token(token)
            work.log_event(at=now, who="command line", what="token issued", subject=name)
            work.commit()
    if as_json:
        give_json({"name": token.name, "token": secret, "scopes": token.scopes, "vehicles": token.vehicles})
        return
    say(f"Token '{token.name}' for {', '.join(token.scopes)}. It is shown this once:")
    give(secret)


@app.command("list")
def list_tokens(as_json: AsJson = False) -> None:
    """List tokens without their secrets."""
    with opened() as found, found.store.begin(readonly=True) as work:
        kept = work.tokens()
        seen = {one.name: one.seen_at for one in work.token_uses()}
    if as_json:
        rows = [
            {
                "name": one.name,
                "starts_with": one.prefix,
                "scopes": one.scopes,
                "vehicles": one.vehicles,
                "created_at": one.created_at,
                "expires_at": one.expires_at,
                "revoked_at": one.revoked_at,
                "seen_at": seen.get(one.name),
            }
            for one in kept
        ]
        give_json({"tokens": rows})
        return
    for one in kept:
        ended = f", revoked {one.revoked_at}" if one.revoked_at else ""
        last = seen.get(one.name)
        used = f", last sent {last:%Y-%m-%d %H:%M} UTC" if last else ""
        until = f", until {one.expires_at:%Y-%m-%d %H:%M} UTC" if one.expires_at and not ended else ""
        give(f"{one.name}: {one.prefix}..., {', '.join(one.scopes)}{used}{until}{ended}")


@app.command("rotate")
def rotate(
    name: Annotated[str, typer.Argument(help="Name of the token.")],
    overlap: Annotated[
        str, typer.Option("--overlap", help="How long the old one still works, such as 24h or 7d.")
    ] = "24h",
    as_json: AsJson = False,
) -> None:
    """Issue a token's successor under the same name; the old one works on for a while under another."""
    span = read_span(overlap)
    with opened() as found:
        now = found.clock.now()
        until = now + span
        with found.store.begin() as work:
            secret, _, renamed = replace_token(work, name, until=until, now=now, who="command line")
            work.commit()
    if as_json:
        give_json({"name": name, "token": secret, "old": renamed, "old_until": until})
        return
    say(f"The old token works until {until:%Y-%m-%d %H:%M} UTC. The new one is shown this once:")
    give(secret)


def read_span(text: str) -> timedelta:
    """Read a span such as `24h` or `7d`.

    Raises
    ------
    WrongToken
        It is none, or longer than 90 days.

    Examples
    --------
    >>> read_span("36h")
    datetime.timedelta(days=1, seconds=43200)
    """
    found = re.fullmatch(r"(\d{1,4})([hd])", text)
    span = timedelta() if found is None else timedelta(hours=int(found[1]) * (24 if found[2] == "d" else 1))
    if found is None or span > LONGEST_OVERLAP:
        raise WrongToken(
            "overlap", f"An overlap is hours or days, such as 24h or 7d, up to 90d; {text!r} is not."
        )
    return span


@app.command("revoke")
def revoke(name: Annotated[str, typer.Argument(help="Name of the token.")]) -> None:
    """End a token at once."""
    with opened() as found:
        now = found.clock.now()
        with found.store.begin() as work:
            ended = work.revoke_token(name, now)
            work.log_event(at=now, who="command line", what="token revoked", subject=name)
            work.commit()
    give(f"'{name}' ended." if ended else f"'{name}' had ended before.")
