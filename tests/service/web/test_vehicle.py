"""The vehicle page: which series come first, which readings count, and what it runs by."""

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from zoneinfo import ZoneInfo

import numpy as np

from dashboards.words import SENTENCES
from ingest.parameters import CODES, COLUMN, STATES, SWITCHES
from ingest.records import Vehicle, WorkRecord
from models.findings import Assessment, Break, Trend
from models.learning.breaks import RELEARN_DAYS
from models.panel import Readings
from models.quality.coverage import LEARNING_DAYS
from models.series import PLACE, SERIES
from models.summarise import summarise
from service.store import Circumstances
from service.web.pages.charts import reset_days
from service.web.pages.lines import problem_of, why_of
from service.web.pages.points import came_late, find_odd, points_of
from service.web.pages.running import engine_hours
from tests.service.findings import make_reading
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TODAY, make_ticket, ndjson, rising_trims, snapshot

HEADING = re.compile(r"<h3><a [^>]*>([^<]+)</a>")
TRIM = SERIES[PLACE["LONGFT1@warm_idle"]]
HOUR_US = 3_600_000_000


def _page(service: Service, vehicle: str = "V-0001") -> str:
    return unescape(service.client.get(f"/vehicles/{vehicle}").text)


def _readings(count: int) -> Readings:
    """Give readings of a trim at warm idle, one a day."""
    day = TODAY - count + np.arange(count)
    values = np.full((count, len(CODES)), np.nan)
    values[:, COLUMN["LONGFT1"]] = 1.0
    return Readings(
        vehicle=np.zeros(count, dtype=np.int32),
        taken_us=day.astype(np.int64) * 24 * HOUR_US,
        day=day.astype(np.int32),
        state=np.full(count, STATES.index("warm_idle"), dtype=np.int8),
        values=values,
        switches=np.full((count, len(SWITCHES)), -1, dtype=np.int8),
    )


def test_order_of_charts(fleet: Service) -> None:
    """The open ticket's lead comes first, then the strongest either way, then by name."""
    strengths = {
        "LONGFT1@warm_idle": 1.0,
        "VPWR@warm_idle": -5.0,
        "RPM@warm_idle": 4.0,
        "IAC@warm_idle": 4.0,
        "MAF@warm_idle": float("nan"),
    }
    trends = [
        Trend(
            vehicle="V-0001",
            reading=make_reading(TODAY, series=name, parameter=name.partition("@")[0], strength=strength),
        )
        for name, strength in reversed(strengths.items())
    ]
    with fleet.store.begin() as work:
        said = work.assessment()
        assert said is not None
        work.put_assessment(said, NOW, trends=trends)
        work.commit()

    found = [re.findall(r"\(([A-Z0-9]+)\)", one)[0] for one in HEADING.findall(_page(fleet))]

    assert found == ["LONGFT1", "VPWR", "IAC", "RPM", "MAF"]


def test_learning_counts_days(fleet: Service) -> None:
    """A learning vehicle says how many of the days it needs it has; a learnt one says nothing."""
    items = [
        snapshot(
            "V-0002", taken_at=(NOW - timedelta(days=2, minutes=-minute)).isoformat(), device=f"L-{minute}"
        )
        for minute in range(3)
    ]
    fleet.send(
        ndjson([*items, rising_trims(4)[0] | {"vehicle": "V-0002"}]),
        fleet.token("send"),
        "application/x-ndjson",
    )
    fleet.store.fold_all(summarise)

    assert f"Learning: 2 of {LEARNING_DAYS} days with readings at warm idle" in _page(fleet, "V-0002")
    assert "Learning:" not in _page(fleet)
    assert "Learning: 2 of 20 days" in unescape(fleet.client.get("/coverage").text)


def test_distance(fleet: Service) -> None:
    """Run by distance, the page says so, labels kilometres and leads back to the dates."""
    items = [
        one | {"device": "km", "odometer_km": 40_000 + 30 * place}
        for place, one in enumerate(reversed(rising_trims(40)))
    ]
    fleet.send(ndjson(items), fleet.token("send"), "application/x-ndjson")
    address = "/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle"

    by_km = unescape(fleet.client.get(f"{address}&axis=km").text)
    by_date = unescape(fleet.client.get(address).text)

    assert "axis=date" in by_km
    assert re.search(r"4\d,\d00 km</text>", by_km)
    assert not re.search(r"4\d,\d00 km</text>", by_date)
    assert fleet.client.get(f"{address}&axis=miles").status_code == 422


