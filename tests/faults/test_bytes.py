"""Bytes that nobody meant: decoders refuse them with their own errors, whatever they are.

Repeat with more: FORELAMP_TEST_EXAMPLES=20000 python -m pytest -s tests/faults/test_bytes.py
"""

import gzip
import os
import random
import zlib
from collections import Counter

import pytest
import zstandard

from ingest.aliases import AliasTable
from ingest.compression import inflate
from ingest.errors import IngestError
from ingest.formats.read import KINDS, read_snapshots
from ingest.service01 import decode
from tests.service.web.fleet import ndjson, snapshot

_EXAMPLES = int(os.environ.get("FORELAMP_TEST_EXAMPLES", "150"))  # noqa: TID251 (tests have no settings)
_NOW_US = 2 * 10**15
_CSV = b'vehicle,taken_at,state,LONGFT1,RPM\nV-1,2031-03-04T06:12:09-05:00,warm_idle,2.5,"742"\n'
_SEEDS = {
    "json": ndjson([snapshot()]),
    "ndjson": ndjson([snapshot(), snapshot(vehicle="=1+1")]),
    "csv": _CSV,
    "parquet": b"PAR1" + bytes(64) + b"PAR1",
    "gzip": gzip.compress(_CSV, mtime=0),
    "zstd": zstandard.compress(_CSV),
    "service01": b"41 0C 1A F8 0D 00 05 7B 06 80 07 7F 0F 40 11 26\r\r>",
}
_WORDS = (
    b"\x00",
    b"\xff",
    b"[" * 300,
    b'{"a":' * 300,
    b'"',
    b",",
    b"\n",
    b"1e999",
    b"NaN",
    b"-",
    b"\xed\xa0\x80",
)


def _spoil(body: bytes, chance: random.Random) -> bytes:
    """Change, cut, repeat or stuff a body in some places."""
    made = bytearray(body)
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(made) + 1)
        match chance.randrange(5):
            case 0:
                made[place : place + 1] = bytes([chance.randrange(256)])
            case 1:
                del made[place : place + chance.randint(1, 20)]
            case 2:
                made[place:place] = chance.choice(_WORDS)
            case 3:
                made[place:place] = made[max(0, place - chance.randint(1, 30)) : place]
            case _:
                made[place : place + 4] = chance.randbytes(chance.randint(0, 8))
    return bytes(made)


def _decode(kind: str, body: bytes) -> str:
    try:
        if kind in KINDS:
            read_snapshots(body, kind=kind, now_us=_NOW_US, aliases=AliasTable())
        elif kind == "service01":
            decode(body.decode("latin-1"))
            decode(body)
        else:
            inflate(body, kind, limit=1 << 20)
    except IngestError as err:
        return str(err.code)
    return "read"


@pytest.mark.parametrize("kind", sorted(_SEEDS))
def test_spoilt_bytes(kind: str) -> None:
    """Spoilt bytes are read, or refused with an error of the room; nothing else ever comes out."""
    chance = random.Random(zlib.crc32(kind.encode()))
    ended: Counter[str] = Counter()
    for _ in range(_EXAMPLES):
        ended[_decode(kind, _spoil(_SEEDS[kind], chance))] += 1

    print(f"\n{kind}: {_EXAMPLES:,} inputs, {dict(ended.most_common())}")  # noqa: T201
    assert ended.total() == _EXAMPLES


@pytest.mark.parametrize("kind", ["gzip", "zstd"])
def test_bombs(kind: str) -> None:
    """A small body that unpacks to far more than its size is stopped by its ratio, or by the limit."""
    zeros = bytes(64 << 20)
    packed = gzip.compress(zeros, mtime=0) if kind == "gzip" else zstandard.compress(zeros)

    assert _decode(kind, packed) in {"ratio-too-high", "too-large"}
