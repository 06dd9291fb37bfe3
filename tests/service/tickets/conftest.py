"""Small findings, assessments and evaluations to try the ticket rules on."""

from collections.abc import Callable
from functools import partial

import pytest

from models.findings import Finding, SeriesReading
from models.panel import SheetFacts
from tests.service import findings
from tests.service.tickets.workshop import FIRST, SHEET, Workshop


@pytest.fixture
def make_reading() -> Callable[..., SeriesReading]:
    """Give a maker of series readings with sensible fields."""
    return partial(findings.make_reading, FIRST)


@pytest.fixture
def make_finding() -> Callable[..., Finding]:
    """Give a maker of findings with sensible fields."""
    return partial(findings.make_finding, FIRST)


@pytest.fixture
def workshop() -> Workshop:
    """Give a fleet of one vehicle without tickets."""
    return Workshop()


@pytest.fixture
def sheet() -> SheetFacts:
    """Give a spec sheet."""
    return SHEET
