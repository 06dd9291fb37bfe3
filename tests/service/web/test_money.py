"""The money pages: what adds up, where it comes from, and the cost table behind it."""

import csv
import io
import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest

from ingest.costs import COLUMN_ORDER
from ingest.records import WorkRecord
from models.summarise import summarise
from service.tickets.costs import cost_at_risk, starting_costs
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET

LINE = "unmetered_air,1.2,2.5,40,60,180,80,56,EUR,2031-01-01,spring list"
FILE = ",".join(COLUMN_ORDER) + "\n" + LINE


@pytest.fixture
def folded(fleet: Service) -> Service:
    """Give the fleet with its days folded, some repairs and a complaint, as the night leaves it."""
    with fleet.store.begin() as work:
        work.put_work(
            [
                WorkRecord(
                    vehicle="V-0001",
                    done_at=NOW - timedelta(days=day),
                    kind=kind,
                    cause="" if kind == "complaint" else "unmetered_air",
                    parts_cost=40.10,
                    labour_hours=1.0,
                )
                for day, kind in ((50, "repair"), (30, "repair"), (12, "complaint"), (10, "repair"))
            ],
            NOW,
        )
        work.fold_touched(summarise)
        work.commit()
    return fleet


def words(service: Service, address: str) -> str:
    """Read a page's words without its tags and narrow spaces."""
    text = re.sub(r"<[^>]+>", " ", unescape(service.client.get(address).text)).replace("\u202f", "")
    return re.sub(r"\s+", " ", text)


def load_costs(service: Service, text: str = FILE) -> str:
    """Bring a cost file through the page: look first, then put it into force."""
    page = service.post("/setup/costs", {"text": text}).text
    number = re.search(r'action="/setup/costs/(\d+)"', page)
    assert number is not None, page
    answer = service.post(f"/setup/costs/{number[1]}", {})
    return str(answer.headers["location"])


def test_look_first(folded: Service) -> None:
    """A look keeps nothing; putting into force makes a revision, an entry in the log, and says so."""
    page = folded.post("/setup/costs", {"text": FILE})
    with folded.store.begin(readonly=True) as work:
        assert work.costs() == ()
    assert "1 new line" in page.text

    assert load_costs(folded) == "/setup/costs?saved=costs"

    with folded.store.begin(readonly=True) as work:
        (kept,) = work.costs()
        (entry,) = [one for one in work.log_entries(limit=50).rows if one.what == "costs changed"]
    assert (kept.cause, kept.revision, kept.labour_rate) == ("unmetered_air", 1, 80.0)
    assert entry.after == "1 added"
    assert "18 causes still have our starting figures, which are made up" in words(folded, "/setup/costs")


def test_wrong_lines_are_told_by_row(folded: Service) -> None:
    """Lines that cannot be meant are listed with their row; what was pasted stays to be mended."""
    wrong = FILE + "\ngremlins,1,1,1,1,1,1,1,EUR,2031-01-01,x"

    looked = folded.post("/setup/costs", {"text": wrong})
    failed = folded.post("/setup/costs", {"text": "no such file"})

    assert re.search(r'<th scope="row">2</th>.*cause must be one of', looked.text, re.DOTALL)
    assert failed.status_code == 422
    assert "no such file" in failed.text


@pytest.mark.parametrize("role", ["viewer", "mechanic", "lead", "integrator"])
def test_rights(folded: Service, role: str) -> None:
    """Money and the cost table are for those with the right to them; the track record is for everybody."""
    folded.app.state.shell = replace(
        folded.app.state.shell, settings=replace(folded.app.state.shell.settings, practice=True)
    )
    folded.become(role)

    for address in ("/money", "/money/budget", "/setup/costs", "/setup/costs.csv"):
        assert folded.client.get(address).status_code == 403
    assert folded.client.get("/track-record").status_code == 200


def test_rows_add_up(folded: Service) -> None:
    """The rows add up to the headline to the cent, and each is probability times the difference."""
    load_costs(folded)

    page = words(folded, "/money")
    with folded.store.begin(readonly=True) as work:
        ticket = work.ticket(TICKET)
    assert ticket.detail is not None
    table = replace(starting_costs(), own=frozenset({"unmetered_air"}))
    part = round(cost_at_risk(ticket.probability_30d or 0.0, ticket.detail.causes, table), 2)

    assert f"put EUR {part:.2f} at risk" in page
    assert f"Sum of the rows EUR {part:.2f}" in page
    sums = [Decimal(one) for one in re.findall(r"\d %(?: EUR [\d.]+){2} EUR ([\d.]+)", page)]
    assert sum(sums) == Decimal(f"{part:.2f}")


