"""Exports that repeat: the same as-of gives the same file whatever comes in later."""

import io
import warnings
from datetime import timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pyarrow.parquet as pq
import pytest

from dashboards.exports.columns import DATASETS
from dashboards.exports.table_schema import table_schema
from ingest.records import WorkRecord
from models.summarise import summarise
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, ndjson, snapshot

FORMS = ("csv", "json", "parquet", "xlsx")


def content(service: Service, name: str, form: str, query: str = "?as_of=2031-03-04") -> Any:
    """Read a file: bytes of text formats, data of Parquet, cells of XLSX."""
    body = service.client.get(f"/exports/{name}.{form}{query}").content
    if form == "parquet":
        table = pq.read_table(io.BytesIO(body))
        return table.schema.names, table.to_pylist()
    if form == "xlsx":
        book = openpyxl.load_workbook(io.BytesIO(body), read_only=True)
        return [list(row) for row in book.worksheets[0].iter_rows(values_only=True)]
    return body


@pytest.mark.parametrize("form", FORMS)
def test_late_arrivals_change_no_as_of(fleet: Service, form: str) -> None:
    """After late readings and work each dataset as of then is the same; without an as-of it is not."""
    _fold(fleet)
    before = {name: content(fleet, name, form) for name in DATASETS}
    open_ended = content(fleet, "snapshots", form, "")

    later = NOW + timedelta(days=2)
    late = snapshot(taken_at=(NOW - timedelta(days=20)).isoformat(), device="late")
    with fleet.store.begin() as work:
        work.put_work(
            [
                WorkRecord(
                    vehicle="V-0001",
                    done_at=NOW - timedelta(days=20),
                    kind="repair",
                    parts_cost=1.0,
                    labour_hours=1.0,
                )
            ],
            later,
        )
        work.commit()
    fleet.app.state.shell = _at(fleet, later)
    assert fleet.send(ndjson([late]), fleet.token("send"), "application/x-ndjson").json()["accepted"] == 1
    _fold(fleet)

    for name in DATASETS:
        assert content(fleet, name, form) == before[name], name
    assert content(fleet, "snapshots", form, "") != open_ended


def _fold(service: Service) -> None:
    with service.store.begin() as work:
        work.fold_touched(summarise)
        work.commit()


def _at(service: Service, now: Any) -> Any:
    from dataclasses import replace

    from service.clock import Clock

    return replace(service.app.state.shell, clock=Clock(lambda: now))


@pytest.mark.parametrize("name", DATASETS)
def test_files_fit_their_schema(fleet: Service, tmp_path: Path, name: str) -> None:
    """Each CSV file is valid under the Table Schema at its stable address, by the standard's own library."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of itself
        from frictionless import Resource, Schema

        _fold(fleet)
        answer = fleet.client.get(f"/dictionary/{name}.schema.json")
        assert answer.json() == table_schema(DATASETS[name])
        path = tmp_path / f"{name}.csv"
        path.write_bytes(fleet.client.get(f"/exports/{name}.csv").content)
        schema = Schema.from_descriptor(answer.json())
        resource = Resource(path=path.name, basepath=str(tmp_path), schema=schema)
        report = resource.validate()

    assert report.valid, report.flatten(["fieldName", "note"])[:3]
    assert [field.name for field in schema.fields] == list(DATASETS[name].names)
