"""Small disks of a test's own: memory that the system mounts, so that full is really full."""

import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(megabytes: int) -> Iterator[Path]:
    """Give a folder on a disk of that size; skipped where this account may not mount one."""
    folder = Path(tempfile.mkdtemp(prefix="fl-d-"))
    size = f"size={megabytes}m,mode=755"
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", size, "tmpfs", folder], check=False, capture_output=True
    )
    if mounted.returncode:
        folder.rmdir()
        pytest.skip("this account may not mount a disk")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def filled_up(folder: Path) -> Iterator[None]:
    """Fill a disk to the last byte with a file, and take it away again."""
    stuffing = folder / "stuffing"
    with stuffing.open("wb", buffering=0) as file:
        for piece in (1 << 20, 1 << 12, 1):
            try:
                while file.write(bytes(piece)) == piece:
                    pass
            except OSError:
                continue
    try:
        yield
    finally:
        stuffing.unlink()


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Mount a disk read-only; nothing may have a file open for writing."""
    subprocess.run(["mount", "-o", "remount,ro", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["mount", "-o", "remount,rw", folder], check=True)
