"""`forelamp token`: bearer tokens of devices and programs; the secret is shown once."""

from datetime import UTC, datetime
from typing import Annotated

import typer

from service.auth.tokens import SCOPES, issue
from service.cli.opened import opened
from service.cli.talk import give, give_json, say

app = typer.Typer(help="Tokens of devices and programs.", no_args_is_help=True)
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")]


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
            }
            for one in kept
        ]
        give_json({"tokens": rows})
        return
    for one in kept:
        ended = f", revoked {one.revoked_at}" if one.revoked_at else ""
        give(f"{one.name}: {one.prefix}..., {', '.join(one.scopes)}{ended}")


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
