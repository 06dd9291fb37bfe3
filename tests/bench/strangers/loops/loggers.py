"""Loggers: which values they ask for, how they round them, what they get wrong."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.moments import STATES, Moments
from tests.bench.strangers.loops.places import Floats

Dialect = Literal["lines", "fahrenheit", "table", "named"]

STEPS: Final[dict[str, float]] = {
    "LONGFT1": 100 / 128,
    "LONGFT2": 100 / 128,
    "SHRTFT1": 100 / 128,
    "SHRTFT2": 100 / 128,
    "ECT": 1.0,
    "IAT": 1.0,
    "AAT": 1.0,
    "MAP": 1.0,
    "BARO": 1.0,
    "VSS": 1.0,
    "RPM": 0.25,
    "MAF": 0.01,
    "SPARKADV": 0.5,
    "VPWR": 0.001,
    "CRANK_VMIN": 0.01,
    **dict.fromkeys(("TP", "TAC_PCT", "IAC", "LOAD_PCT", "LOAD_ABS", "FLI", "ALCH_PCT"), 100 / 255),
    **dict.fromkeys(("O2S11", "O2S12", "O2S21", "O2S22"), 0.005),
}
"""Steps in which a controller sends a value; SAE J1979."""

WILD: Final[dict[str, tuple[float, ...]]] = {
    "ECT": (255.0, -40.0, 215.0),
    "IAT": (-40.0, 255.0),
    "VPWR": (0.0, 65.535),
    "LONGFT1": (-100.0, 99.21875),
    "MAF": (0.0, 655.35),
    "MAP": (255.0, 0.0),
    "IAC": (0.0, 100.0),
}
"""What a broken connection looks like."""

OFTEN_LACKING: Final[dict[str, float]] = {
    "BARO": 0.3,
    "AAT": 0.3,
    "IAT": 0.03,
    "CRANK_VMIN": 0.12,
    "MAP": 0.15,
    "LOAD_ABS": 0.4,
    "CLR_DIST": 0.35,
    "FLI": 0.4,
    "O2S11": 0.3,
    "RUNTM": 0.15,
}
"""Parameters which a vehicle may not give, with the share of vehicles that lack them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Logger:
    """One logger in one vehicle.

    Parameters
    ----------
    trim_step, volt_step : float
        Its own rounding, on top of the controller's [%, V].
    volt_offset_v, coolant_offset_c : float
        Its own error [V, degC].
    declares : bool
        Whether it names the state.
    numbers : bool
        Whether it gives each snapshot an id.
    """

    device: str
    dialect: Dialect
    trim_step: float
    volt_step: float
    volt_offset_v: float
    coolant_offset_c: float
    declares: bool
    numbers: bool


def draw_logger(rng: np.random.Generator, device: str) -> Logger:
    """Draw a logger; one in four is coarse."""
    dialects: tuple[Dialect, ...] = ("lines", "fahrenheit", "table", "named")
    coarse = rng.random()
    return Logger(
        device=device,
        dialect=dialects[int(rng.choice(4, p=[0.55, 0.13, 0.18, 0.14]))],
        trim_step=1.0 if coarse < 0.06 else 0.0,
        volt_step=1.0 if coarse > 0.975 else 0.1 if coarse > 0.8 else 0.0,
        volt_offset_v=float(rng.normal(0.0, 0.025)),
        coolant_offset_c=0.0,
        declares=bool(rng.random() < 0.88),
        numbers=bool(rng.random() < 0.4),
    )


def lacking(rng: np.random.Generator) -> set[str]:
    """Draw the parameters which a vehicle does not give."""
    found = {name for name, share in OFTEN_LACKING.items() if rng.random() < share}
    if "O2S11" in found:
        found |= {"O2S12", "O2S21", "O2S22"}
    if rng.random() < 0.5:
        found.add("ALCH_PCT")
    return found


def record(
    rng: np.random.Generator, logger: Logger, values: dict[str, Floats], which: NDArray[np.bool_]
) -> dict[str, Floats]:
    """Round, offset, drop and spoil values as a logger does.

    Parameters
    ----------
    values : dict of str to array of shape (n,)
        True values by parameter; NaN where there is none.
    which : array of bool, shape (n,)
        Moments this logger was there for.

    Returns
    -------
    dict of str to array of shape (which.sum(),)
        NaN where nothing was recorded.
    """
    found: dict[str, Floats] = {}
    count = int(which.sum())
    for name, column in values.items():
        kept = column[which]
        if name in {"VPWR", "CRANK_VMIN"}:
            kept = kept + logger.volt_offset_v
        step = STEPS.get(name, 0.0)
        if step:
            kept = np.round(kept / step) * step
        coarse = (
            logger.trim_step if "FT" in name else logger.volt_step if name in {"VPWR", "CRANK_VMIN"} else 0.0
        )
        if coarse:
            kept = np.round(kept / coarse) * coarse
        kept = np.where(rng.random(count) < 0.012, np.nan, kept)
        if name in WILD:
            spoiled = (rng.random(count) < 0.0009) & ~np.isnan(kept)
            kept = np.where(spoiled, rng.choice(WILD[name], count), kept)
        found[name] = kept
    return found


def declare(
    rng: np.random.Generator, logger: Logger, moments: Moments, which: NDArray[np.bool_]
) -> list[str]:
    """Give the state named in each snapshot; empty where none is, and now and then a wrong one."""
    if not logger.declares:
        return [""] * int(which.sum())
    named = moments.state[which]
    wrong = rng.random(len(named)) < 0.006
    named = np.where(wrong, rng.integers(0, len(STATES), len(named)), named)
    silent = rng.random(len(named)) < 0.02
    return [
        "" if quiet else STATES[state] for state, quiet in zip(named.tolist(), silent.tolist(), strict=True)
    ]
