"""Packed bodies, unpacked under a limit: gzip and zstd, whole or piece by piece.

A small body may unpack to a huge one. Nothing here ever holds more than the limit plus one piece: input goes
in in small slices and output is counted as it comes.

References
----------
RFC 1952 (gzip, members may follow one another), RFC 8878 (zstd, frames may follow one another).
"""

import zlib
from collections.abc import Iterable, Iterator
from typing import Final, Protocol

import zstandard

from ingest.errors import BadCompression, RatioTooHigh, TooLarge, UnknownEncoding

ENCODINGS: Final = ("identity", "gzip", "zstd")
HIGHEST_RATIO: Final = 250.0
"""Most times its own size a stream may unpack to; chosen by us: ten times what real logs reach."""

_GZIP_WINDOW = 31  # zlib's way to say: gzip wrapper, largest window
_PIECE = 1 << 20
_ZSTD_SLICE = 256  # one block may turn 4 bytes into 128 KiB, so a slice gives at most some 8 MiB
_ZSTD_WINDOW = 1 << 25  # 32 MiB: more than any level up to 19 needs
_RATIO_FROM = 1 << 20  # small outputs may have any ratio


class _Unpacker(Protocol):
    """One gzip member or zstd frame after another."""

    def feed(self, data: bytes) -> Iterator[bytes]: ...

    def finish(self) -> None: ...


class _Gzip:
    def __init__(self) -> None:
        self._member = zlib.decompressobj(_GZIP_WINDOW)
        self._fresh = True

    def feed(self, data: bytes) -> Iterator[bytes]:
        while data:
            if self._member.eof:
                self._member = zlib.decompressobj(_GZIP_WINDOW)
            try:
                out = self._member.decompress(data, _PIECE)
            except zlib.error as error:
                raise BadCompression("gzip", str(error)) from error
            self._fresh = False
            data = self._member.unconsumed_tail or self._member.unused_data
            if out:
                yield out

    def finish(self) -> None:
        if self._fresh or not self._member.eof:
            raise BadCompression("gzip", "it is cut off")


class _Zstd:
    def __init__(self) -> None:
        self._maker = zstandard.ZstdDecompressor(max_window_size=_ZSTD_WINDOW)
        self._frame = self._maker.decompressobj()
        self._fresh = True

    def feed(self, data: bytes) -> Iterator[bytes]:
        for start in range(0, len(data), _ZSTD_SLICE):
            piece = data[start : start + _ZSTD_SLICE]
            while piece:
                if self._frame.eof:
                    self._frame = self._maker.decompressobj()
                try:
                    out = self._frame.decompress(piece)
                except zstandard.ZstdError as error:
                    raise BadCompression("zstd", str(error)) from error
                self._fresh = False
                piece = self._frame.unused_data if self._frame.eof else b""
                if out:
                    yield out

    def finish(self) -> None:
        if self._fresh or not self._frame.eof:
            raise BadCompression("zstd", "it is cut off")


def inflate(body: bytes, encoding: str, *, limit: int) -> bytes:
    """Unpack a whole body.

    Parameters
    ----------
    body : bytes
        As received.
    encoding : str
        ``gzip``, ``zstd``, ``identity`` or empty.
    limit : int
        Most bytes allowed after unpacking.

    Raises
    ------
    TooLarge
        More than `limit` bytes, or `RatioTooHigh`.
    BadCompression
        Damaged or cut off.
    UnknownEncoding
        Another encoding.

    Examples
    --------
    >>> import gzip
    >>> inflate(gzip.compress(b"RPM"), "gzip", limit=10)
    b'RPM'
    """
    return b"".join(inflate_stream([body], encoding, limit=limit))


def inflate_stream(
    chunks: Iterable[bytes], encoding: str, limit: int, ratio: float = HIGHEST_RATIO
) -> Iterator[bytes]:
    """Unpack a stream piece by piece.

    Parameters
    ----------
    chunks : iterable of bytes
        As received.
    encoding : str
        ``gzip``, ``zstd``, ``identity`` or empty.
    limit : int
        Most bytes allowed after unpacking.
    ratio : float
        Most times its own size the stream may unpack to, judged from the first MiB on.

    Raises
    ------
    TooLarge
        More than `limit` bytes, or `RatioTooHigh`.
    BadCompression
        Damaged or cut off; what came before has been given out by then.
    UnknownEncoding
        Another encoding.
    """
    unpacker = _choose(encoding)
    taken = given = 0
    for chunk in chunks:
        taken += len(chunk)
        for piece in unpacker.feed(chunk) if unpacker else (chunk,):
            given += len(piece)
            if given > limit:
                raise TooLarge(limit)
            if given > _RATIO_FROM and given > taken * ratio:
                raise RatioTooHigh(ratio)
            yield piece
    if unpacker:
        unpacker.finish()


def _choose(encoding: str) -> _Unpacker | None:
    name = encoding.strip().lower()
    if name in ("", "identity"):
        return None
    if name in ("gzip", "x-gzip"):
        return _Gzip()
    if name == "zstd":
        return _Zstd()
    raise UnknownEncoding(encoding, ENCODINGS)
