"""`forelamp backup`, `backup verify` and `restore`: copies of the store that are known to be whole."""

from pathlib import Path
from typing import Annotated

import typer

from service.cli.opened import opened, read_settings
from service.cli.talk import AsJson, give, give_json, say
from service.clock import Clock
from service.store import BackupManifest, restore_backup, take_backup, verify_backup

app = typer.Typer(help="Copy the store to a folder while the service runs.", invoke_without_command=True)

Folder = Annotated[Path, typer.Argument(help="Folder of the backup.")]


@app.callback()
def backup(
    context: typer.Context,
    out: Annotated[
        Path | None, typer.Option("--out", help="New folder; default: by time, in the data directory.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Copy the store, as of one moment, to a folder with a manifest."""
    if context.invoked_subcommand is not None:
        return
    settings, now = read_settings(), Clock().now()
    folder = out or settings.home / "backups" / f"{now:%Y%m%dT%H%M%SZ}"
    _tell(folder, take_backup(settings.database_url, folder, now), as_json=as_json)


@app.command("verify")
def verify(folder: Folder, as_json: AsJson = False) -> None:
    """Check that a backup is whole and that this version can restore it."""
    _tell(folder, verify_backup(folder), as_json=as_json)


def restore(
    folder: Folder,
    replace: Annotated[
        bool, typer.Option("--replace", help="Keep a store that holds something aside, under another name.")
    ] = False,
) -> None:
    """Put a backup in the place of the store; the service must be stopped."""
    settings, now = read_settings(), Clock().now()
    done = restore_backup(settings.database_url, folder, now, replace=replace)
    with opened(settings) as found:  # brings the tables of an older backup up to date
        give(f"{found.store.url}: as of {done.manifest.as_of:%Y-%m-%d %H:%M} UTC.")
    if done.kept_aside:
        give(f"The store from before is kept: {done.kept_aside}")
    say("What was erased or left out after that moment is back: erase it again.")


def _tell(folder: Path, manifest: BackupManifest, *, as_json: bool) -> None:
    if as_json:
        give_json(
            {
                "folder": str(folder),
                "as_of": manifest.as_of,
                "database": manifest.database,
                "schema": manifest.schema,
                "rows": manifest.rows,
            }
        )
        return
    size = sum(one.bytes for one in manifest.files)
    give(str(folder))
    give(
        f"{sum(manifest.rows.values()):,} rows of {len(manifest.rows)} tables, {size:,} bytes, as of "
        f"{manifest.as_of:%Y-%m-%d %H:%M:%S} UTC, schema {manifest.schema}."
    )
