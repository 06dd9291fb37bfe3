"""Where digests go: files in the data directory, for whoever mails, posts or prints them."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Final

from service.schedule.digest import Digest

FOLDER: Final = "digests"
"""Folder in the data directory."""


def outbox(home: Path) -> Callable[[Digest], None]:
    """Give what writes digests into a data directory, as the schedule wants it.

    Parameters
    ----------
    home : Path
        The data directory; need not be there yet.

    Returns
    -------
    callable
        See `put_digest`.
    """

    def publish(digest: Digest) -> None:
        put_digest(home / FOLDER, digest)

    return publish


def put_digest(folder: Path, digest: Digest) -> tuple[Path, ...]:
    """Write a week's digest as text and as HTML, each once and each as a whole.

    A file that is there stays as it is: the report behind it is frozen, and somebody may have sent it. What
    an interrupted run left out is written by the next one.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    digest : Digest
        The subject becomes the first line of the text.

    Returns
    -------
    tuple of Path
        Files written by this call, such as `2026-W48.txt` and `2026-W48.html`.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    texts = {".txt": f"{digest.subject}\n\n{digest.text}", ".html": digest.html}
    written = []
    for ending, text in texts.items():
        path = folder / f"{digest.week}{ending}"
        if not path.exists():
            _write_whole(path, text)
            written.append(path)
    return tuple(written)


def rewrite_digests(folder: Path, change: Callable[[str], str]) -> int:
    """Rewrite digests that are there, for an erasure only; gives how many changed.

    Parameters
    ----------
    folder : Path
        Need not be there.
    change : callable
        Text in, text out.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    changed = 0
    for path in sorted(folder.glob("*.txt")) + sorted(folder.glob("*.html")):
        before = path.read_text("utf-8")
        after = change(before)
        if after != before:
            _write_whole(path, after)
            changed += 1
    return changed


def _write_whole(path: Path, text: str) -> None:
    """Write beside, then rename: a reader finds the whole file or none, also after a power cut."""
    beside = path.with_name(f".{path.name}.part")
    with beside.open("w", encoding="utf-8", newline="\n") as sink:
        sink.write(text)
        sink.flush()
        os.fsync(sink.fileno())
    beside.replace(path)
