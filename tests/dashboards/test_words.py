"""The wording catalogue: every code that can arrive has words."""

import pytest

from dashboards import words
from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from dashboards.frame import BannerKind
from dashboards.glossary import help_view, words_view
from dashboards.rows import Urgency
from dashboards.series import kind_of, series_name
from ingest.codes import QUARANTINED
from ingest.parameters import CAUSES, PARAMETERS, STATES
from ingest.records import WORK_KINDS
from models.series import NAMES
from service.schedule.timetable import NIGHTLY, WEEKLY
from service.tickets.effects import EVENTS, NO_FAULT_REASONS, PAUSE_REASONS
from service.tickets.ticket import DISMISS_REASONS, PRIORITY_WORDS, STATUSES


@pytest.mark.parametrize(
    ("table", "codes"),
    [
        (words.CAUSES, CAUSES),
        (words.STATES, STATES),
        (words.WORK, WORK_KINDS),
        (words.STATUS, STATUSES),
        (words.EVENTS, EVENTS),
        (words.REASONS, (*DISMISS_REASONS, *NO_FAULT_REASONS, *PAUSE_REASONS, "no_fault_found", "merged")),
        (words.URGENCY, Urgency.__args__),  # type: ignore[attr-defined]
        (words.SHAPES, Urgency.__args__),  # type: ignore[attr-defined]
        (words.BANNERS, BannerKind.__args__),  # type: ignore[attr-defined]
        (words.JOBS, (NIGHTLY, WEEKLY)),
        (words.DATASETS, DATASETS),
        (words.FORMATS, MEDIA_TYPES),
        (
            words.MARKS,
            (
                "first_data", "repair", "memory_cleared", "battery_replaced", "logger_changed", "break_found",
                "moved", "returned",
            ),
        ),
    ],
    ids=[
        "causes", "states", "work", "status", "events", "reasons", "urgency", "shapes", "banners", "jobs",
        "datasets", "formats", "marks",
    ],
)  # fmt: skip
def test_every_code_has_words(table: words.Words, codes: tuple[str, ...]) -> None:
    """No known code is left to be shown bare."""
    assert set(codes) <= set(table)


def test_tickets_and_pages_use_the_same_five_words() -> None:
    """The words of the pages are those that tickets carry."""
    assert dict(words.URGENCY) == dict(PRIORITY_WORDS)


def test_shapes_differ() -> None:
    """Each standing has a shape of its own."""
    assert len(set(words.SHAPES.values())) == len(words.URGENCY)


def test_unknown_code_is_shown_readably() -> None:
    """A code that has no words yet fails no page."""
    assert words.say(words.CAUSES, "gremlins_in_tank") == "gremlins in tank"


def test_every_gap_says_what_it_is_and_who_acts() -> None:
    """Each kind of gap has meaning and actor."""
    assert set(words.GAPS) == set(words.GAP_MEANING) == set(words.ACTORS)


def test_glossary_explains_every_parameter_and_word() -> None:
    """The help page names every parameter and every standing."""
    terms = {term.word for topic in help_view().topics for term in topic.terms}

    assert set(PARAMETERS) <= terms
    assert all(any(word in term for term in terms) for word in words.URGENCY.values())


def test_glossary_alone_leaves_out_the_introduction() -> None:
    """The page of words has the words only."""
    assert words_view().topics == help_view().topics[1:]


@pytest.mark.parametrize("series", NAMES)
def test_every_followed_series_has_a_name(series: str) -> None:
    """Each followed series is named in words with its codes, and its kind fits its formula."""
    name = series_name(series)

    assert "@" not in name
    assert ("gap" in name) == (kind_of(series) == "difference")
    assert ("change" in name) == (kind_of(series) == "change")


def test_series_without_state_is_named_by_its_formula() -> None:
    """A bare parameter is named without a state."""
    assert series_name("IAC") == "idle air control, share of the bypass valve's opening (IAC)"


def test_every_reason_for_holding_back_has_words() -> None:
    """Whatever may hold a snapshot back is named in few plain words, and nothing else is."""
    assert set(QUARANTINED) | {"unknown-vehicle"} == set(words.HELD)
