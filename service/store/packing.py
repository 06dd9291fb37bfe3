"""Values of other rooms as bytes and text, and back, without loss and always in the same order."""

from datetime import date
from typing import Any, Final, TypeVar

import msgspec
import numpy as np
import zstandard

T = TypeVar("T")

_LEVEL: Final = 3
"""Compression level; the library's default, a tenth of the size at several hundred MB/s."""


def _plain(value: object) -> object:
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, date):  # of a held clock: the library takes no subclass of date or datetime
        return value.isoformat()
    raise NotImplementedError(f"Cannot keep a {type(value).__name__}.")


def pack(value: object) -> bytes:
    """Pack a value as compressed MessagePack, which keeps NaN where JSON cannot."""
    plain = msgspec.msgpack.encode(value, enc_hook=_plain, order="sorted")
    return zstandard.ZstdCompressor(level=_LEVEL).compress(plain)


def unpack(packed: bytes, kind: type[T]) -> T:
    """Unpack what `pack` packed.

    Raises
    ------
    msgspec.ValidationError
        It was another kind of value.
    """
    plain = zstandard.ZstdDecompressor().decompress(bytes(packed))
    return msgspec.msgpack.decode(plain, type=kind)


def to_text(value: object) -> str:
    """Write a value as JSON with sorted keys, so that equal values are equal text."""
    return msgspec.json.encode(value, enc_hook=_plain, order="sorted").decode()


def from_text(text: str, kind: Any) -> Any:
    """Read a value that `to_text` wrote.

    Raises
    ------
    msgspec.ValidationError
        It was another kind of value.
    """
    return msgspec.json.decode(text.encode(), type=kind)
