"""Evidence by kind, on one scale."""

import numpy as np
import pytest

from ingest.parameters import CAUSES
from models.causes.table import UNKNOWN, directions
from models.evidence.kinds import KINDS, PLACE, SHARES, kinds_of, least_nats, rarity
from models.evidence.scan import TEMPLATES
from tests.models.fleets import SHEET

OLD, YOUNG = TEMPLATES.index((97, "ramp")), TEMPLATES.index((9, "step"))


def _kind_of(cause: str, template: int = OLD) -> set[str]:
    table = directions(SHEET)
    found = kinds_of(table, np.array([template]))[0]
    return {KINDS[place].name for place in found[table.cause == CAUSES.index(cause)]}


@pytest.mark.parametrize(
    ("cause", "kind"),
    [
        ("fuel_delivery_low", "fuel"),
        ("unmetered_air", "trim"),
        ("throttle_deposits", "idle air"),
        ("charging_low", "charging"),
        ("battery_ageing", "charging"),
        ("coolant_sensor_bias", "temperature"),
        ("map_sensor_bias", "pressure"),
        ("oxygen_sensor_slow", "trim"),
    ],
)
def test_every_cause_has_its_kind(cause: str, kind: str) -> None:
    """What imitates a cause in sound vehicles follows from the series that it moves."""
    assert _kind_of(cause) == {kind}


def test_young_trims_are_a_kind_of_their_own() -> None:
    """One tank of bad fuel moves trims for days, not for weeks; it moves no voltage."""
    assert _kind_of("fuel_delivery_low", YOUNG) == {"fuel, young"}
    assert _kind_of("purge_flow_stuck", YOUNG) == {"trim, young"}
    assert _kind_of("charging_low", YOUNG) == {"charging"}


def test_what_nobody_described_is_lone() -> None:
    """Shifts of a single series are kinds of their own."""
    table = directions(SHEET)
    found = kinds_of(table, np.array([OLD]))[0][table.cause == UNKNOWN]

    assert {KINDS[place].name for place in found} == {"lone trim", "lone idle air", "lone series"}


@pytest.mark.parametrize("place", range(len(KINDS)))
def test_what_the_table_says_once_in_a_hundred_months_has_its_share(place: int) -> None:
    """At its level a kind passes once in 100 vehicle-months, which is as rare as its share of one."""
    at = float(rarity(np.array(KINDS[place].level), np.array(place)))
    more = float(rarity(np.array(KINDS[place].level + 1.0), np.array(place)))

    assert at == pytest.approx(np.log(SHARES[place]))
    assert more - at == pytest.approx(KINDS[place].fall)


def test_shares_are_of_one_wish() -> None:
    """Shares add up to the whole wish."""
    assert SHARES.sum() == pytest.approx(1.0)
    assert (SHARES > 0).all()


def test_no_kind_is_rare_below_the_least_evidence() -> None:
    """Below the least evidence for a rarity no kind reaches it; at it one does."""
    least = least_nats(np.zeros(len(KINDS)))
    reached = rarity(np.full(len(KINDS), least), np.arange(len(KINDS)))

    assert reached.max() == pytest.approx(0.0, abs=1e-9)


def test_a_charging_fault_needs_less_than_a_trim() -> None:
    """Equal evidence is rarer on a voltage than on a learned trim: five times at least."""
    nats = np.array([12.0, 12.0])

    volts, trim = rarity(nats, np.array([PLACE["charging"], PLACE["trim"]]))

    assert volts > trim + np.log(5.0)
