"""Thresholds of the ticket rules: the owner's settings, with our defaults."""

from dataclasses import dataclass
from typing import Final

RULES_VERSION: Final = "tickets-1"
"""Name of this set of rules; shown on every ticket."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the fleet's owner may set about tickets. All defaults are ours, chosen by judgement.

    Parameters
    ----------
    defer_days : int
        Longest deferral [days].
    undo_hours : float
        How long a closing step can be undone [h].
    working_days : frozenset of int
        Days of the week a vehicle can be booked on, Monday is 0.
    proof_readings, proof_days : int
        Valid readings after a repair, and days they lie on, before it is judged.
    proof_undone : float
        Share of the shift that a repair must undo [1].
    proof_undecided : float
        Share of the shift from which a repair is not called failed, only unproved [1].
    proof_timeout_days : int
        Days after a repair until it is closed without proof.
    relearn_days : int
        Days after a repair whose readings prove nothing: the engine computer is relearning.
    comeback_days : int
        Days after closing within which the same trouble is a comeback.
    quiet_share, quiet_nats : float
        Evidence must exceed the level at an inspection that found nothing by this share [1] and by
        this much [nats] before a new ticket is raised.
    separate_rest_days : int
        Rest after which a change in another series is taken for another fault [days].
    same_onset_days : int
        Onset up to this long after a ticket was raised still counts as the same fault when groups of
        causes that act on each other are concerned [days].
    rest_days : int
        Quiet days until a ticket rests [days].
    calm_days : int
        Days until a priority may fall after it changed; it may rise at once [days].
    calm_share : float
        A priority falls only when it would with a probability higher by this share, too [1].
    fresh_days : int
        Newest reading must be at most this old before missing evidence counts as eased [days].
    worse_days : int
        A deferred ticket returns when its limit date moved forward by at least this much [days].
    setup_hours : float
        Hours that each visit to the workshop takes beside the work itself [h].
    plan_reserve : float
        Share of the workshop's hours that a plan leaves free for what nobody foresees [1].
    usual_least : int
        Recorded repairs of a cause from which their median hours stand in for the cost table's.
    take_back_minutes : float
        How long what a mechanic has just recorded can be taken back [min].
    """

    defer_days: int = 60
    undo_hours: float = 24.0
    working_days: frozenset[int] = frozenset({0, 1, 2, 3, 4})
    proof_readings: int = 5
    proof_days: int = 3
    proof_undone: float = 0.7
    proof_undecided: float = 0.5
    proof_timeout_days: int = 21
    relearn_days: int = 3
    comeback_days: int = 60
    quiet_share: float = 0.25
    quiet_nats: float = 2.0
    separate_rest_days: int = 42
    same_onset_days: int = 14
    rest_days: int = 3
    calm_days: int = 7
    calm_share: float = 0.25
    fresh_days: int = 7
    worse_days: int = 7
    setup_hours: float = 0.3
    plan_reserve: float = 0.15
    usual_least: int = 5
    take_back_minutes: float = 10.0
