"""Operating states: a claim is checked against the values, a missing one is inferred.

A claim carries knowledge that the values do not (somebody or something held the engine in that state), so it
is believed unless a value contradicts it, and it is allowed wider bands. That matters for faults of the very
sensors that define a state: an engine whose coolant sensor reads 15 degC low still idles warm. Without a
claim the bands are narrow, and what fits none of them has no state.

How long the engine had rested before a `koeo_soak` cannot be seen in one snapshot; whoever holds the history
checks it.

References
----------
Idle speeds 300 to 2,000/min, closed-loop bit not allowed and MAF at most 5 g/s with the engine off: limits
of the public SAE J1699-3 program. Warm from 70 degC: the definition of a warm-up in SAE J1979 (PID 30).
The other figures are common practice, no source, unless their line says otherwise.
"""

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CLOSED_LOOP, COLUMN, NO_STATE, PARAMETERS, STATES

CRANK_RPM_BELOW: Final = 400.0
"""Slower than this the engine is turned by the starter [1/min]; common practice, no source."""

WARM_IDLE_RPM_TO: Final = 1100.0
"""Fastest unclaimed warm idle [1/min]; common practice, no source."""

COLD_IDLE_RPM_TO: Final = 1400.0
"""Fastest unclaimed cold idle [1/min]; common practice, no source."""

CLAIMED_IDLE_RPM_TO: Final = 2000.0
"""Fastest claimed idle [1/min]; SAE J1699-3. A high idle is a fault that a claim must be able to show."""

WARM_ECT_FROM: Final = 70.0
"""Coolant of a warm engine [degC]; SAE J1979, PID 30."""

CLAIMED_WARM_ECT_FROM: Final = 50.0
"""Coolant that still fits a claimed warm idle [degC]; chosen by us: 20 degC below `WARM_ECT_FROM`, so that
an open thermostat or a biased sensor does not hide itself."""

SETTLED_RUNTM_FROM: Final = 60.0
"""Seconds after which idle speed, charging and fuel control have settled; common practice, no source."""

LONG_RUNTM_FROM: Final = 600.0
"""Seconds after which an engine is warm whatever its sensor says; chosen by us: one car's public recordings
reached 80 degC after 259 to 420 s (middle half), doubled for cold days."""

SOAKED_ECT_BELOW: Final = 50.0
"""Coolant of a soaked engine [degC]; chosen by us: hotter than any shade, cooler than any warm engine."""

SOAKED_GAP_TO: Final = 6.0
"""Two temperatures agree within this [degC]; common practice, no source."""

CRUISE_VSS_FROM: Final = 40.0
"""Slowest unclaimed cruise [km/h]; common practice, no source."""

CLAIMED_CRUISE_VSS_FROM: Final = 20.0
"""Slowest claimed cruise [km/h]; common practice, no source."""

CRUISE_RPM_ABOVE: Final = 900.0
"""Engine speed above idle [1/min]; common practice, no source."""

ENGINE_OFF_MAF_TO: Final = 5.0
"""Air flow that a meter may read at rest [g/s]; SAE J1699-3."""

NOTES: Final = (
    "",
    "state-claim-refuted",
    "open-loop",
    "just-started",
    "cool-for-warm",
    "no-engine-speed",
    "not-warm",
    "no-state",
)
"""What a row's note may say; empty where nothing needs saying."""

_SOAK, _KOEO, _CRANK, _COLD, _WARM, _CRUISE = range(len(STATES))
Flags = NDArray[np.bool_]
Column = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    """Columns that states are judged by; NaN where missing, so that every comparison with it is false."""

    rpm: Column
    vss: Column
    ect: Column
    iat: Column
    aat: Column
    runtm: Column
    maf: Column
    loop: Column
    crank_v: Column


def judge(
    values: NDArray[np.float64],
    switches: NDArray[np.int8],  # noqa: ARG001  (part of the interface: a later rule may read them)
    claim: NDArray[np.int8],
) -> tuple[NDArray[np.int8], list[str]]:
    """Find the operating state that each row's values support.

    Parameters
    ----------
    values : float64 array of shape (n, P)
        Readings in default units, order of `parameters.CODES`; NaN marks a missing one.
    switches : int8 array of shape (n, 3)
        1 on, 0 off, -1 not reported.
    claim : int8 array of shape (n,)
        Claimed state, a place in `parameters.STATES`; -1 where none.

    Returns
    -------
    state : int8 array of shape (n,)
        Place in `parameters.STATES`; -1 where the values support none.
    notes : list of str, length n
        One of `NOTES`.

    Examples
    --------
    >>> row = np.full((1, len(COLUMN)), np.nan)
    >>> row[0, [COLUMN["RPM"], COLUMN["VSS"], COLUMN["ECT"]]] = 742, 0, 90
    >>> judge(row, np.full((1, 3), -1, np.int8), np.array([-1], np.int8))
    (array([4], dtype=int8), [''])
    """
    view = _look(values)
    state, note = _infer(view)
    claimed_state, claimed_note = _check_claims(view, claim)
    claimed = claim != NO_STATE
    state = np.where(claimed, claimed_state, state).astype(np.int8)
    note = np.where(claimed, claimed_note, note)
    return state, [NOTES[place] for place in note.tolist()]


def _look(values: NDArray[np.float64]) -> _View:
    def column(code: str) -> Column:
        return values[:, COLUMN[code]]

    ect = column("ECT")
    ends = PARAMETERS["ECT"].stuck_at
    # a coolant sensor at its end says "wire", not "temperature": it must neither prove nor refute a state
    ect = np.where(np.isin(ect, ends), np.nan, ect)
    codes = ("RPM", "VSS", "", "IAT", "AAT", "RUNTM", "MAF", "FUELSYS1", "CRANK_VMIN")
    names = [part.name for part in fields(_View)]
    return _View(**{name: column(code) if code else ect for name, code in zip(names, codes, strict=True)})


