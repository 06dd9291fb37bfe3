"""How much memory processes hold over time, read from the system every few seconds."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

EVERY_S: Final = 2.0


def resident_mb(pid: int) -> float:
    """Read what a process holds in memory [MB]; 0 where it is gone."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1000 for line in lines if line.startswith("VmRSS:")), 0.0)


def children_of(pid: int) -> list[int]:
    """List the processes that a process has started."""
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


@contextmanager
def watched(pids: dict[str, int]) -> Iterator[dict[str, list[float]]]:
    """Sample processes by name while the block runs [MB]."""
    samples: dict[str, list[float]] = {name: [] for name in pids}
    ended = threading.Event()

    def go() -> None:
        while not ended.wait(EVERY_S):
            for name, pid in pids.items():
                samples[name].append(resident_mb(pid))

    thread = threading.Thread(target=go)
    thread.start()
    try:
        yield samples
    finally:
        ended.set()
        thread.join()


def told(samples: list[float]) -> str:
    """Say how memory went: medians of ten parts of the time, and the most."""
    if not samples:
        return "not sampled"
    parts = [samples[len(samples) * part // 10 : len(samples) * (part + 1) // 10] for part in range(10)]
    middles = [f"{sorted(part)[len(part) // 2]:.0f}" for part in parts if part]
    return f"{' '.join(middles)}; most {max(samples):.0f} MB"
