"""The description of the API is what the routes really do."""

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from service.web.catalogue import PROBLEMS
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import TICKET, snapshot

CALLS: list[tuple[str, str, str, dict[str, Any]]] = [
    ("get", "/livez", "/livez", {}),
    ("get", "/readyz", "/readyz", {}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots", {"json": snapshot()}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots", {"json": [snapshot(vehicle="V-9"), {"a": 1}]}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots", {"content": b"x"}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots",
     {"content": b"{", "headers": {"content-type": "application/json"}}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots",
     {"content": b"{}", "headers": {"content-type": "application/json", "content-encoding": "gzip"}}),
    ("post", "/api/v1/snapshots", "/api/v1/snapshots",
     {"content": b"x", "headers": {"content-type": "text/csv", "content-length": "99999999999"}}),
    ("get", "/api/v1/vehicles", "/api/v1/vehicles", {}),
    ("get", "/api/v1/vehicles", "/api/v1/vehicles?limit=2", {}),
    ("get", "/api/v1/vehicles", "/api/v1/vehicles?limit=0", {}),
    ("get", "/api/v1/vehicles", "/api/v1/vehicles?cursor=abc", {}),
    ("get", "/api/v1/specs", "/api/v1/specs", {}),
    ("get", "/api/v1/specs", "/api/v1/specs?as_of=yesterday", {}),
    ("get", "/api/v1/snapshots", "/api/v1/snapshots?limit=3", {}),
    ("get", "/api/v1/snapshots", "/api/v1/snapshots?state=flying", {}),
    ("get", "/api/v1/snapshots", "/api/v1/snapshots?from_at=2031-01-01T00:00:00", {}),
    ("get", "/api/v1/snapshots", "/api/v1/snapshots?cursor=%C3%A4", {}),
    ("get", "/api/v1/trends", "/api/v1/trends", {}),
    ("get", "/api/v1/trends", "/api/v1/trends?cursor=abc", {}),
    ("get", "/api/v1/tickets", "/api/v1/tickets", {}),
    ("get", "/api/v1/tickets", "/api/v1/tickets?as_of=2031-03-04", {}),
    ("get", "/api/v1/tickets", "/api/v1/tickets?status=lost", {}),
    ("get", "/api/v1/tickets", "/api/v1/tickets?cursor=abc", {}),
    ("get", "/api/v1/tickets/{ticket}", f"/api/v1/tickets/{TICKET}", {}),
    ("get", "/api/v1/tickets/{ticket}", "/api/v1/tickets/none", {}),
    ("get", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events", {}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events",
     {"json": {"event": "accept", "version": 1}}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events",
     {"json": {"event": "accept", "version": 7}}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events",
     {"json": {"event": "verify_by_hand", "version": 1}}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events",
     {"json": {"event": "book", "version": 1}}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events",
     {"json": {"event": "fly"}}),
    ("post", "/api/v1/tickets/{ticket}/events", f"/api/v1/tickets/{TICKET}/events", {"content": b"{"}),
    ("get", "/api/v1/work", "/api/v1/work", {}),
    ("get", "/api/v1/work", "/api/v1/work?kind=rest", {}),
    ("get", "/api/v1/risk", "/api/v1/risk", {}),
    ("get", "/api/v1/refusals", "/api/v1/refusals", {}),
    ("get", "/api/v1/refusals", "/api/v1/refusals?kind=other", {}),
    ("post", "/api/v1/refusals/{number}/release", "/api/v1/refusals/999/release", {}),
    ("post", "/api/v1/refusals/{number}/release", "/api/v1/refusals/x/release", {}),
    ("post", "/api/v1/vehicles", "/api/v1/vehicles", {"json": [{"vehicle": "V-50"}, {"depot": "North"}]}),
    ("post", "/api/v1/vehicles", "/api/v1/vehicles", {"json": 7}),
    ("post", "/api/v1/specs", "/api/v1/specs",
     {"json": {"spec_sheets": [{"sheet": "A", "revision": 1, "source": "p. 1"}, {"sheet": "B"}]}}),
    ("post", "/api/v1/aliases", "/api/v1/aliases",
     {"json": [{"scope": "fleet", "scope_id": "", "name": "Volts", "parameter": "VPWR"}]}),
    ("post", "/api/v1/work", "/api/v1/work",
     {"json": [{"vehicle": "V-0001", "done_at": "2031-03-01T10:00:00Z", "kind": "note"}, {"vehicle": "V"}]}),
    ("get", "/api/v1/exports/{dataset}.{form}", "/api/v1/exports/risk.json", {}),
    ("get", "/api/v1/exports/{dataset}.{form}", "/api/v1/exports/lies.csv", {}),
    ("get", "/api/v1/exports/{dataset}.{form}", "/api/v1/exports/risk.doc", {}),
]  # fmt: skip
"""Method, path as described, address, and what is sent: good and bad for every route."""