def _note(code: str) -> int:
    return NOTES.index(code)


def _open_loop(view: _View) -> Flags:
    open_loop: Flags = ~np.isnan(view.loop) & (view.loop != CLOSED_LOOP)
    return open_loop


def _soaked(view: _View) -> Flags:
    ect, iat, aat = view.ect, view.iat, view.aat
    agree = np.abs(ect - iat) <= SOAKED_GAP_TO
    agree |= np.abs(ect - aat) <= SOAKED_GAP_TO
    agree |= np.abs(iat - aat) <= SOAKED_GAP_TO
    soaked: Flags = agree & (ect < SOAKED_ECT_BELOW)
    return soaked


def _infer(view: _View) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    still, running = view.vss == 0, view.rpm >= CRANK_RPM_BELOW
    warm, cold = view.ect >= WARM_ECT_FROM, view.ect < WARM_ECT_FROM
    off = (view.rpm == 0) & ~(view.vss > 0)
    soak = off & _soaked(view)
    crank = (view.rpm > 0) & (view.rpm < CRANK_RPM_BELOW) & ~(view.vss > 0)
    cold_idle = running & still & cold & (view.rpm <= COLD_IDLE_RPM_TO)
    idle = running & still & warm & (view.rpm <= WARM_IDLE_RPM_TO)
    moving = (view.vss >= CRUISE_VSS_FROM) & (view.rpm > CRUISE_RPM_ABOVE)
    cruise = moving & (warm | (view.runtm >= LONG_RUNTM_FROM))
    open_loop, early = _open_loop(view), view.runtm < SETTLED_RUNTM_FROM

    tests = (
        (np.isnan(view.rpm), NO_STATE, "no-engine-speed"),
        (soak, _SOAK, ""),
        (off, _KOEO, ""),
        (crank, _CRANK, ""),
        (cold_idle, _COLD, ""),
        (idle & early, NO_STATE, "just-started"),
        ((idle | cruise) & open_loop, NO_STATE, "open-loop"),
        (idle, _WARM, ""),
        (cruise, _CRUISE, ""),
        (moving, NO_STATE, "not-warm"),
    )
    return _first(tests, len(view.rpm))


def _first(tests: tuple[tuple[Flags, int, str], ...], rows: int) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """Take for each row the first test that holds; none means no state."""
    conditions = [flags for flags, _, _ in tests]
    state = np.select(conditions, [np.int8(place) for _, place, _ in tests], np.int8(NO_STATE))
    note = np.select(conditions, [np.int8(_note(code)) for _, _, code in tests], np.int8(_note("no-state")))
    return np.broadcast_to(state, (rows,)).astype(np.int8), np.broadcast_to(note, (rows,)).astype(np.int8)


def _check_claims(view: _View, claim: NDArray[np.int8]) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    refuted = np.zeros(len(claim), dtype=np.bool_)
    for place, contradicted in (
        (_SOAK, _refutes_off(view)),
        (_KOEO, _refutes_off(view)),
        (_CRANK, _refutes_crank(view)),
        (_COLD, _refutes_idle(view) | (view.ect >= WARM_ECT_FROM)),
        (_WARM, _refutes_warm_idle(view)),
        (_CRUISE, _refutes_cruise(view)),
    ):
        refuted |= (claim == place) & contradicted
    warm, trimmed = claim == _WARM, (claim == _WARM) | (claim == _CRUISE)
    cool = warm & (view.ect < WARM_ECT_FROM)
    dropped = refuted | (trimmed & _open_loop(view)) | (warm & (view.runtm < SETTLED_RUNTM_FROM))
    note = np.select(
        [refuted, trimmed & _open_loop(view), dropped, cool],
        [
            np.int8(_note(code))
            for code in ("state-claim-refuted", "open-loop", "just-started", "cool-for-warm")
        ],
        np.int8(0),
    )
    return np.where(dropped, np.int8(NO_STATE), claim).astype(np.int8), note.astype(np.int8)


def _refutes_off(view: _View) -> Flags:
    """Tell where the engine runs or the vehicle moves; signs of running count only where RPM is missing."""
    runs = (view.runtm > 0) | (view.maf > ENGINE_OFF_MAF_TO) | (view.loop == CLOSED_LOOP)
    refuted: Flags = (view.rpm > 0) | (view.vss > 0) | (np.isnan(view.rpm) & runs)
    return refuted


def _refutes_crank(view: _View) -> Flags:
    """Tell where the starter cannot be turning; a lowest cranking voltage is told after the engine caught."""
    not_cranking = (view.rpm == 0) | (view.rpm >= CRANK_RPM_BELOW)
    refuted: Flags = (not_cranking & np.isnan(view.crank_v)) | (view.vss > 0)
    return refuted


def _refutes_idle(view: _View) -> Flags:
    return (view.rpm < CRANK_RPM_BELOW) | (view.rpm > CLAIMED_IDLE_RPM_TO) | (view.vss > 0)


def _refutes_warm_idle(view: _View) -> Flags:
    """Tell where no warm idle is; an engine that ran for long is warm even if its sensor reads cold."""
    cold = (view.ect < CLAIMED_WARM_ECT_FROM) & ~(view.runtm >= LONG_RUNTM_FROM)
    return _refutes_idle(view) | cold


def _refutes_cruise(view: _View) -> Flags:
    return (view.vss < CLAIMED_CRUISE_VSS_FROM) | (view.rpm <= CRUISE_RPM_ABOVE)
