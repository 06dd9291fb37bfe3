"""What the models noted becomes sentences; a second opinion never moves a ticket."""

from dataclasses import replace

import pytest

from models.findings import Assessment
from models.quality.plausible import REASONS
from models.quality.stuck import REASON
from service.tickets.reconcile import SECOND_OPINION, Knowledge, reconcile
from service.tickets.remarks import DOUBTS, remark_lines
from tests.models.findings import drift


@pytest.mark.parametrize(
    ("note", "words"),
    [
        ("rank_agrees", "sees the drift too"),
        ("rank_undecided", "does not see a trend yet"),
        ("rank_disagrees", "the opposite trend"),
        ("resting_charge:30:63", "between 30 and 63 %"),
        ("charging_slope:-9.5", "-9.5 mV per °C of air temperature, as published"),
        ("charging_slope:-24.0", "unlike published"),
        ("implausible:MAF@warm_idle:flow_against_pressure", "does not fit pressure, speed and displacement"),
        ("belief:throttle_deposits:5:29", "from 5 to 29 %"),
        ("chance:12", "about 12 %"),
        ("splits:3.1:7.9", "after 3.1 splits; 7.9 are usual"),
        ("odd:IAC@warm_idle:95", "95 % of the oddity"),
        ("total_trim:19700:8.1:0.6:8.3:7.9", "together from 8.3 to 7.9 %: clearing cured nothing"),
        ("total_trim:19700:8.1:0.6:8.3:1.2", "from 8.3 to 1.2 %: what moved it may be gone"),
    ],
)
def test_every_note_has_its_sentence(note: str, words: str) -> None:
    """Each code that the models write becomes one sentence with its numbers."""
    lines = remark_lines([note])

    assert len(lines) == 1
    assert words in lines[0]


def test_every_doubt_has_words() -> None:
    """No reason of the models is without words, and none has words that no check uses."""
    assert set(DOUBTS) == {*REASONS, REASON}


def test_a_second_opinion_raises_nothing() -> None:
    """Held back as a second opinion, not even evidence of ticket strength opens a ticket."""
    strong = replace(drift("V-1"), tier="ticket", score=30.0)
    asked = replace(strong, vehicle="V-2", rule="outlier", held_back=SECOND_OPINION)
    said = Assessment(day=19_700, method="test 1", findings=(strong, asked))

    actions = reconcile(tickets=(), assessment=said, knowledge=Knowledge())

    assert [(one.kind, one.ticket.vehicle) for one in actions] == [("open", "V-1")]
