"""Fuzz every decoder for a while: `python -m tests.fuzz --seconds 60`, or some of them by name.

Each target runs in a process of its own, guided by coverage (atheris), with a limit on time and memory for
each input. It needs `pip install -e '.[fuzz]'`. What broke a target is left in the folder that is printed.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

from tests.fuzz.seeds import SEEDS
from tests.fuzz.targets import TARGETS

MEMORY_MB: Final = 1024
"""Most memory of one process; the libraries themselves take some 250 MB."""

INPUT_S: Final = 10
"""Longest time for one input."""

_CHILD: Final = """
import sys
import atheris
with atheris.instrument_imports(include=["ingest", "tests.fuzz.targets"]):
    from tests.fuzz.targets import TARGETS
target = TARGETS[sys.argv.pop(1)]
def once(body):
    target(body)
atheris.Setup(sys.argv, once)
atheris.Fuzz()
"""


def fuzz(name: str, seconds: int, folder: Path, seed: int) -> tuple[int, str]:
    """Fuzz one target; gives how many inputs were tried, and what was found."""
    corpus = folder / name
    corpus.mkdir()
    for place, body in enumerate(SEEDS[name]):
        (corpus / f"seed-{place}").write_bytes(body)
    command = [
        sys.executable, "-c", _CHILD, name, str(corpus), f"-max_total_time={seconds}", f"-seed={seed}",
        f"-rss_limit_mb={MEMORY_MB}", f"-timeout={INPUT_S}", f"-artifact_prefix={folder}/{name}-",
        "-max_len=20000", "-print_final_stats=1",
    ]  # fmt: skip
    done = subprocess.run(command, check=False, capture_output=True, text=True, errors="replace")
    told = done.stderr + done.stdout
    tried = re.search(r"stat::number_of_executed_units:\s*(\d+)", told)
    memory = re.search(r"stat::peak_rss_mb:\s*(\d+)", told)
    found = f"peak {memory[1]} MB" if memory else ""
    if done.returncode:
        found = "\n".join(told.splitlines()[-60:])
    return int(tried[1]) if tried else 0, found if done.returncode else f"nothing found, {found}"


def main() -> None:
    """Read the command line and fuzz."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("targets", nargs="*", choices=[[], *TARGETS], help="by default all")
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="forelamp-fuzz-"))
    failed = False
    for name in asked.targets or TARGETS:
        tried, found = fuzz(name, asked.seconds, folder, asked.seed)
        failed |= not found.startswith("nothing found")
        sys.stdout.write(f"{name}: {tried:,} inputs in {asked.seconds} s, {found}\n")
        sys.stdout.flush()
    sys.stdout.write(f"inputs in {folder}\n")
    sys.exit(failed)


if __name__ == "__main__":
    main()