def test_filters_are_in_the_address(folded: Service) -> None:
    """Depot and period are taken from the address; another depot has other tickets and repairs."""
    load_costs(folded)

    assert "3 repairs from" in words(folded, "/money")
    assert "1 repair from 20 Feb 2031 to 28 Feb 2031" in words(folded, "/money?from=2031-02-20&to=2031-02-28")
    assert "0 repairs from" in words(folded, "/money?depot=North")
    assert folded.client.get("/money?from=2031-03-01&to=2031-02-01").status_code == 422


def test_unplanned_follows_a_complaint(folded: Service) -> None:
    """Of three repairs the one after the complaint counts as unplanned; fewer than five are pooled."""
    page = words(folded, "/money")

    row = "EUR 120.10 few 120.10 to 120.10"
    assert f"unmetered air (vacuum leak), planned few 2 {row}" in page
    assert f"unmetered air (vacuum leak), unplanned few 1 {row}" in page


def _file(service: Service, address: str) -> list[dict[str, str]]:
    text = service.client.get(address).content.decode("utf-8")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_cost_per_cause_as_a_file(folded: Service) -> None:
    """The page leads to the file of its own period and depot; the file's costs add up to the page's."""
    page = folded.client.get("/money?from=2031-01-01&to=2031-03-04&depot=South")
    link = re.search(r'href="(/exports\?dataset=cost_per_cause[^"]+)"', unescape(page.text))
    assert link is not None
    offered = unescape(folded.client.get(link[1]).text)
    address = "/exports/cost_per_cause.csv?from_day=2031-01-01&to_day=2031-03-04&depot=South"

    rows = _file(folded, address)

    assert address in offered
    assert [(row["visit"], row["repairs"], row["cost"]) for row in rows] == [
        ("planned", "2", "240.20"),
        ("unplanned", "1", "120.10"),
    ]
    assert "3 repairs from 1 Jan 2031 to 4 Mar 2031: EUR 360.30" in words(
        folded, page.url.path + "?" + page.url.query.decode()
    )
    assert {(row["first_day"], row["last_day"], row["pooled"]) for row in rows} == {
        ("2031-01-01", "2031-03-04", "true")
    }
    assert _file(folded, "/exports/cost_per_cause.csv?depot=North") == []
    assert _file(folded, "/exports/cost_per_cause.csv?vehicle=V-0003") == []


def test_track_record_as_a_file(folded: Service) -> None:
    """The page leads analysts to the file; its figures are the page's, each with its number and range."""
    page = folded.client.get("/track-record").text
    rows = {(row["measure"], row["stated_low"]): row for row in _file(folded, "/exports/track_record.csv")}

    assert 'href="/exports?dataset=track_record"' in page
    measures = [
        "fault_found",
        "complaints_missed",
        "warning_days",
        "comebacks",
        "false_tickets",
        "brier_score",
    ]
    assert [rows[(one, "")]["measure"] for one in measures] == measures
    missed = rows[("complaints_missed", "")]
    # One complaint, followed by a repair that names a cause; its ticket was raised later.
    assert (missed["n"], missed["count"], float(missed["value"])) == ("1", "1", 1.0)
    assert float(missed["low"]) == pytest.approx(0.2065, abs=1e-4)  # Wilson, 1 of 1: 1 / (1 + 1.96^2)
    assert rows[("false_tickets", "")]["n"] == "0"
    folded.become("viewer")
    assert "dataset=track_record" not in folded.client.get("/track-record").text


def test_a_period_narrows_the_record(folded: Service) -> None:
    """Complaints and days in service outside the period asked for do not count."""
    rows = _file(folded, "/exports/track_record.csv?to_day=2031-02-10")

    assert next(row["n"] for row in rows if row["measure"] == "complaints_missed") == "0"


def test_budget_adds_up(folded: Service) -> None:
    """The months' means add up to the total; seed, simulated years and cost revision are said."""
    page = words(folded, "/money/budget")
    table = page.split("Expected cost by month")[1].split("By cause")[0]

    months = [Decimal(one) for one in re.findall(r"20\d\d EUR ([\d.]+)", table)]
    assert len(months) == 12
    causes = page.split("Expected cost by cause; the means")[1].split("By depot")[0]
    assert sum(months) == sum(Decimal(one) for one in re.findall(r"EUR ([\d.]+)", causes))
    assert "Seed 1" in page
    assert "Simulated years (n) 2000" in page
    assert "none: our starting figures, made up" in page
    assert words(folded, "/money/budget") == page


def test_track_record_is_one_click_from_the_week(folded: Service) -> None:
    """The week leads to the track record, and, whom it may concern, to money."""
    page = folded.client.get("/week").text

    assert 'href="/track-record"' in page
    assert 'href="/money/budget"' in page


def test_table_as_a_file_comes_back(folded: Service) -> None:
    """The table as a file, brought back unchanged, makes every cause the fleet's own and no line wrong."""
    text = folded.client.get("/setup/costs.csv").text

    load_costs(folded, text)

    with folded.store.begin(readonly=True) as work:
        assert len(work.costs()) == 19
