"""Fleets by other hands: written as the files of the exchange contract, and read back with their truth.

`physics` turns faults into changed physical quantities of an engine; `signals` builds every series from a
level, responses, memory and noise, and takes faults from a table of sensitivities; `loops` runs the vehicle's
controllers from drive to drive, and a fault is what they have to make up for. All were written separately,
from a description of the trade's facts and of the nuisances, by authors who saw neither our generator nor the
models; that of `loops` had seen the sensitivities in `tests.bench.score`, and says that none was used. How
hard they are was set by their authors, who looked at four simple methods on seeds 1 to 3.
"""

import csv
import gzip
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final, Literal

from service.demo.faults import NEVER
from service.demo.fleet import EPOCH
from tests.bench.score import Key, Truth
from tests.bench.strangers.loops import make as loops
from tests.bench.strangers.physics import make as physics
from tests.bench.strangers.signals import make as signals

Kind = Literal["physics", "signals", "loops"]

KINDS: Final[tuple[Kind, ...]] = ("physics", "signals", "loops")

LEAST_DAYS: Final = 120
"""Shortest history: faults begin on day 75 and moves on day 60 at the earliest, some weeks before the end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stranger:
    """A fleet by another hand.

    Parameters
    ----------
    name : str
        Maker and seed.
    files : mapping of str to bytes
        The contract's files by name, unpacked.
    key : Key
        What was planted.
    """

    name: str
    files: Mapping[str, bytes]
    key: Key


def write(
    kind: Kind, seed: int, folder: Path, vehicles: int = 200, days: int = 420, *, healthy: bool = False
) -> date:
    """Write the files of a fleet and its `truth.csv`; give the first day of its history.

    Parameters
    ----------
    kind : {"physics", "signals", "loops"}
    seed : int
        The same seed gives the same files.
    folder : Path
        Where the files go; it is there and empty.
    vehicles, days : int
        Size of the fleet and length of its history.
    healthy : bool
        Leaves the faults out.

    Raises
    ------
    ValueError
        The history is too short for what is planted.
    """
    if days < LEAST_DAYS:
        raise ValueError(f"a history takes at least {LEAST_DAYS} days, was {days}")
    makers = {"physics": physics.write, "signals": signals.write, "loops": loops.write}
    return makers[kind](folder, seed, vehicles=vehicles, days=days, healthy=healthy)


def read_files(folder: Path) -> dict[str, bytes]:
    """Read the contract's files of a folder, unpacked, in the order of names; the truth stays behind."""
    found = {}
    for path in sorted(folder.iterdir()):
        if path.suffix == ".gz":
            found[path.stem] = gzip.decompress(path.read_bytes())
        elif path.name != "truth.csv":
            found[path.name] = path.read_bytes()
    return found


def _to_day(text: str) -> int:
    return (date.fromisoformat(text) - EPOCH).days


def read_truths(folder: Path) -> tuple[Truth, ...]:
    """Read what was planted; a fault ends on the day after its repair."""
    with (folder / "truth.csv").open(newline="", encoding="utf-8") as file:
        return tuple(
            Truth(
                vehicle=row["vehicle"],
                cause=row["cause"],
                shape=row["shape"],
                onset=_to_day(row["onset"]),
                complaint=_to_day(row["complaint"]),
                end=_to_day(row["repaired"]) + 1 if row["repaired"] else NEVER,
            )
            for row in csv.DictReader(file)
        )


def read_vehicles(folder: Path) -> tuple[str, ...]:
    """Read the numbers of a fleet's vehicles, sorted."""
    with (folder / "vehicles.csv").open(newline="", encoding="utf-8") as file:
        return tuple(sorted(row["vehicle"] for row in csv.DictReader(file)))


def make(kind: Kind, seed: int, vehicles: int = 200, days: int = 420, *, healthy: bool = False) -> Stranger:
    """Make a fleet by another hand; arguments as in `write`."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        first = write(kind, seed, folder, vehicles, days, healthy=healthy)
        return Stranger(
            name=f"{kind}-{seed}",
            files=read_files(folder),
            key=Key(
                vehicles=read_vehicles(folder),
                first_day=(first - EPOCH).days,
                days=days,
                truths=read_truths(folder),
            ),
        )
