"""Text in and out: UTF-8 in, comma-separated header lines, and text that is fit to be stored."""

import re
from collections.abc import Sequence
from typing import Final

import msgspec

from ingest.errors import UnreadableBody

BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"
LONGEST_PAYLOAD: Final = 20_000
"""Most characters of unreadable text that a refusal carries; chosen by us: enough to recognise the item."""

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")
_RIVALS = {";": "semicolons", "\t": "tabs", "|": "bars"}


def strip_mark(body: bytes) -> tuple[bytes, bool]:
    """Take a byte-order mark off; says whether there was one.

    Raises
    ------
    UnreadableBody
        The mark of UTF-16 (code ``bad-encoding``).

    Examples
    --------
    >>> strip_mark(bytes([0xEF, 0xBB, 0xBF]) + b"vehicle")
    (b'vehicle', True)
    """
    if body.startswith(_WIDE_MARKS):
        raise UnreadableBody("bad-encoding", "The text is UTF-16; only UTF-8 is read. Save it as UTF-8.")
    if body.startswith(BYTE_ORDER_MARK):
        return body[len(BYTE_ORDER_MARK) :], True
    return body, False


def decode_text(body: bytes) -> tuple[str, bool]:
    """Decode a whole body as UTF-8, without its byte-order mark; says whether there was one.

    Raises
    ------
    UnreadableBody
        Not UTF-8 (code ``bad-encoding``).
    """
    stripped, marked = strip_mark(body)
    try:
        return stripped.decode("utf-8"), marked
    except UnicodeDecodeError as error:
        detail = f"The text is not UTF-8: byte {error.start} cannot be read. Save the file as UTF-8."
        raise UnreadableBody("bad-encoding", detail) from error


def decode_line(line: bytes) -> tuple[str, bool]:
    """Decode one line or item of many, with marks in place of what is no UTF-8; say whether there is any."""
    try:
        return line.decode("utf-8"), False
    except UnicodeDecodeError:
        return line.decode("utf-8", errors="replace"), True


def check_header(header: Sequence[str]) -> None:
    """Check a CSV header line.

    Raises
    ------
    UnreadableBody
        Another separator (``csv-separator``), a column without a name or two of one name
        (``repeated-column``).

    Examples
    --------
    >>> check_header(["vehicle;taken_at;RPM"])
    Traceback (most recent call last):
    ...
    ingest.errors.UnreadableBody: The columns are parted by semicolons; only commas are read, ...
    """
    for sign, name in _RIVALS.items():
        if header and sign in header[0]:
            detail = (
                f"The columns are parted by {name}; only commas are read, with a point in numbers "
                "(3.9). Save the file as comma-separated UTF-8."
            )
            raise UnreadableBody("csv-separator", detail)
    seen: set[str] = set()
    for place, name in enumerate(header, start=1):
        if not name:
            raise UnreadableBody("repeated-column", f"Column {place} has no name in the header line.")
        if name in seen:
            raise UnreadableBody("repeated-column", f"Column {name!r} stands twice in the header line.")
        seen.add(name)


def write_json(value: object) -> str:
    """Write a decoded value as JSON text."""
    return msgspec.json.encode(value, enc_hook=str).decode()


def clean_text(raw: bytes | str) -> str:
    """Make unreadable bytes fit to be stored and shown: text without control characters, of bounded length.

    Examples
    --------
    >>> clean_text(bytes([0, 65, 255]))
    '?A\ufffd'
    """
    text = raw.decode("utf-8", errors="replace") if isinstance(raw, bytes) else raw
    text = _CONTROL.sub("?", text)
    if len(text) > LONGEST_PAYLOAD:
        return text[:LONGEST_PAYLOAD] + " ..."
    return text
