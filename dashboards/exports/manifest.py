"""The slip beside an export: what the file is, and a sum to check it by. No clock goes in."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from typing import Final

from dashboards.exports.columns import Dataset
from dashboards.exports.table import About

SUFFIX: Final = ".manifest.json"
"""What the manifest's name adds to the file's."""


class Tally:
    """Counts bytes and keeps their SHA-256 while they pass by on their way to a file."""

    def __init__(self) -> None:
        self._sum = hashlib.sha256()
        self.size = 0

    def add(self, piece: bytes) -> None:
        """Take in one piece."""
        self._sum.update(piece)
        self.size += len(piece)

    def passing(self, pieces: Iterable[bytes]) -> Iterator[bytes]:
        """Hand pieces on unchanged, taking each in."""
        for piece in pieces:
            self.add(piece)
            yield piece

    @property
    def sha256(self) -> str:
        """Sum over everything taken in, in hexadecimal."""
        return self._sum.hexdigest()


def manifest(*, file: str, dataset: Dataset, form: str, rows: int, tally: Tally, about: About) -> bytes:
    """Write the manifest of a file.

    Parameters
    ----------
    file : str
        Name of the file, without folders.
    dataset, form, rows
        What it holds, in which format, and how many rows.
    tally : Tally
        Its bytes.
    about : About
        As-of date, what that has lost since, filters and version.

    Returns
    -------
    bytes
        JSON, the same for the same file.
    """
    facts = {
        "file": file,
        "dataset": dataset.name,
        "format": form,
        "rows": rows,
        "bytes": tally.size,
        "sha256": tally.sha256,
        "as_of": about.as_of_text or None,
        "filters": dict(sorted(about.filters.items())),
        "erased_rows": about.erased_rows,
        "removed_rows": about.removed_rows,
        "version": about.version,
        "columns": list(dataset.names),
    }
    return (json.dumps(facts, indent=2, ensure_ascii=False) + "\n").encode()
