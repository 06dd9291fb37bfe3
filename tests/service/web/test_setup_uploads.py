"""Files through the pages: a look, the loading, and what was refused to mend and send again."""

import gzip
from html import unescape
from typing import Any

import pytest

from tests.service.web.conftest import Service

VEHICLES = b"vehicle,depot,in_service_on\nW-1,North,2031-01-01\nW-2,South,tomorrow\nW-3,South,\n"


def look(service: Service, body: bytes, name: str = "vehicles.csv", kind: str = "vehicles") -> Any:
    """Send a file to be looked at."""
    return service.post("/setup/load", {"kind": kind}, files={"file": (name, body)})


def load(service: Service, page: str) -> Any:
    """Load what was looked at."""
    action = page.split('action="/setup/load/', 1)[1].split('"', 1)[0]
    return service.post(f"/setup/load/{action}", {})


def registered(service: Service) -> set[str]:
    """Name the vehicles that are registered."""
    with service.store.begin(readonly=True) as work:
        return {one.vehicle for one in work.vehicles()}


def test_a_look_keeps_nothing(service: Service) -> None:
    """A dry run tells exactly what a load would do, by count and by row."""
    page = unescape(look(service, VEHICLES).text)

    assert "<strong>2</strong> added" in page
    assert "<strong>1</strong> refused" in page
    assert "tomorrow" in page
    assert registered(service) == set()


def test_loading_does_what_the_look_said(service: Service) -> None:
    """Good rows are kept although one is refused; the same file twice changes nothing."""
    first = load(service, look(service, VEHICLES).text)
    again = look(service, VEHICLES)

    assert registered(service) == {"W-1", "W-3"}
    assert "<strong>2</strong> added" in first.text
    assert "<strong>0</strong> added" in again.text
    assert "<strong>2</strong> the same as before" in again.text


def test_refused_rows_come_back_as_a_file(service: Service) -> None:
    """The file to mend has the same columns and the reason; mended and sent again it is taken."""
    page = look(service, VEHICLES).text
    address = page.split('href="/setup/load/')[1].split('"')[0]

    text = service.client.get(f"/setup/load/{address}").text
    done = load(
        service, look(service, text.replace("W-2,South,tomorrow", "W-2,South,2031-02-01").encode()).text
    )

    assert text.splitlines()[0] == "vehicle,depot,in_service_on,why_refused"
    assert len(text.splitlines()) == 2
    assert "<strong>1</strong> added" in done.text
    assert "Without a meaning here" not in done.text
    assert registered(service) == {"W-2"}


def test_snapshots_are_looked_at_too(fleet: Service) -> None:
    """Packed snapshots: counts of a look and of the load agree; what is not believed is told by row."""
    body = (
        b"vehicle,taken_at,LONGFT1,RPM\nV-0002,2031-03-01T06:00:00Z,2.5,740\n"
        b"V-0002,2031-03-02T06:00:00Z,140,740\nV-9999,2031-03-02T06:00:00Z,1,740\n"
    )
    before = fleet.store.begin(readonly=True).snapshot_count()
    seen = look(fleet, gzip.compress(body), "march.csv.gz", "snapshots")
    between = fleet.store.begin(readonly=True).snapshot_count()
    done = load(fleet, seen.text)
    after = fleet.store.begin(readonly=True).snapshot_count()

    for page in (seen.text, done.text):
        assert "<strong>1</strong> accepted" in page
        assert "<strong>2</strong> held back" in page
    assert (between - before, after - before) == (0, 1)


def test_sheets_from_a_file_are_drafts(service: Service) -> None:
    """A file of sheets through the page puts none in force."""
    body = b'{"spec_sheets": [{"sheet": "DALE-16", "revision": 1, "source": "card 7"}]}'
    load(service, look(service, body, "specs.json", "specs").text)

    with service.store.begin(readonly=True) as work:
        assert work.sheets() == ()
        assert [kept.standing for _, kept in work.sheet_revisions()] == ["draft"]


@pytest.mark.parametrize(
    ("body", "name", "kind"),
    [
        (b"", "empty.csv", "vehicles"),
        (b"\xff\xfe", "broken.csv", "vehicles"),
        (b"{", "broken.json", "work"),
        (b"not packed", "broken.csv.gz", "aliases"),
        (b"PAR1", "broken.parquet", "snapshots"),
        (VEHICLES, "vehicles.csv", "birds"),
    ],
)
def test_a_broken_file_is_refused_whole(service: Service, body: bytes, name: str, kind: str) -> None:
    """A file that cannot be read is told in a sentence; nothing is kept."""
    answer = look(service, body, name, kind)

    assert answer.status_code == 422
    assert 'id="errors"' in answer.text
    assert registered(service) == set()


def test_a_file_that_waits_no_more(service: Service) -> None:
    """A number that no file has is not there."""
    assert service.post("/setup/load/77", {}).status_code == 404
    assert service.client.get("/setup/load/77/refused.csv").status_code == 404


def test_nothing_to_load_is_said(service: Service) -> None:
    """A file of which every row is refused offers no loading, and says so."""
    page = look(service, b"vehicle,in_service_on\nW-2,tomorrow\n").text

    assert "Nothing in this file can be loaded." in page
    assert "Load it" not in page
