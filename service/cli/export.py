"""`forelamp export`: the analyst's files, with a manifest beside each."""

import shutil
import sys
import tempfile
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, BinaryIO, Final, cast

import typer

from dashboards.exports.columns import dataset_of
from dashboards.exports.manifest import SUFFIX, Tally, manifest
from dashboards.exports.table import About
from dashboards.exports.table_schema import SUFFIX as SCHEMA_SUFFIX
from dashboards.exports.table_schema import schema_bytes
from service.cli.opened import opened
from service.cli.talk import give, say
from service.web.exports import Wanted, about_of
from service.web.exports import export as write_export

_PIECE: Final = 1 << 20


class Dataset(StrEnum):
    """What can be exported."""

    TICKETS = "tickets"
    TRENDS = "trends"
    RISK = "risk"
    BUDGET = "budget"
    SNAPSHOTS = "snapshots"
    COST_PER_CAUSE = "cost_per_cause"
    TRACK_RECORD = "track_record"


class Form(StrEnum):
    """File formats."""

    CSV = "csv"
    JSON = "json"
    PARQUET = "parquet"
    XLSX = "xlsx"


def export(
    dataset: Annotated[Dataset, typer.Argument(help="What to export.")],
    form: Annotated[Form, typer.Option("--format", help="File format.")] = Form.CSV,
    as_of: Annotated[
        datetime | None,
        typer.Option("--as-of", formats=["%Y-%m-%d"], help="What was known at the end of this date."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="File; a manifest with its SHA-256 goes beside it.")
    ] = None,
    vehicle: Annotated[str, typer.Option("--vehicle", help="Only this vehicle.")] = "",
    depot: Annotated[str, typer.Option("--depot", help="Only this depot.")] = "",
    from_day: Annotated[
        datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], help="First day of the period.")
    ] = None,
    to_day: Annotated[
        datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="Last day of the period.")
    ] = None,
    parameter: Annotated[str, typer.Option("--parameter", help="Only snapshots with this parameter.")] = "",
    state: Annotated[str, typer.Option("--state", help="Only snapshots in this operating state.")] = "",
) -> None:
    """Write one dataset to a file, or to standard output."""
    wanted = Wanted(
        dataset=dataset.value,
        as_of=as_of.date() if as_of else None,
        vehicle=vehicle,
        depot=depot,
        from_day=from_day.date() if from_day else None,
        to_day=to_day.date() if to_day else None,
        parameter=parameter,
        state=state,
    )
    with opened() as found, found.store.begin(readonly=True) as work:
        zone = found.settings.fleet_zone
        about = about_of(work, wanted, zone)
        if about.lost_text:
            say(f"This as-of date has lost {about.lost_text} since.")
        if out is None:
            # Written whole before the first byte is given out, on the disk where it is large.
            with tempfile.SpooledTemporaryFile(max_size=_PIECE) as spool:
                write_export(work, wanted, form.value, cast("BinaryIO", spool), fleet_zone=zone)
                spool.seek(0)
                shutil.copyfileobj(spool, sys.stdout.buffer, _PIECE)
            sys.stdout.buffer.flush()
            return
        with out.open("w+b") as sink:
            rows = write_export(work, wanted, form.value, sink, fleet_zone=zone)
    beside = out.with_name(out.name + SUFFIX)
    beside.write_bytes(_slip(out, about, dataset.value, form.value, rows))
    described = out.with_name(out.name + SCHEMA_SUFFIX)
    described.write_bytes(schema_bytes(dataset_of(wanted.dataset)))
    give(str(out))
    say(f"{rows:,} rows; manifest {beside.name}, schema {described.name}")


def _slip(out: Path, about: About, dataset: str, form: str, rows: int) -> bytes:
    tally = Tally()
    with out.open("rb") as written:
        while piece := written.read(_PIECE):
            tally.add(piece)
    return manifest(
        file=out.name,
        dataset=dataset_of(dataset),
        form=form,
        rows=rows,
        tally=tally,
        about=about,
    )
