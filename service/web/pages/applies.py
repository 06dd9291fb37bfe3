"""Which parameters a vehicle cannot have, by its spec sheet: their absence is no gap."""

from typing import Final

from ingest.parameters import PARAMETERS
from ingest.records import SpecSheet

TRIMS: Final = frozenset({"LONGFT1", "LONGFT2", "SHRTFT1", "SHRTFT2"})
SECOND_BANK: Final = frozenset({"LONGFT2", "SHRTFT2", "O2S21", "O2S22"})
WITHOUT_TRIM: Final = frozenset({"diesel", "electric"})
"""Fuels whose engines have no closed-loop trim of this kind."""


def does_not_apply(sheet: SpecSheet) -> frozenset[str]:
    """Name the parameters that a vehicle of this sheet does not have.

    Examples
    --------
    >>> sorted(does_not_apply(SpecSheet(sheet="S", revision=1, source="card", banks=1)) & TRIMS)
    ['LONGFT2', 'SHRTFT2']
    """
    found: frozenset[str] = frozenset()
    if sheet.banks == 1:
        found |= SECOND_BANK
    if sheet.fuel in WITHOUT_TRIM:
        found |= TRIMS
    if sheet.fuel == "electric":
        found |= frozenset(PARAMETERS) - {"VPWR", "AAT", "VSS"}
    if sheet.idle_control == "electronic_throttle":
        found |= {"IAC", "IAC_COUNTS"}
    if sheet.idle_control == "bypass_valve":
        found |= {"TAC_PCT"}
    if sheet.air_metering == "speed_density":
        found |= {"MAF"}
    return found