def test_engine_hours(fleet: Service) -> None:
    """Run by engine hours, the page labels hours; a vehicle that tells no running time is said to."""
    address = "/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle&axis=hours"
    silent = unescape(fleet.client.get(address).text)
    items = [one | {"device": "hours", "values": one["values"] | {"RUNTM": 3000}} for one in rising_trims(40)]
    fleet.send(ndjson(items), fleet.token("send"), "application/x-ndjson")

    told = unescape(fleet.client.get(address).text)

    assert SENTENCES["no_engine_hours"] in silent
    assert not re.search(r"\d h</text>", silent)
    assert SENTENCES["engine_hours_seen"] in told
    assert re.search(r"\d h</text>", told)


def test_relearning_does_not_count(fleet: Service) -> None:
    """Readings of the days after cleared memory are hollow, with the reason; those before and after count."""
    cleared = TODAY - 30
    with fleet.store.begin() as work:
        readings = work.readings("V-0001", TODAY - 100, TODAY)
        circumstances = work.circumstances("V-0001", TODAY - 100, TODAY)
    said = Assessment(
        day=TODAY,
        method="m",
        breaks=(
            Break(vehicle="V-0001", day=cleared, reason="memory_cleared", found=True),
            Break(vehicle="V-0002", day=TODAY - 5, reason="memory_cleared", found=True),
        ),
    )
    resets = reset_days("V-0001", [], said)

    points = points_of(
        TRIM,
        make_reading(TODAY, segment_from=0),
        readings,
        circumstances,
        engine_hours(readings),
        resets=resets,
        zone=ZoneInfo("America/New_York"),
    )

    hollow = {point.at.date() for point in points if point.excluded == "relearning"}
    first = NOW.date() - timedelta(days=30)
    assert hollow == {first + timedelta(days=day) for day in range(RELEARN_DAYS + 1)}
    assert len(points) == len(readings)


def test_repairs_of_learned_values_reset_them(fleet: Service) -> None:
    """A repair that changes what is learned begins the learning anew; one of the battery cable does not."""
    kinds = [("repair", "unmetered_air"), ("repair", "voltage_drop"), ("battery_replaced", "")]
    with fleet.store.begin() as work:
        work.put_work(
            [
                WorkRecord(vehicle="V-0004", done_at=NOW - timedelta(days=10 * place), kind=kind, cause=cause)
                for place, (kind, cause) in enumerate(kinds, start=1)
            ],
            NOW,
        )
        records = work.work_records(vehicle="V-0004")

    assert reset_days("V-0004", records, None) == (TODAY - 30, TODAY - 10)


def test_a_single_odd_reading_is_told(fleet: Service) -> None:
    """One wild reading, however far out, is shown hollow, as a single odd one; the ones beside it count."""
    wild = snapshot(device="odd", taken_at=(NOW - timedelta(days=20, hours=2)).isoformat())
    wild["values"] = wild["values"] | {"LONGFT1": 60.0}
    fleet.send(ndjson([wild]), fleet.token("send"), "application/x-ndjson")

    page = unescape(fleet.client.get("/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle").text)

    assert page.count("single odd reading") == 1


def test_two_odd_readings_in_a_row_are_no_single_one() -> None:
    """A step, an empty series, a flat one and two odd readings beside each other mark nothing."""
    noise = np.full(12, 0.5)
    step = np.r_[np.ones(6), np.full(6, 30.0)]
    pair = np.ones(12)
    pair[5:7] = 30.0

    assert not find_odd(step, noise).any()
    assert not find_odd(pair, noise).any()
    assert not find_odd(np.ones(12), np.full(12, np.nan)).any()
    assert find_odd(np.empty(0), np.empty(0)).shape == (0,)
    assert not find_odd(np.array([1.0, 60.0, 1.0]), noise[:3]).any()


def test_sensor_at_its_end_does_not_count(fleet: Service) -> None:
    """A reading at the end of what the sensor can say is shown hollow, with the reason."""
    plain = snapshot(device="stuck")
    plain["values"] = plain["values"] | {"LONGFT1": -100.0}
    fleet.send(ndjson([plain]), fleet.token("send"), "application/x-ndjson")

    page = unescape(fleet.client.get("/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle").text)

    assert "sensor at its end of range" in page


def test_late_readings_are_ringed() -> None:
    """More than 48 hours on the way is late; what was taken before anything was received is history."""
    taken = np.array([0, 100, 200, 300], dtype=np.int64) * HOUR_US
    received = np.array([150, 150, 200 + 48, 300 + 49], dtype=np.int64) * HOUR_US

    assert came_late(taken, received).tolist() == [False, False, False, True]
    assert came_late(taken[:0], received[:0]).tolist() == []


