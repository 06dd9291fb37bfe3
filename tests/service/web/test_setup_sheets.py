"""Spec sheets in the setup: drafts, two persons, what would change, gaps."""

from datetime import date, timedelta
from html import unescape
from typing import Any

import orjson
import pytest

from ingest.records import SpecSheet, Vehicle
from service.store import KeptSheet
from service.web.pages.applies import does_not_apply
from service.web.pages.setup.sheets import gap_table, standing_of, why_not
from service.web.readers import Reader
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, ndjson, rising_trims

TODAY = NOW.date()


def sheet(revision: int = 3, **changes: Any) -> dict[str, Any]:
    """Write a sheet as JSON says it."""
    plain = {
        "sheet": "HARROW-24",
        "revision": revision,
        "source": "shop manual p. 6-14",
        "soak_hours": 5,
        "limits": [{"parameter": "LONGFT1", "state": "warm_idle", "low": -2, "high": 2, "unit": "%"}],
    }
    return plain | changes


def bring(service: Service, **changes: Any) -> Any:
    """Paste a sheet into the page."""
    return service.post("/setup/sheets", {"text": orjson.dumps(sheet(**changes)).decode()})


def test_a_sheet_starts_as_a_draft(fleet: Service) -> None:
    """What the pages bring counts for nothing yet: the revision in force stays."""
    answer = bring(fleet)
    page = unescape(fleet.client.get(answer.headers["location"]).text)

    assert answer.headers["location"].startswith("/setup/sheets/HARROW-24/3")
    assert "Draft: counts for nothing yet" in page
    with fleet.store.begin(readonly=True) as work:
        assert {one.revision for one in work.sheets()} == {2}


def test_a_second_person_puts_it_in_force(fleet: Service) -> None:
    """Who brought a sheet cannot put it in force; another can, from a day on."""
    bring(fleet)
    with fleet.store.begin() as work:
        work.put_sheets(
            [SpecSheet(sheet="HARROW-24", revision=4, source="card 9")], NOW, who="ann", draft=True
        )
        work.commit()

    own = fleet.post("/setup/sheets/HARROW-24/3/approve", {"since": str(TODAY)})
    others = fleet.post("/setup/sheets/HARROW-24/4/approve", {"since": str(TODAY)})

    assert own.status_code == 422
    assert "second person" in own.text
    assert others.status_code == 303
    with fleet.store.begin(readonly=True) as work:
        day = (TODAY - date(1970, 1, 1)).days
        assert {one.revision for one in work.sheets(as_of_day=day)} == {4}
        assert {one.revision for one in work.sheets(as_of_day=day - 1)} == {2}
        assert [one.what for one in work.log_entries().rows] == ["sheet in force", "draft sheet"]


def test_a_fleet_of_one_may_do_both_and_it_is_marked(fleet: Service, tmp_path: Any) -> None:
    """A setting lets one person write and approve; the page says so for good."""
    bring(fleet)
    alone = open_service(fleet.app.state.shell.settings.database_url, tmp_path, one_person_sheets=True)

    answer = alone.post("/setup/sheets/HARROW-24/3/approve", {"since": str(TODAY)})

    assert answer.status_code == 303
    assert "One person did both" in alone.client.get("/setup/sheets/HARROW-24/3").text
    assert "one person did both" in alone.client.get("/setup/sheets").text
    alone.store.close()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"source": ""}, "source is required"),
        (
            {"limits": [{"parameter": "LONGFT1", "state": "warm_idle", "low": 8, "high": -8}]},
            "lies above high",
        ),
        (
            {"limits": [{"parameter": "VPWR", "state": "warm_idle", "low": 13, "high": 15, "unit": "degC"}]},
            "VPWR",
        ),
        ({"limits": [{"parameter": "FUEL", "state": "warm_idle", "low": 8}]}, "is no parameter"),
        ({"revision": 2}, "never edited"),
    ],
)
def test_a_wrong_sheet_is_refused_with_what_and_where(
    fleet: Service, changes: dict[str, Any], said: str
) -> None:
    """A wrong side, no source, a wrong unit: nothing is kept, and what was pasted is still there."""
    answer = bring(fleet, **changes)
    page = unescape(answer.text)

    assert answer.status_code == 422
    assert said in page
    assert "shop manual p. 6-14" in page or "source" in changes
    with fleet.store.begin(readonly=True) as work:
        assert len(work.sheet_revisions("HARROW-24")) == 1


