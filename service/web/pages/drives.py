"""What drive, or which mode, gives the readings that a vehicle owes."""

from ingest.records import SpecSheet

MODE_FIELD = "service_mode"
"""Further field of a spec sheet: how to hold the engine of this type at warm idle, by the maker's book."""

_ORDINARY = (
    "needed: engine warm and running, vehicle standing, in park or neutral, for two minutes before it is "
    "switched off"
)


def drive_for(reason: str, sheet: SpecSheet | None) -> str:
    """Name the drive that ends a gap.

    Parameters
    ----------
    reason : str
        Why the vehicle cannot be judged.
    sheet : SpecSheet or None
        In force for it; a hybrid's says how its engine is made to idle.

    Returns
    -------
    str
        Few words; empty where no drive helps.

    Examples
    --------
    >>> drive_for("silent", None)
    ''
    >>> sheet = SpecSheet(sheet="S", revision=1, source="card", further={"service_mode": "p. 12, mode B"})
    >>> drive_for("no_warm_idle", sheet)
    'needed: its service mode, by sheet S: p. 12, mode B'
    """
    if reason != "no_warm_idle":
        return ""
    if sheet is None:
        return _ORDINARY
    mode = str(sheet.further.get(MODE_FIELD) or "")
    if mode:
        return f"needed: its service mode, by sheet {sheet.sheet}: {mode}"
    if "hybrid" in (sheet.fuel or "").lower():
        return (
            "needed: a hybrid stops its engine at rest and idles warm only in its service mode; sheet "
            f"{sheet.sheet} does not name it (field {MODE_FIELD})"
        )
    return _ORDINARY
