"""What the whole fleet does at once: one notice, no tickets; a limit counts all the same."""

from datetime import timedelta
from html import unescape

from tests.story.conftest import Town

SHIFT_DAYS = 8


def _shift_everyone(town: Town) -> None:
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[:, -SHIFT_DAYS:] += 4.0


def test_a_fleets_step_is_one_notice(town: Town) -> None:
    """Trims of the whole fleet rise by 4 % in one week: no ticket, one notice, on page and in digest."""
    _shift_everyone(town)
    town.register()
    town.send()

    tickets = town.nights(town.last - timedelta(days=SHIFT_DAYS))
    page = unescape(town.page("/week"))

    shared = page.partition('id="shared"')[2].partition("</section>")[0]
    assert tickets == ()
    assert shared.count("<li>") == 1
    assert "16 vehicles moved together" in shared
    assert "No vehicle needs pulling in. 16 of 16 judged." in page
    digest = town.digest()
    assert digest.text.count("moved together") == 1


def test_beyond_the_limit_in_that_week(town: Town) -> None:
    """A vehicle that is beyond its sheet's limit while its fleet shifts gets its ticket, no other does."""
    town.at("LONGFT1", "warm_idle")[4, -21:] += 8.5
    _shift_everyone(town)
    town.register()
    town.send()

    tickets = town.nights(town.last - timedelta(days=SHIFT_DAYS))

    assert [ticket.vehicle for ticket in tickets] == [town.name(4)]
    lead = tickets[0].detail.readings[0] if tickets[0].detail else None
    assert lead is not None
    assert lead.outside
    assert "moved together" in town.page("/week")
