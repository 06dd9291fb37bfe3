"""Without a spec sheet no limit is drawn, written or exported, anywhere."""

from html import unescape

import numpy as np
import orjson
import pytest

from tests.service.web.conftest import Service
from tests.story.conftest import SHEET, Town

WORDING = "No spec sheet: compared with its own history and like vehicles only"
DRAWN = (">highest ", ">lowest ", "Highest on sheet", "leaves the limits")
"""What pictures and tables call a limit."""


@pytest.fixture
def drifting(request: pytest.FixtureRequest, service: Service) -> Town:
    """Give a fleet on the sheet asked for, in which one vehicle's trims drift, evaluated."""
    town = Town(service, vehicles=12, sheet=request.param)
    growing = 6.5 * np.clip((np.arange(town.days) - 60) / 59, 0, 1)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[3] += growing
    town.register()
    town.send()
    assert [ticket.vehicle for ticket in town.night()] == [town.name(3)]
    return town


def _pages(town: Town) -> dict[str, str]:
    vehicle = town.name(3)
    addresses = (
        f"/work/{vehicle}-T1",
        f"/work/{vehicle}-T1/sheet",
        f"/vehicles/{vehicle}",
        f"/vehicles/{vehicle}/trends?parameter=LONGFT1&state=warm_idle",
    )
    return {address: unescape(town.page(address)) for address in addresses}


def _exported_limits(town: Town) -> set[object]:
    found: set[object] = set()
    for dataset in ("tickets", "trends", "risk"):
        rows = orjson.loads(town.page(f"/exports/{dataset}.json"))
        assert rows, dataset
        found |= {row[name] for row in rows for name in row if "limit" in name}
    return found


@pytest.mark.parametrize("drifting", [None], indirect=True)
def test_no_sheet_no_limit(drifting: Town) -> None:
    """Ticket, job sheet, vehicle, trend, every picture, exports and digest know no limit, and say why."""
    for address, page in _pages(drifting).items():
        assert WORDING in page, address
        assert [word for word in DRAWN if word in page] == [], address

    assert _exported_limits(drifting) == {None}
    assert "limit" not in drifting.digest().text


@pytest.mark.parametrize("drifting", [SHEET], indirect=True)
def test_with_a_sheet_the_limit_is_everywhere(drifting: Town) -> None:
    """On a sheet the same drift is shown with its limit on each of these pages and in the exports."""
    for address, page in _pages(drifting).items():
        assert WORDING not in page, address
        assert [word for word in DRAWN if word in page], address

    assert {-8.0, 8.0} <= _exported_limits(drifting)
