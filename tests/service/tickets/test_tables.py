"""The readable tables are whole, and order first checks as they should."""

import tomllib
from importlib.resources import files

import pytest

from ingest.parameters import CAUSES
from service.tickets.checks import (
    cause_table,
    cautions_for,
    consequence_of,
    first_checks,
    read_table,
)
from service.tickets.costs import read_costs, starting_costs
from service.tickets.errors import UnreadableTable


def _text(name: str) -> str:
    return files("service.tickets").joinpath(name).read_text(encoding="utf-8")


def test_every_cause_has_words_checks_and_cautions() -> None:
    """Each cause code of the contract has its row, with checks that say what good and bad mean."""
    table = cause_table()

    assert set(table.causes) == set(CAUSES)
    for cause in table.causes.values():
        assert cause.words
        assert cause.cautions
        assert all(check.good and check.bad and check.tools for check in cause.checks)


def test_every_caution_is_used() -> None:
    """No caution stands in the table without a cause that shows it."""
    shown = {c.key for code in CAUSES for c in cautions_for([(code, 1.0)])}

    assert shown | {"lifting", "leak_search"} >= set(cause_table().cautions)


def test_groups_agree_with_the_models() -> None:
    """A cause belongs to the same physical group here and in the models' table."""
    groups = tomllib.loads(files("models.causes").joinpath("causes.toml").read_text(encoding="utf-8"))[
        "group"
    ]

    assert {code: cause_table().causes[code].group for code in groups} == groups


def test_checks_go_by_probability_per_minute() -> None:
    """Half a chance in 10 minutes comes after a fifth of a chance in 2 minutes."""
    checks = first_checks([("throttle_deposits", 0.5), ("load_switch_stuck", 0.2), ("unknown", 0.3)])

    assert (checks[0].cause, checks[0].minutes) == ("load_switch_stuck", 2)
    assert (checks[1].cause, checks[1].minutes) == ("throttle_deposits", 10)


def test_there_is_always_a_first_check() -> None:
    """Even when no cause is likely the ticket has a first action."""
    assert first_checks([])
    assert first_checks([(code, 0.01) for code in CAUSES])


def test_general_cautions_always_stand() -> None:
    """Suspicion, saved codes and confirmation stand on every ticket, whatever the cause."""
    for code in CAUSES:
        keys = [caution.key for caution in cautions_for([(code, 1.0)])]
        assert keys[:2] == ["suspicion", "save_codes"]
        assert keys[-1] == "confirm"


def test_consequence_follows_half_of_the_probability() -> None:
    """A ticket is of class 1 only when causes of class 1 hold half of the probability."""
    assert consequence_of([("charging_low", 0.5), ("load_switch_stuck", 0.5)]) == 1
    assert consequence_of([("charging_low", 0.4), ("load_switch_stuck", 0.6)]) == 4
    assert consequence_of([("charging_low", 0.3), ("purge_flow_stuck", 0.3), ("load_switch_stuck", 0.4)]) == 3


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ('code = "unmetered_air"', 'code = "gremlins"', "gremlins"),
        ('code = "unmetered_air"', 'code = "fuel_delivery_low"', "fuel_delivery_low"),
        ("class = 2", "class = 7", "unmetered_air"),
        ('group = "mixture"', 'group = "soup"', "unmetered_air"),
        ("minutes = 10", "minutes = 0", "unmetered_air"),
        ('"leak_search", "moving_parts"', '"luck", "moving_parts"', "unmetered_air"),
        ('words = "air gets in', 'speech = "air gets in', "unmetered_air"),
        ("[[cause]]", "[[cause", "the file"),
    ],
)
def test_a_broken_table_of_causes_is_refused(old: str, new: str, place: str) -> None:
    """A wrong entry is named with its place."""
    with pytest.raises(UnreadableTable) as caught:
        read_table(_text("checks.toml").replace(old, new, 1))

    assert caught.value.place == place


def test_starting_costs_are_marked_as_ours() -> None:
    """Our figures say that they are to be replaced; an unplanned stop costs at least the planned one."""
    costs = starting_costs()

    assert "replace" in costs.source
    for code in CAUSES:
        assert costs.unplanned([(code, 1.0)]) >= costs.planned([(code, 1.0)])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("unknown = {", "nobody = {"),
        ("planned_hours = 1.2,", ""),
        ("rate = 80.0", 'rate = "much"'),
        ("= 1.2,", "= -1.2,"),
    ],
)
def test_a_broken_cost_table_is_refused(old: str, new: str) -> None:
    """A missing cause or figure, text for a number, or a negative figure is refused."""
    with pytest.raises(UnreadableTable):
        read_costs(_text("costs.toml").replace(old, new, 1))
