"""Reading a request's body: what it is, how it is packed, and how much of it is taken."""

from collections.abc import Sequence
from typing import Final, Literal

from starlette.datastructures import Headers
from starlette.requests import Request

from service.web.errors import BodyTooLarge, UnsupportedEncoding, UnsupportedType

Kind = Literal["json", "ndjson", "csv", "parquet", "toml"]

TYPES: Final[dict[str, Kind]] = {
    "application/json": "json",
    "application/x-ndjson": "ndjson",
    "text/csv": "csv",
    "application/vnd.apache.parquet": "parquet",
    "application/toml": "toml",
}
"""Content types by kind of body; no address reads all of them."""

ENCODINGS: Final = ("identity", "gzip", "zstd")

SNAPSHOT_TYPES: Final = (
    "application/json",
    "application/x-ndjson",
    "text/csv",
    "application/vnd.apache.parquet",
)
TABLE_TYPES: Final = ("application/json", "text/csv")
SHEET_TYPES: Final = ("application/json", "application/toml")


def read_kind(headers: Headers, allowed: Sequence[str]) -> Kind:
    """Tell which kind of body the request announces.

    Parameters
    ----------
    headers : Headers
        Of the request.
    allowed : sequence of str
        Content types that the address reads.

    Returns
    -------
    str
        The kind, as the readers of ingest name it.

    Raises
    ------
    UnsupportedType
        None is announced, it is not allowed, or its text is not UTF-8.
    """
    given = headers.get("content-type", "")
    name, _, parameters = given.partition(";")
    name = name.strip().lower()
    if name not in allowed:
        raise UnsupportedType(given, allowed)
    charset = parameters.lower().replace(" ", "").replace('"', "").partition("charset=")[2].partition(";")[0]
    if charset not in ("", "utf-8", "utf8", "us-ascii"):
        raise UnsupportedType(given, allowed)
    return TYPES[name]


def read_encoding(headers: Headers) -> str:
    """Tell how the body is packed; `identity` where nothing is said.

    Raises
    ------
    UnsupportedEncoding
        It is packed in a way that is not unpacked here, or more than once.
    """
    given = headers.get("content-encoding", "identity").strip().lower()
    if given not in ENCODINGS:
        raise UnsupportedEncoding(given, ENCODINGS)
    return given


async def read_body(request: Request, limit_bytes: int) -> bytes:
    """Take in a body as it was sent, still packed.

    An announced length over the limit is refused before a byte is read; a body that does not announce its
    length is refused as soon as it grows over it.

    Parameters
    ----------
    request : Request
        Whose body it is.
    limit_bytes : int
        Most bytes taken.

    Returns
    -------
    bytes
        The whole body.

    Raises
    ------
    BodyTooLarge
        It is larger than the limit.
    """
    announced = request.headers.get("content-length", "")
    if announced.isdecimal() and int(announced) > limit_bytes:
        raise BodyTooLarge(limit_bytes, int(announced))
    chunks: list[bytes] = []
    taken = 0
    async for chunk in request.stream():
        taken += len(chunk)
        if taken > limit_bytes:
            raise BodyTooLarge(limit_bytes)
        chunks.append(chunk)
    return b"".join(chunks)