def test_late_points() -> None:
    """A reading that came days late is so marked, and counts all the same."""
    readings = _readings(4)
    late = Circumstances(
        odometer_km=np.full(4, np.nan),
        received_us=readings.taken_us + np.array([0, 0, 0, 72]) * HOUR_US,
    )

    points = points_of(
        TRIM,
        make_reading(TODAY, segment_from=0),
        readings,
        late,
        engine_hours(readings),
        resets=(),
        zone=ZoneInfo("America/New_York"),
    )

    assert [(point.late, point.excluded) for point in points] == [(False, "")] * 3 + [(True, "")]
    assert all(point.odometer_km is None for point in points)


def test_flows_are_drawn_in_their_unit() -> None:
    """A series that the models hold as a logarithm is drawn in the unit of its baseline."""
    readings = _readings(4)
    readings.values[:, COLUMN["MAF"]] = 3.0
    circumstances = Circumstances(odometer_km=np.full(4, np.nan), received_us=readings.taken_us)

    points = points_of(
        SERIES[PLACE["MAF@warm_idle"]],
        make_reading(TODAY, segment_from=0),
        readings,
        circumstances,
        engine_hours(readings),
        resets=(),
        zone=ZoneInfo("America/New_York"),
    )

    assert [round(point.value, 6) for point in points] == [3.0] * 4


def test_hours_that_run_twice_keep_their_order(fleet: Service) -> None:
    """01:30 before and after the clock goes back are two readings in order, each with its clock's name."""
    address = "/vehicles/V-0004/trends?parameter=LONGFT1&state=warm_idle"
    fall = [
        snapshot("V-0004", taken_at=f"2030-11-03T01:30:00{offset}", device=device)
        for offset, device in (("-05:00", "after"), ("-04:00", "before"))
    ]
    fleet.send(ndjson(fall), fleet.token("send"), "application/x-ndjson")

    page = unescape(fleet.client.get(address).text)

    assert page.index("3 Nov 2030 01:30 EST") < page.index("3 Nov 2030 01:30 EDT")  # the newest first


def test_hours_that_are_skipped_are_no_hours(fleet: Service) -> None:
    """Two readings an hour apart over the skipped hour are told at 01:30 and 03:30, in order."""
    spring = [
        snapshot("V-0004", taken_at=f"2030-03-10T{hour}:30:00+00:00", device=f"L-{hour}")
        for hour in ("07", "06")
    ]
    fleet.send(ndjson(spring), fleet.token("send"), "application/x-ndjson")

    page = unescape(fleet.client.get("/vehicles/V-0004/trends?parameter=LONGFT1&state=warm_idle").text)

    assert page.index("10 Mar 2030 03:30") < page.index("10 Mar 2030 01:30")  # the newest first


def test_a_depot_elsewhere_shows_its_own_day(fleet: Service) -> None:
    """One moment is of Monday in one depot's zone and of Tuesday in another's, each told with its name."""
    with fleet.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0002", depot="Far", time_zone="Pacific/Auckland")], NOW)
        work.commit()
    at = (NOW - timedelta(hours=14)).isoformat()  # 3 Mar 22:00 UTC
    items = [snapshot("V-0001", taken_at=at, device="x"), snapshot("V-0002", taken_at=at, device="y")]
    fleet.send(ndjson(items), fleet.token("send"), "application/x-ndjson")

    here, there = _page(fleet, "V-0001"), _page(fleet, "V-0002")

    assert "4 Mar 2031 11:00" in there
    assert "Pacific/Auckland" in there
    assert "America/New_York" in here


def test_trends_without_a_series_lead_to_all(service: Service) -> None:
    """An address of trends that names no series leads to the vehicle's page, which shows them all."""
    answer = service.client.get("/vehicles/V-0001/trends", follow_redirects=False)

    assert answer.status_code == 303
    assert answer.headers["location"] == "/vehicles/V-0001"


def test_ends_of_ranges_are_a_doubt_about_the_sensor(fleet: Service) -> None:
    """A coolant sensor that reads -40 °C again and again is doubted on the page; one such reading is not."""
    cold = [one | {"device": "cold", "values": one["values"] | {"ECT": -40}} for one in rising_trims(20)]
    sound = _page(fleet)
    fleet.send(ndjson(cold[:1]), fleet.token("send"), "application/x-ndjson")
    once = _page(fleet)
    fleet.send(ndjson(cold), fleet.token("send"), "application/x-ndjson")

    often = _page(fleet)

    assert "Doubtful readings" not in sound
    assert "Doubtful readings" not in once
    assert "engine coolant temperature (ECT): at the end of its sensor's range in" in often


def test_a_repaired_vehicle_says_so() -> None:
    """Whoever looks at a repaired vehicle reads first that it awaits proof, then what was wrong."""
    ticket = make_ticket()

    waiting = why_of("watch", "", [replace(ticket, status="done")])

    assert waiting == "repaired, awaiting proof: " + problem_of(ticket)
    assert why_of(ticket.priority, "", [ticket]) == problem_of(ticket)
