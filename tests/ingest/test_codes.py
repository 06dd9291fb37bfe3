"""Codes: every one that can be given out is listed with a meaning, and no other."""

import re
from pathlib import Path

from ingest import codes, states
from ingest.aliases import SCOPES
from ingest.errors import IngestError, UnknownUnit, WrongUnit

ROOM = Path(codes.__file__).parent
HYPHENATED = re.compile(r'"([a-z][a-z0-9]*(?:-[a-z0-9]+)+)"')
NO_CODES = {"utf-8", "x-gzip", "ingest-error"}


def test_listed_codes_are_given_out_and_no_others() -> None:
    """The list and the source name the same codes."""
    sources = [path.read_text() for path in ROOM.rglob("*.py") if path.name != "codes.py"]

    given_out = set(HYPHENATED.findall("\n".join(sources))) - NO_CODES

    assert given_out == set(codes.CODES)


def test_every_code_has_a_sentence() -> None:
    """Each meaning is one sentence."""
    for meaning in codes.CODES.values():
        assert meaning.endswith(".")
        assert meaning[0].isupper()


def test_every_error_has_a_listed_code() -> None:
    """Each error class with a code of its own has a listed one."""
    own = {kind.code for kind in IngestError.__subclasses__() if "code" in vars(kind)}

    assert own <= set(codes.CODES)
    assert {UnknownUnit.code, WrongUnit.code} <= own


def test_state_notes_are_notes() -> None:
    """What a row's state note may say is in the list of notes."""
    assert set(states.NOTES) - {""} <= set(codes.NOTES)
    assert SCOPES == ("device", "sheet", "fleet")
