"""GET exports: the analyst's files, the same bytes as the command line writes."""

import tempfile
from collections.abc import Iterator
from datetime import date
from typing import Any, BinaryIO, Final, cast

from fastapi import APIRouter, Query, Request
from starlette.responses import StreamingResponse

from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from ingest.parameters import CODES, STATES
from service.web import described
from service.web.exports import Wanted, about_of, export, loss_headers
from service.web.query import AsOf, choose
from service.web.shell import shell_of

router = APIRouter(prefix="/api/v1")

IN_MEMORY_BYTES: Final = 8_000_000
"""Files up to this size stay in memory, larger ones wait on disk until they are sent; chosen by us."""

PIECE_BYTES: Final = 256_000

FromDay: Any = Query(None, description="First day of the period, YYYY-MM-DD, in the fleet's zone.")
ToDay: Any = Query(None, description="Last day of the period, YYYY-MM-DD, in the fleet's zone.")


@router.get(
    "/exports/{dataset}.{form}",
    **described.described(
        "export_dataset",
        scope="read",
        summary="One of the analyst's files.",
        content={kind.partition(";")[0]: {"schema": {}} for kind in MEDIA_TYPES.values()},
        codes=(*described.READ, "export-too-large"),
        headers=described.LOST,
    ),
)
def export_dataset(  # one argument for each documented filter
    request: Request,
    dataset: str,
    form: str,
    as_of: date | None = AsOf,
    vehicle: str = Query("", description="The fleet's own number; empty for all."),
    depot: str = Query("", description="Depot; empty for all."),
    from_day: date | None = FromDay,
    to_day: date | None = ToDay,
) -> StreamingResponse:
    """Give a file; for analysts and their programs. With an as-of, the same address gives the same bytes."""
    wanted = Wanted(
        dataset=dataset, as_of=as_of, vehicle=vehicle, depot=depot, from_day=from_day, to_day=to_day
    )
    return send_file(request, wanted, form)


def send_file(request: Request, wanted: Wanted, form: str) -> StreamingResponse:
    """Write a file and send it.

    It is written whole before the first byte is sent: an error can still be told, and no reader takes half a
    file for a whole one.

    Parameters
    ----------
    request : Request
        For the store.
    wanted : Wanted
        Which rows.
    form : str
        csv, json, parquet or xlsx.

    Returns
    -------
    StreamingResponse
        With a safe name.
    """
    choose("dataset", wanted.dataset, tuple(DATASETS))
    choose("form", form, tuple(MEDIA_TYPES))
    choose("parameter", wanted.parameter, ("", *CODES))
    choose("state", wanted.state, ("", *STATES))
    shell = shell_of(request)
    spool = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115 - closed when sent
    try:
        with shell.store.begin(readonly=True) as work:
            export(work, wanted, form, cast("BinaryIO", spool), fleet_zone=shell.settings.fleet_zone)
            about = about_of(work, wanted, shell.settings.fleet_zone)
    except BaseException:
        spool.close()
        raise
    size = spool.tell()
    spool.seek(0)
    day = "" if wanted.as_of is None else f"-{wanted.as_of.isoformat()}"
    headers = {
        "content-length": str(size),
        "content-disposition": f'attachment; filename="forelamp-{wanted.dataset}{day}.{form}"',
        **loss_headers(about),
    }
    return StreamingResponse(_pieces(cast("BinaryIO", spool)), media_type=MEDIA_TYPES[form], headers=headers)


def _pieces(spool: BinaryIO) -> Iterator[bytes]:
    with spool:
        while piece := spool.read(PIECE_BYTES):
            yield piece
