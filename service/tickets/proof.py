"""Whether a repair cured the fault: judged from readings taken after the repair and its relearn."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.tickets.rules import Rules
from service.tickets.ticket import ProofProgress, Ticket
from service.tickets.words import counted, short_name, state_words

_NORMAL_MEDIAN_WIDTH: Final = 1.2533
"""Standard error of a median of n normal values is sqrt(pi / 2) sigma / sqrt(n)."""

_UNSURE_Z: Final = 1.645
"""One-sided 95 % point of the normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What the readings after a repair say.

    Parameters
    ----------
    ticket : str
        Ticket number.
    readings, days : int
        Valid readings of the series after the relearn, and on how many days.
    median : float or None
        Median of their daily values [unit of the ticket]; None without any.
    inside_limits : bool or None
        Whether it lies inside the sheet's band, without one inside like vehicles' range; None without both.
    shift_undone : float or None
        Share of the shift that is gone [1]; None where there was none.
    relearn_pending : bool
        Whether the relearn days still run.
    unsure : bool
        Whether a share below the wanted one may still be noise.
    done_day : int or None
        Day of the repair that was weighed [days since 1970-01-01]; a later repair needs its own proof.
    """

    ticket: str
    readings: int
    days: int
    median: float | None
    inside_limits: bool | None
    shift_undone: float | None
    relearn_pending: bool = False
    unsure: bool = False
    done_day: int | None = None


def weigh(
    ticket: Ticket,
    *,
    days: NDArray[np.int32],
    values: NDArray[np.float64],
    readings: NDArray[np.int32],
    relearned_from: int,
    as_of_day: int,
    before: float | None = None,
    normal: float | None = None,
) -> Proof:
    """Weigh the readings that came after a repair.

    Parameters
    ----------
    ticket : Ticket
        Done, with the evidence it had at the repair.
    days : int32 array of shape (n,)
        Local days of the daily values [days since 1970-01-01].
    values : float64 array of shape (n,)
        Daily median of the series that spoke loudest, in the ticket's unit; NaN marks a missing one.
    readings : int32 array of shape (n,)
        Snapshots behind each daily value.
    relearned_from : int
        First day whose readings count [days since 1970-01-01].
    as_of_day : int
        Evaluation day; later readings are left out.
    before : float or None
        Median of the plain daily values of the last weeks before the repair: it stands for the ticket's
        `value`. Season and habits hardly changed since and drop out; a fast drift makes it lag.
    normal : float or None
        Median of the plain daily values on the baseline's days: it stands for the ticket's `baseline`. It
        does not lag, but season and habits remain.

    Notes
    -----
    The ticket's numbers are adjusted for what explains them, daily values are plain. Of the two ways to
    bring them together the kinder one counts: a fault that is still there shows in both.

    Examples
    --------
    >>> import numpy as np
    >>> from datetime import UTC, datetime
    >>> at = datetime(2031, 3, 1, tzinfo=UTC)
    >>> mended = Ticket(ticket="V-1-T1", vehicle="V-1", raised_at=at, updated_at=at, value=8.0, baseline=1.0)
    >>> weigh(mended, days=np.array([10, 11, 12], np.int32), values=np.array([1.0, 2.0, 1.5]),
    ...       readings=np.array([2, 2, 2], np.int32), relearned_from=10, as_of_day=12).shift_undone
    0.9285714285714286
    """
    keep = (days >= relearned_from) & (days <= as_of_day) & np.isfinite(values)
    found = values[keep]
    if len(found) == 0:
        return _nothing_in(ticket, relearn_pending=as_of_day < relearned_from)
    median = float(np.median(found))
    adjusted = _adjusted(ticket, median, before=before, normal=normal)
    undone, unsure = _undone(ticket, adjusted, len(found))
    return Proof(
        ticket=ticket.ticket,
        readings=int(readings[keep].sum()),
        days=len(np.unique(days[keep])),
        median=median,
        inside_limits=_inside(ticket, median, adjusted),
        shift_undone=undone,
        unsure=unsure,
        done_day=ticket.done_day,
    )


def is_enough(proof: Proof, rules: Rules) -> bool:
    """Tell whether there are readings enough to judge the repair."""
    return proof.readings >= rules.proof_readings and proof.days >= rules.proof_days


def is_cured(proof: Proof, rules: Rules) -> bool:
    """Tell whether readings enough lie inside the limits with the shift mostly undone."""
    undone = proof.shift_undone is None or proof.shift_undone >= rules.proof_undone
    return is_enough(proof, rules) and proof.inside_limits is not False and undone


def is_not_cured(proof: Proof, rules: Rules) -> bool:
    """Tell whether readings enough say that the fault is still there.

    A shortfall that noise may explain waits for up to twice the days asked for; one that undid at least
    half of the shift waits for its time to run out: neither reopens a ticket that may well be cured.
    """
    if not is_enough(proof, rules) or is_cured(proof, rules):
        return False
    if proof.inside_limits is False:
        return True
    if proof.shift_undone is not None and proof.shift_undone >= rules.proof_undecided:
        return False
    return not (proof.unsure and proof.days < 2 * rules.proof_days)


def progress_of(ticket: Ticket, proof: Proof, rules: Rules) -> ProofProgress:
    """Say how far the proof has come, and what drive is needed."""
    series = ticket.detail.readings[0].series if ticket.detail else ticket.parameter
    lacking = max(0, rules.proof_days - proof.days)
    text = f"{min(proof.readings, rules.proof_readings)} of {rules.proof_readings} readings in"
    if lacking:
        text += f"; needs {short_name(series)} on {counted(lacking, 'more day')}"
    if proof.relearn_pending:
        text += "; relearn pending"
    return ProofProgress(
        readings=proof.readings,
        days=proof.days,
        readings_needed=rules.proof_readings,
        days_needed=rules.proof_days,
        relearn_pending=proof.relearn_pending,
        state=ticket.state,
        text=f"{text}; drive so that the vehicle reports {state_words(ticket.state)}.",
    )


def first_progress(ticket: Ticket, rules: Rules) -> ProofProgress:
    """Say what proof is needed of a repair that no evaluation has looked at yet: nothing is in."""
    return progress_of(ticket, _nothing_in(ticket, relearn_pending=True), rules)


def _nothing_in(ticket: Ticket, *, relearn_pending: bool) -> Proof:
    return Proof(
        ticket=ticket.ticket,
        readings=0,
        days=0,
        median=None,
        inside_limits=None,
        shift_undone=None,
        relearn_pending=relearn_pending,
        done_day=ticket.done_day,
    )


def _adjusted(ticket: Ticket, median: float, *, before: float | None, normal: float | None) -> float:
    if ticket.value is None or ticket.baseline is None:
        return median
    ways = []
    if before is not None:
        ways.append(median + ticket.value - before)
    if normal is not None:
        ways.append(median + ticket.baseline - normal)
    baseline = ticket.baseline
    return min(ways or [median], key=lambda way: abs(way - baseline))


def _inside(ticket: Ticket, plain: float, adjusted: float) -> bool | None:
    low, high, median = ticket.limit_low, ticket.limit_high, plain
    if low is None and high is None and ticket.detail is not None:
        lead = ticket.detail.readings[0]
        low, high, median = lead.peers_low, lead.peers_high, adjusted
        if low is not None and high is not None:
            # The vehicle's own normal may lie outside the range of like vehicles; that is no fault.
            low, high = min(low, lead.baseline), max(high, lead.baseline)
            slack = _NORMAL_MEDIAN_WIDTH * lead.noise
            low, high = low - slack, high + slack
    if low is None and high is None:
        return None
    return (low is None or median >= low) and (high is None or median <= high)


def _undone(ticket: Ticket, median: float, count: int) -> tuple[float | None, bool]:
    if ticket.value is None or ticket.baseline is None or ticket.value == ticket.baseline:
        return None, False
    shift = ticket.value - ticket.baseline
    undone = (ticket.value - median) / shift
    if ticket.detail is None:
        return float(undone), False
    error = _NORMAL_MEDIAN_WIDTH * ticket.detail.readings[0].noise / count**0.5 / abs(shift)
    return float(undone), bool(undone + _UNSURE_Z * error >= 1.0)
