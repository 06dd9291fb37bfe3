"""Why single items are refused: each reason code of answers, loads and the coverage page, explained."""

from collections.abc import Mapping
from typing import Final

from ingest.codes import CODES

STORE: Final[Mapping[str, str]] = {
    "unknown-vehicle": "Nobody has registered the vehicle. Register it, then release what was held back.",
    "day-removed": "Retention has removed the readings of that day; its summaries stay as they are.",
    "conflicting-repeat": "The same snapshot came again with other content; the first one stays.",
    "sheet-conflict": "That revision of the sheet is there with other content; revisions are not edited.",
    "unknown-time-zone": "The time zone's name is not known here; it must be an IANA name.",
    "unknown-ticket": "The work record names a ticket that does not exist.",
    "ticket-of-another-vehicle": "The work record names a ticket that belongs to another vehicle.",
    "mixed-currency": "A line of the cost table is in another currency than the rest.",
    "vehicle-not-allowed": "The token was issued for other vehicles than this one.",
}
"""Codes that need the store, or the caller's token, to tell."""


REASONS: Final[Mapping[str, str]] = {**CODES, **STORE}
"""Meaning by code."""