def test_what_is_no_sheet_is_refused(fleet: Service) -> None:
    """Text that is neither JSON nor TOML, and nothing at all, are told."""
    for text in ("", "{", "= what"):
        assert fleet.post("/setup/sheets", {"text": text}).status_code == 422


def test_toml_from_a_file(fleet: Service) -> None:
    """A TOML file is read as such."""
    body = b'[[spec_sheets]]\nsheet = "DALE-16"\nrevision = 1\nsource = "card 7"\n'

    answer = fleet.post("/setup/sheets", {}, files={"file": ("sheet.toml", body)})

    assert answer.headers["location"].startswith("/setup/sheets/DALE-16/1")


def test_a_draft_says_what_it_would_change(fleet: Service) -> None:
    """The newest evaluation's limits are held against the draft, from stored readings."""
    items = [one | {"vehicle": "V-0001"} for one in rising_trims(59)]
    fleet.send(ndjson(items), fleet.token("send"), "application/x-ndjson")
    from models.summarise import summarise

    fleet.store.fold_all(summarise)
    answer = bring(fleet)
    page = unescape(fleet.client.get(answer.headers["location"]).text)

    assert "It would put 1 vehicle outside a limit, and take 0 vehicles back inside." in page
    assert "V-0001" in page
    assert "-8.0 to 8.0 %" in page


def test_a_draft_is_discarded_but_nothing_that_was_in_force(fleet: Service) -> None:
    """A draft can be taken out; a revision in force cannot."""
    bring(fleet)

    assert fleet.post("/setup/sheets/HARROW-24/3/discard", {}).status_code == 303
    assert fleet.post("/setup/sheets/HARROW-24/2/discard", {}).status_code == 404
    with fleet.store.begin(readonly=True) as work:
        assert [kept.revision for _, kept in work.sheet_revisions("HARROW-24")] == [2]


def test_what_does_not_apply_is_no_gap() -> None:
    """A second bank that is not there, or a quantity the sheet rules out, is not counted; gaps are."""
    one_bank = SpecSheet(sheet="S", revision=1, source="card 7", banks=1, air_metering="speed_density")
    fleet = [Vehicle(vehicle="V-1", spec_sheet="S"), Vehicle(vehicle="V-2"), Vehicle(vehicle="V-3")]

    groups, missing = gap_table({"S": one_bank}, fleet)

    cells = {(one.sheet, row.parameter): row.cells for one in groups for row in one.rows}
    assert "gap" not in cells["S", "LONGFT2"]
    assert "gap" in cells["", "LONGFT2"]
    assert missing == sum(one.missing * one.total for one in groups)
    assert [(one.sheet, one.total) for one in groups] == [("", 2), ("S", 1)]
    assert "LONGFT1" in does_not_apply(SpecSheet(sheet="E", revision=1, source="card 7", fuel="electric"))


def _kept(revision: int, since: date | None, standing: str = "in_force") -> KeptSheet:
    return KeptSheet(
        sheet="S",
        revision=revision,
        standing=standing,
        in_force_from=since,
        put_by="ann",
        approved_by="",
        put_at=NOW,
    )


def test_standings_follow_the_calendar() -> None:
    """The highest revision whose day has come is in force; earlier ones are superseded, later ones wait."""
    own = [_kept(1, None), _kept(2, TODAY), _kept(3, TODAY + timedelta(days=1)), _kept(4, None, "draft")]

    assert [standing_of(one, own, TODAY) for one in own] == ["superseded", "in_force", "later", "draft"]


def test_who_may_not_is_told_why() -> None:
    """The writer of a draft is sent for a second person; what is in force needs no approval."""
    ann, ben = Reader(login="ann", role="integrator"), Reader(login="ben", role="integrator")
    draft = _kept(1, None, "draft")

    assert why_not(draft, ben, alone=False) == ""
    assert why_not(draft, ann, alone=True) == ""
    assert "second person" in why_not(draft, ann, alone=False)
    assert "next revision" in why_not(_kept(1, None), ben, alone=True)
