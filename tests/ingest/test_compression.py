"""Packed bodies: unpacked under a limit, damage told apart from size."""

import gzip
from collections.abc import Callable
from contextlib import suppress

import pytest
import zstandard
from hypothesis import given
from hypothesis import strategies as st

from ingest.compression import inflate, inflate_stream
from ingest.errors import BadCompression, IngestError, RatioTooHigh, TooLarge, UnknownEncoding

PACK: dict[str, Callable[[bytes], bytes]] = {
    "gzip": gzip.compress,
    "zstd": zstandard.ZstdCompressor(write_checksum=True).compress,
    "identity": bytes,
}
PACKED = ("gzip", "zstd")
BODY = b'{"vehicle": "V-1"}\n' * 50_000


@pytest.mark.parametrize("encoding", ["gzip", "zstd", "identity"])
def test_whole_body(encoding: str) -> None:
    """What was packed comes back."""
    assert inflate(PACK[encoding](BODY), encoding, limit=len(BODY)) == BODY


@pytest.mark.parametrize("encoding", ["gzip", "zstd", "identity"])
def test_limit_holds_to_the_byte(encoding: str) -> None:
    """One byte more than the limit is refused."""
    with pytest.raises(TooLarge):
        inflate(PACK[encoding](BODY), encoding, limit=len(BODY) - 1)


@pytest.mark.parametrize("encoding", PACKED)
@pytest.mark.parametrize("size", [1, 7, 1000])
def test_pieces_of_any_size(encoding: str, size: int) -> None:
    """It does not matter where the stream is cut."""
    packed = PACK[encoding](BODY[:5000])
    chunks = [packed[start : start + size] for start in range(0, len(packed), size)]

    assert b"".join(inflate_stream(chunks, encoding, limit=10_000)) == BODY[:5000]


@pytest.mark.parametrize("encoding", PACKED)
def test_members_follow_one_another(encoding: str) -> None:
    """Two packed files one after the other are one text."""
    assert inflate(PACK[encoding](b"a") + PACK[encoding](b"b"), encoding, limit=9) == b"ab"


@pytest.mark.parametrize("encoding", PACKED)
def test_cut_off(encoding: str) -> None:
    """Data that is cut off anywhere is refused, also when nothing came at all."""
    packed = PACK[encoding](BODY)

    for length in (0, 1, 10, len(packed) // 2, len(packed) - 1):
        with pytest.raises(BadCompression):
            inflate(packed[:length], encoding, limit=len(BODY))


@pytest.mark.parametrize("encoding", PACKED)
def test_rubbish(encoding: str) -> None:
    """What is not packed, or is followed by rubbish, is refused."""
    for body in (b"no such thing", PACK[encoding](b"a") + b"rubbish"):
        with pytest.raises(BadCompression):
            inflate(body, encoding, limit=100)


@pytest.mark.parametrize("encoding", PACKED)
def test_bomb_by_ratio(encoding: str) -> None:
    """A stream that unpacks to far more than its size is stopped early."""
    packed = PACK[encoding](bytes(50_000_000))

    with pytest.raises(RatioTooHigh) as caught:
        for _ in inflate_stream([packed], encoding, limit=1 << 40, ratio=100):
            pass

    assert caught.value.code == "too-large"


def test_unknown_encoding() -> None:
    """Another encoding is refused with the list of those offered."""
    with pytest.raises(UnknownEncoding, match="identity, gzip, zstd"):
        inflate(b"", "br", limit=1)


@given(st.binary(max_size=200), st.sampled_from(PACKED))
def test_any_bytes_are_unpacked_or_refused(body: bytes, encoding: str) -> None:
    """No bytes break the unpacker."""
    with suppress(IngestError):  # anything else fails the test
        inflate(body, encoding, limit=10_000)


@given(st.integers(0, 10_000), st.integers(0, 255), st.sampled_from(PACKED))
def test_flipped_byte_never_passes_unseen(place: int, byte: int, encoding: str) -> None:
    """A damaged body is refused or gives the same text (the damage hit something that does not count)."""
    packed = bytearray(PACK[encoding](BODY[:2000]))
    packed[place % len(packed)] = byte
    with suppress(IngestError):
        assert inflate(bytes(packed), encoding, limit=100_000) == BODY[:2000]
