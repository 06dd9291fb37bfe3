"""How the tests read the documents: fenced blocks, tables, links, and the top folder."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

TOP: Final = Path(__file__).resolve().parents[2]
README: Final = (TOP / "README.md").read_text("utf-8")
DEVELOPERS: Final = (TOP / "DEVELOPERS.md").read_text("utf-8")
DEPLOY: Final = (TOP / "deploy" / "README.md").read_text("utf-8")
DOCUMENTS: Final = {"README.md": README, "DEVELOPERS.md": DEVELOPERS, "deploy/README.md": DEPLOY}

_FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_HEREDOC = re.compile(r"^cat > (\S+) <<'END'\n(.*?)^END$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One command of a document with the output printed under it."""

    command: str
    output: str


def blocks(text: str, kind: str = "") -> list[str]:
    """Give the fenced blocks of a kind, all for none."""
    return [body for found, body in _FENCE.findall(text) if kind in ("", found)]


def files(text: str) -> dict[str, str]:
    """Give the example files that a document writes with `cat`."""
    return {name: body for block in blocks(text, "sh") for name, body in _HEREDOC.findall(block)}


def steps(text: str) -> Iterator[Step]:
    """Walk the commands of a document's console blocks."""
    for block in blocks(text, "console"):
        for part in block.split("$ ")[1:]:
            command, _, output = part.partition("\n")
            yield Step(command=command, output=output)


def section(text: str, heading: str) -> str:
    """Give what stands under a heading, up to the next of the same or a higher level."""
    level = heading.split()[0]
    _, found, rest = text.partition(f"\n{heading}\n")
    assert found, f"there is no heading {heading!r}"
    return re.split(rf"\n#{{1,{len(level)}}} ", rest)[0]


def first_cells(text: str) -> list[str]:
    """Give the code in the first cell of each table row."""
    return re.findall(r"^\| `([^`]+)` \|", text, re.MULTILINE)
