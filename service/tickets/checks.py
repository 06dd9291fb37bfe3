"""The readable table of causes: plain words, consequence, first checks and cautions."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

from ingest.parameters import CAUSES, PARAMETERS
from models.findings import GROUPS
from service.tickets.errors import UnreadableTable
from service.tickets.ticket import Caution, Check

TABLE_NAME: Final = "checks.toml"

_FIRST_CAUTIONS: Final = ("suspicion", "save_codes")
_LAST_CAUTIONS: Final = ("high_voltage", "confirm")

CHECKS_SHOWN: Final = 6
"""First checks that a ticket lists; chosen by us: more are not read at the vehicle."""

LEAST_PROBABILITY: Final = 0.02
"""Causes less likely than this bring no check; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One check of a cause, as in the table."""

    text: str
    minutes: int
    tools: str
    good: str
    bad: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One row of the table of causes.

    Parameters
    ----------
    code, words : str
        Cause code and what it means in plain words.
    group : str
        One of `models.findings.GROUPS`, or `unknown`.
    consequence : int
        1 may stall or not start, 2 complaint, 3 fuel or emissions, 4 nuisance.
    parameters : frozenset of str
        Parameters that the cause acts on.
    cautions : tuple of str
        Keys of cautions.
    checks : tuple of Work
        Its checks, in the table's order.
    """

    code: str
    words: str
    group: str
    consequence: int
    parameters: frozenset[str]
    cautions: tuple[str, ...]
    checks: tuple[Work, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseTable:
    """All causes by code, and all cautions by key."""

    causes: Mapping[str, Cause]
    cautions: Mapping[str, str]


@cache
def cause_table() -> CauseTable:
    """Give the table that comes with the service."""
    return read_table(files("service.tickets").joinpath(TABLE_NAME).read_text(encoding="utf-8"))


def read_table(text: str) -> CauseTable:
    """Read a table of causes.

    Raises
    ------
    UnreadableTable
        A cause is missing, unknown or named twice, or an entry is incomplete.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise UnreadableTable(table=TABLE_NAME, place="the file", detail=f"is not TOML: {err}") from err
    cautions = {str(key): str(value) for key, value in raw.get("cautions", {}).items()}
    causes: dict[str, Cause] = {}
    for entry in raw.get("cause", []):
        cause = _cause(entry, cautions)
        if cause.code in causes:
            raise UnreadableTable(table=TABLE_NAME, place=cause.code, detail="is named twice.")
        causes[cause.code] = cause
    for code in CAUSES:
        if code not in causes:
            raise UnreadableTable(table=TABLE_NAME, place=code, detail="is missing.")
    return CauseTable(causes=causes, cautions=cautions)


def first_checks(causes: Sequence[tuple[str, float]], table: CauseTable | None = None) -> tuple[Check, ...]:
    """Order the checks of the likely causes by probability per minute.

    This order finds the fault in the least expected time when one fault is present and checks are
    independent (J. B. Kadane and H. A. Simon, Optimal strategies for a class of constrained sequential
    problems, Annals of Statistics 5(2), 1977, 237-255; citation from memory). A cause's later checks keep
    their place behind its earlier ones.

    Parameters
    ----------
    causes : sequence of (code, probability)
        Ranked causes.
    table : CauseTable, optional
        By default the table that comes with the service.

    Returns
    -------
    tuple of Check
        At least one, whatever the probabilities.
    """
    table = table or cause_table()
    likely = [(code, p) for code, p in causes if p >= LEAST_PROBABILITY] or [("unknown", 1.0)]
    ranked: list[tuple[float, int, int, Check]] = []
    for place, (code, probability) in enumerate(likely):
        best = float("inf")
        for step, work in enumerate(table.causes[code].checks):
            best = min(best, probability / work.minutes)
            ranked.append((-best, place, step, _listed(code, probability, work)))
    ranked.sort(key=lambda item: item[:3])
    return tuple(check for *_, check in ranked[:CHECKS_SHOWN])


def cautions_for(causes: Sequence[tuple[str, float]], table: CauseTable | None = None) -> tuple[Caution, ...]:
    """Collect the cautions of the likely causes; the general ones always stand around them."""
    table = table or cause_table()
    keys = list(_FIRST_CAUTIONS)
    for code, probability in causes:
        if probability >= LEAST_PROBABILITY or code == causes[0][0]:
            keys.extend(table.causes[code].cautions)
    keys.extend(_LAST_CAUTIONS)
    return tuple(Caution(key=key, text=table.cautions[key]) for key in dict.fromkeys(keys))


def consequence_of(causes: Sequence[tuple[str, float]], table: CauseTable | None = None) -> int:
    """Give the class that half of the probability reaches: 1 is the worst."""
    table = table or cause_table()
    total = sum(p for _, p in causes)
    if total <= 0:
        return table.causes["unknown"].consequence
    for worst in (1, 2, 3):
        if sum(p for code, p in causes if table.causes[code].consequence <= worst) >= total / 2:
            return worst
    return 4


def _listed(code: str, probability: float, work: Work) -> Check:
    return Check(
        cause=code,
        probability=probability,
        text=work.text,
        minutes=work.minutes,
        tools=work.tools,
        good=work.good,
        bad=work.bad,
    )


def _cause(entry: Mapping[str, Any], cautions: Mapping[str, str]) -> Cause:
    code = str(entry.get("code", "an entry without code"))
    _need(code in CAUSES, code, f"is no cause code; allowed: {', '.join(CAUSES)}.")
    try:
        cause = Cause(
            code=code,
            words=str(entry["words"]),
            group=str(entry["group"]),
            consequence=int(entry["class"]),
            parameters=frozenset(str(name) for name in entry["parameters"]),
            cautions=tuple(str(key) for key in entry["cautions"]),
            checks=tuple(
                Work(
                    text=str(check["text"]),
                    minutes=int(check["minutes"]),
                    tools=str(check["tools"]),
                    good=str(check["good"]),
                    bad=str(check["bad"]),
                )
                for check in entry["check"]
            ),
        )
    except KeyError as err:
        raise UnreadableTable(table=TABLE_NAME, place=code, detail=f"lacks {err}.") from err
    _need(cause.group in (*GROUPS, "unknown"), code, f"group must be one of {', '.join(GROUPS)}.")
    _need(cause.consequence in {1, 2, 3, 4}, code, f"class must be 1 to 4, was {cause.consequence}.")
    _need(len(cause.checks) > 0, code, "needs at least one check.")
    _need(all(check.minutes > 0 for check in cause.checks), code, "minutes must be above 0.")
    for key in cause.cautions:
        _need(key in cautions, code, f"names the unknown caution {key!r}.")
    for name in cause.parameters:
        _need(name in PARAMETERS, code, f"names the unknown parameter {name!r}.")
    return cause


def _need(holds: bool, place: str, detail: str) -> None:
    if not holds:
        raise UnreadableTable(table=TABLE_NAME, place=place, detail=detail)
