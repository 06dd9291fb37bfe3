"""Names that nobody knows, through the pages: mapped, read again, ignored."""

from html import unescape

import orjson
import pytest

from tests.service.web.conftest import Service
from tests.service.web.fleet import snapshot


def _send(service: Service, **values: object) -> None:
    item = snapshot(values={"LONGFT1": 3.9, "RPM": 742, "FUELSYS1": "CL", **values})
    answer = service.send(orjson.dumps(item), service.token("send"))
    assert answer.json()["accepted"] == 1, answer.text


def test_a_name_waits_with_what_helps_to_tell_it(fleet: Service) -> None:
    """The tray shows name, unit, count, a value and the device; the snapshot itself was accepted."""
    _send(fleet, Coolant=194)
    page = unescape(fleet.client.get("/setup/names").text)

    for fact in ("Coolant", "194.0", "L-220", "1 name that nobody knows"):
        assert fact in page


def test_a_mapped_name_is_read_again(fleet: Service) -> None:
    """Mapping says how many stored snapshots were read again, and the value is there."""
    _send(fleet, Coolant=194)

    answer = fleet.post("/setup/names", {"name": "Coolant", "parameter": "ECT", "unit": "degF"})
    page = unescape(fleet.client.get(answer.headers["location"]).text)

    assert "1 stored snapshot read again." in page
    assert "Every name that came in is known." in page
    with fleet.store.begin(readonly=True) as work:
        newest = work.snapshots(vehicle="V-0001", limit=1000).rows[-1]
        assert newest.values["ECT"] == pytest.approx(90)
        assert work.touched_count() > 0


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "Manifold vacuum", "parameter": "MAP", "unit": "inHg"}, "barometric"),
        ({"name": "Coolant", "parameter": "ECT", "unit": "V"}, "ECT"),
        ({"name": "Coolant", "parameter": "HEAT"}, "no parameter"),
        ({"name": "Coolant", "parameter": "ECT", "scope": "sheet"}, "scope_id"),
        ({"name": "Driver ID", "parameter": "ECT"}, "driver"),
    ],
)
def test_a_wrong_meaning_is_refused(fleet: Service, fields: dict[str, str], said: str) -> None:
    """A vacuum for an absolute pressure, a wrong unit, a personal field: told, and kept as typed."""
    answer = fleet.post("/setup/names", fields)
    page = unescape(answer.text)

    assert answer.status_code == 422
    assert said in page
    assert f'value="{fields["name"]}"' in page
    with fleet.store.begin(readonly=True) as work:
        assert work.aliases() == ()


def test_a_vacuum_is_read_by_the_barometer_beside_it(fleet: Service) -> None:
    """Mapped to MAP it becomes BARO less vacuum where BARO came along; the others are told and kept."""
    _send(fleet, BARO=99, **{"Manifold vacuum": {"value": 18.5, "unit": "inHg"}})
    item = snapshot(values={"LONGFT1": 3.9, "RPM": 742, "FUELSYS1": "CL", "Manifold vacuum": 18.0})
    item |= {"taken_at": "2031-03-03T06:12:09-05:00"}
    assert fleet.send(orjson.dumps(item), fleet.token("send")).json()["accepted"] == 1

    answer = fleet.post("/setup/names", {"name": "Manifold vacuum", "parameter": "MAP", "unit": "inHg"})
    page = unescape(fleet.client.get(answer.headers["location"]).text)

    assert "1 stored snapshot read again." in page
    assert "1 manifold vacuum stays as it came: its snapshot has no barometric pressure (BARO)" in page
    assert "barometric pressure (BARO) of the same snapshot less this vacuum" in page
    with fleet.store.begin(readonly=True) as work:
        rows = [one for one in work.snapshots(vehicle="V-0001", limit=1000).rows if one.extra]
    assert [one.values.get("MAP") for one in rows] == [None, pytest.approx(99 - 18.5 * 3.386389)]
    assert all("Manifold vacuum" in one.extra for one in rows)


def test_an_ignored_name_can_be_listed_again(fleet: Service) -> None:
    """Ignoring takes a name off the list and keeps its values."""
    _send(fleet, Oil=3)
    fleet.post("/setup/names/ignore", {"name": "Oil"})
    ignored = unescape(fleet.client.get("/setup/names").text)
    fleet.post("/setup/names/heed", {"name": "Oil"})

    assert "Every name that came in is known." in ignored
    assert "1 name that nobody knows" in unescape(fleet.client.get("/setup/names").text)
    with fleet.store.begin(readonly=True) as work:
        assert "Oil" in work.snapshots(vehicle="V-0001", limit=1000).rows[-1].extra


def test_the_interface_reads_again_too(fleet: Service) -> None:
    """Aliases that a program loads are heard in what was stored before."""
    _send(fleet, Coolant=194)
    rows = [{"scope": "fleet", "name": "Coolant", "parameter": "ECT", "unit": "degF"}]

    answer = fleet.client.post(
        "/api/v1/aliases",
        content=orjson.dumps(rows),
        headers=fleet.token("admin") | {"content-type": "application/json"},
    )

    assert answer.json()["added"] == 1
    with fleet.store.begin(readonly=True) as work:
        last = work.last_reread()
    assert last is not None
    assert last.changed == 1


def test_another_meaning_says_what_stays(fleet: Service) -> None:
    """A name that is given another meaning: I am told that values of the earlier one stay."""
    form = {"name": "Coolant", "scope": "fleet", "scope_id": "", "parameter": "ECT", "unit": "degF"}

    first = fleet.post("/setup/names", form)
    same = fleet.post("/setup/names", form)
    other = fleet.post("/setup/names", form | {"parameter": "IAT"})

    assert [answer.headers["location"].partition("saved=")[2] for answer in (first, same, other)] == [
        "name_mapped",
        "name_mapped",
        "name_changed",
    ]
