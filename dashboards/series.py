"""Names of followed series and the kind of quantity behind them.

A series is named `FORMULA@state`. A formula may be a parameter (`IAC`), a gap (`ECT-IAT`), a swing
(`|SHRTFT1|`), a relative quantity held as 100 times the natural logarithm (`ln MAF/MAP`), or the share of
readings with a switch on (`ac`).
"""

import math
from typing import Final, Literal

from dashboards.words import STATES, quantity_name, say
from ingest.parameters import SWITCHES

Kind = Literal["level", "difference", "change"]
"""A level; a difference, converted without offset; or a change against the own normal [%]."""

_SWITCH_WORDS: Final = {
    "ac": "share of readings with air conditioning on",
    "power_steering": "share of readings with steering pressure on",
    "in_gear": "share of readings in gear",
}


def split(series: str) -> tuple[str, str]:
    """Part a series into formula and state.

    Examples
    --------
    >>> split("ECT-IAT@koeo_soak")
    ('ECT-IAT', 'koeo_soak')
    """
    formula, _, state = series.rpartition("@")
    return (formula, state) if formula else (series, "")


def kind_of(series: str) -> Kind:
    """Tell what kind of quantity a series is.

    Examples
    --------
    >>> kind_of("IAC@warm_idle"), kind_of("ECT-IAT@koeo_soak"), kind_of("ln MAF@cruise")
    ('level', 'difference', 'change')
    """
    formula = split(series)[0]
    if formula.startswith("ln "):
        return "change"
    return "difference" if "-" in formula else "level"


def formula_name(series: str) -> str:
    """Name what a series measures, in words with its code.

    Examples
    --------
    >>> formula_name("ECT-IAT@koeo_soak")
    'gap between engine coolant temperature (ECT) and intake air temperature (IAT)'
    >>> formula_name("ln MAF/MAP@cruise")
    'mass air flow (MAF) against manifold absolute pressure (MAP), change from its own normal'
    """
    formula = split(series)[0]
    if formula in SWITCHES:
        return _SWITCH_WORDS[formula]
    if formula.startswith("|"):
        return f"swing of {quantity_name(formula.strip('|'))}"
    if formula.startswith("ln "):
        inner = " against ".join(quantity_name(part) for part in formula[3:].split("/"))
        return f"{inner}, change from its own normal"
    if "-" in formula:
        return "gap between " + " and ".join(quantity_name(part) for part in formula.split("-"))
    return quantity_name(formula)


def series_name(series: str) -> str:
    """Name a series with its state.

    Examples
    --------
    >>> series_name("VPWR@warm_idle")
    'control module voltage (VPWR), warm idle'
    """
    state = split(series)[1]
    return f"{formula_name(series)}, {say(STATES, state)}" if state else formula_name(series)


def change(value: float, normal: float) -> float:
    """Turn two values held as 100 ln x into the change they stand for [%].

    Examples
    --------
    >>> round(change(230.2585, 0.0), 1), change(5.0, 5.0)
    (900.0, 0.0)
    """
    return 100.0 * (math.exp((value - normal) / 100.0) - 1.0)
