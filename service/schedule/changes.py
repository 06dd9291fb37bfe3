"""Why a vehicle stands elsewhere than last week: exactly one main reason each."""

from dataclasses import dataclass

_SILENT = frozenset({"silent", "no_data"})
_CALM = frozenset({"done", "deferred"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How one vehicle stood in one week, with the versions that say so.

    Parameters
    ----------
    word : str
        One of the five words.
    reason : str
        Why it could not be judged better; empty where it could.
    ticket, status : str
        Its most urgent open ticket and where that stood; empty without one.
    sheet : str
        Spec sheet and revision; empty without one.
    method : str
        Method of the models.
    costs : int
        Revision of the cost table; 0 without one.
    """

    word: str
    reason: str
    ticket: str
    status: str
    sheet: str
    method: str
    costs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """What happened to one vehicle since the report before.

    Parameters
    ----------
    repaired, cleared : bool
        A repair was done; learned values were cleared.
    late, fresh : int
        Readings that came in since: taken before the report before, and after it.
    """

    repaired: bool = False
    cleared: bool = False
    late: int = 0
    fresh: int = 0


def main_reason(  # noqa: PLR0911 -- a list of reasons, the first that fits
    before: Standing | None, after: Standing | None, happened: Happened
) -> str:
    """Name the main reason of a change, by code.

    The order is ours: what somebody did to the vehicle comes before what changed on paper, and both
    before readings. Late readings are named where most of what came in since was late.
    """
    if before is None:
        return "in_service"
    if after is None:
        return "out_of_service"
    if after.reason in _SILENT and before.reason not in _SILENT:
        return "data_stopped"
    if before.reason in _SILENT and after.reason not in _SILENT:
        return "data_back"
    if happened.repaired:
        return "repair"
    if _calmed_or_woke(before, after):
        return "ticket_moved"
    if happened.cleared:
        return "memory_cleared"
    if before.sheet != after.sheet:
        return "sheet_revised"
    if before.method != after.method:
        return "model_revised"
    if before.costs != after.costs:
        return "costs_revised"
    return "late_readings" if happened.late > happened.fresh else "new_readings"


def _calmed_or_woke(before: Standing, after: Standing) -> bool:
    """Tell whether the same ticket began or ceased to wait: that alone moves the vehicle's word."""
    same = before.ticket == after.ticket != ""
    return same and (before.status in _CALM) != (after.status in _CALM)