@pytest.fixture(scope="module")
def document(fleet_template: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Give the description, made once."""
    service = open_service(f"sqlite:///{fleet_template}", tmp_path_factory.mktemp("document"))
    made: dict[str, Any] = service.app.openapi()
    service.store.close()
    return made


def _validator(document: dict[str, Any], schema: dict[str, Any]) -> Draft202012Validator:
    return Draft202012Validator({**schema, "components": document["components"]})


@pytest.mark.parametrize(("method", "path", "address", "sent"), CALLS, ids=lambda one: str(one)[:60])
def test_answers_as_described(
    fleet: Service, document: dict[str, Any], method: str, path: str, address: str, sent: dict[str, Any]
) -> None:
    """Status, content type and body of every answer are those that the description names."""
    headers = fleet.token("admin") | sent.get("headers", {})

    answer = fleet.client.request(method, address, **(sent | {"headers": headers}))

    described = document["paths"][path][method]["responses"]
    assert str(answer.status_code) in described, answer.text
    kind = answer.headers["content-type"].partition(";")[0]
    content = described[str(answer.status_code)]["content"]
    assert kind in content
    problems = [
        one.message for one in _validator(document, content[kind]["schema"]).iter_errors(answer.json())
    ]
    assert problems == []


def test_every_route_is_walked(service: Service) -> None:
    """The calls above leave no route out, each with at least one bad request where one is possible."""
    described = {(method, path) for path, item in service.app.openapi()["paths"].items() for method in item}

    assert described == {(method, path) for method, path, _, _ in CALLS}


def test_document_is_openapi(service: Service) -> None:
    """The document is OpenAPI 3.1, its schemas are schemas, and every reference leads somewhere."""
    document = service.client.get("/api/openapi.json").json()

    assert document["openapi"] == "3.1.0"
    for schema in document["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)
    names = set(document["components"]["schemas"])
    assert {one.rpartition("/")[2] for one in _references(document)} <= names


def _references(value: object) -> list[str]:
    if isinstance(value, dict):
        own = [str(value["$ref"])] if "$ref" in value else []
        return own + [one for inner in value.values() for one in _references(inner)]
    if isinstance(value, list):
        return [one for inner in value for one in _references(inner)]
    return []


def test_operation_ids(service: Service) -> None:
    """Operation ids are stable names of our own, each used once."""
    ids = [one["operationId"] for item in service.app.openapi()["paths"].values() for one in item.values()]

    assert len(ids) == len(set(ids))
    assert all(one.islower() and "__" not in one for one in ids)


def test_framework_shapes_are_gone(service: Service) -> None:
    """The framework's own error shapes are neither described nor sent."""
    document = service.client.get("/api/openapi.json").text

    assert "HTTPValidationError" not in document


def test_snapshot_example(fleet: Service) -> None:
    """The example of the description is accepted as it stands."""
    example = fleet.app.openapi()["components"]["schemas"]["Snapshot"]["examples"][0]

    answer = fleet.client.post(
        "/api/v1/snapshots", json=example | {"vehicle": "V-0001"}, headers=fleet.token("send")
    )

    # Its date is the tests' today: 06:12 there is past, and idle air control needs no alias.
    assert answer.json()["accepted"] == 1, answer.text


def test_docs_for_people(service: Service) -> None:
    """The description for people names every operation and problem, and loads nothing from elsewhere."""
    page = service.client.get("/api/docs").text

    ids = [one["operationId"] for item in service.app.openapi()["paths"].values() for one in item.values()]
    assert all(f'id="{one}"' in page for one in ids)
    assert "http://" not in page
    assert "https://" not in page
    assert set(PROBLEMS) >= {"token-missing"}
