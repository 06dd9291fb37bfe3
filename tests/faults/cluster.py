"""A PostgreSQL server of a test's own, that may be killed without harm to other tests."""

import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Event

import psycopg
import pytest

from tests.conftest import as_owner, find_programs


@dataclass
class Cluster:
    """One server in a folder. It waits for the disk, so that a kill finds nothing that was only promised."""

    folder: Path
    programs: Path
    process: "subprocess.Popen[bytes] | None" = None

    @property
    def url(self) -> str:
        """Address of its one database."""
        return f"postgresql://postgres@/postgres?host={self.folder}"

    def start(self) -> None:
        """Start it and wait until it answers; what a killed one has left behind may still be going away."""
        for _ in range(600):
            if self.process is None or self.process.poll() is not None:
                self.process = subprocess.Popen(
                    as_owner(str(self.programs / "postgres"), "-D", f"{self.folder}/data", *self._options()),
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    cwd=self.folder,
                )
            with suppress(psycopg.OperationalError):
                psycopg.connect(self.url).close()
                return
            Event().wait(0.1)
        raise AssertionError("PostgreSQL did not start")

    def demote(self) -> None:
        """Make it a standby that follows nobody, as after a change of roles: it answers and keeps nothing."""
        self._become("standby.signal")

    def promote(self) -> None:
        """Make it take writing again."""
        (self.folder / "data" / "standby.signal").unlink()
        self._become("")

    def _become(self, signal_file: str) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGINT)  # fast shutdown: everybody is sent away, then it ends cleanly
        self.process.wait(60)
        self.process = None
        if signal_file:
            made = self.folder / "data" / signal_file
            made.touch()
            shutil.copystat(self.folder / "data" / "PG_VERSION", made)
            owner = (self.folder / "data" / "PG_VERSION").stat()
            os.chown(made, owner.st_uid, owner.st_gid)
        self.start()

    def kill(self) -> None:
        """Kill its first process with signal 9; the others end when they notice."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(60)
        self.process = None

    def _options(self) -> tuple[str, ...]:
        return ("-c", "listen_addresses=", "-c", "max_connections=40", "-k", str(self.folder))


@contextmanager
def cluster(parent: Path | None = None) -> Iterator[Cluster]:
    """Give a running server, its folder inside another where one is given; skipped without PostgreSQL."""
    programs = find_programs()
    if programs is None:
        pytest.skip("PostgreSQL's programs are not installed")
    folder = Path(tempfile.mkdtemp(prefix="fl-pk-", dir=parent))
    if os.getuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    initdb = as_owner(str(programs / "initdb"), "-D", f"{folder}/data", "-U", "postgres", "-A", "trust", "-N")
    subprocess.run(initdb, check=True, stdout=subprocess.DEVNULL, cwd=folder)
    made = Cluster(folder=folder, programs=programs)
    made.start()
    try:
        yield made
    finally:
        made.kill()
        shutil.rmtree(folder, ignore_errors=True)
