"""Errors: one table for every class, one shape for every answer, a page behind every type."""

import importlib
import inspect

import pytest

from service.web.catalogue import PROBLEMS
from service.web.problems import problem_of
from service.web.reasons import REASONS
from service.web.table import TABLE
from tests.service.web.conftest import Service

MODULES = (
    "ingest.errors",
    "dashboards.exports.errors",
    "service.auth.errors",
    "service.tickets.errors",
    "service.store.errors",
    "service.web.errors",
)
"""Every module of errors that a request can meet."""


def _leaves() -> list[type[Exception]]:
    found = []
    for name in MODULES:
        module = importlib.import_module(name)
        classes = [
            one
            for _, one in inspect.getmembers(module, inspect.isclass)
            if issubclass(one, Exception) and one.__module__ == name
        ]
        roots = [one for one in classes if one.__base__ is Exception]
        found += [one for one in classes if one not in roots]
    return found


@pytest.mark.parametrize("error", _leaves(), ids=lambda one: f"{one.__module__}.{one.__name__}")
def test_table_names_every_class(error: type[Exception]) -> None:
    """Every error class that a request can meet has its own row in the table."""
    assert error in TABLE


def test_table_names_known_codes() -> None:
    """Every row of the table leads to a problem of the catalogue."""
    assert set(TABLE.values()) <= set(PROBLEMS)


def test_unknown_error() -> None:
    """An error that nobody foresaw is an internal one."""
    assert problem_of(ZeroDivisionError()).code == "internal-error"


def test_type_is_a_page(service: Service) -> None:
    """The type of each problem is the address of a page that says what helps."""
    for problem in PROBLEMS.values():
        answer = service.client.get(problem.type)

        assert (problem.code, answer.status_code) == (problem.code, 200)
        assert problem.title in answer.text


def test_reason_is_a_page(service: Service) -> None:
    """Every reason for refusing an item is explained under the same address as a problem's type."""
    for code in sorted(REASONS):
        answer = service.client.get(f"/problems/{code}")

        assert (code, answer.status_code) == (code, 200)
        assert code in answer.text


def test_not_found_for_programs(service: Service) -> None:
    """An address of the API that is none is a problem with a request id."""
    answer = service.client.get("/api/v1/nothing", headers={"x-request-id": "given-by-caller"})

    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["code"] == "not-found"
    assert answer.json()["request_id"] == answer.headers["x-request-id"] == "given-by-caller"


def test_not_found_for_people(service: Service) -> None:
    """An address that is none is a page for people."""
    answer = service.client.get("/nothing")

    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    assert "Nothing here" in answer.text


def test_method_not_allowed(service: Service) -> None:
    """Another method is a 405 that names the ones there are."""
    answer = service.client.delete("/api/v1/vehicles", headers=service.token("read"))

    assert (answer.status_code, answer.json()["code"]) == (405, "method-not-allowed")
    assert "GET" in answer.headers["allow"]


def test_wrong_parameter(service: Service) -> None:
    """A wrong parameter is named, with what is allowed."""
    answer = service.client.get("/api/v1/vehicles?limit=0", headers=service.token("read"))

    assert (answer.status_code, answer.json()["code"]) == (422, "query-invalid")
    assert answer.json()["errors"][0]["parameter"] == "limit"


@pytest.mark.parametrize("path", ["/api/v1/vehicles", "/vehicles"])
def test_internal_error(service: Service, monkeypatch: pytest.MonkeyPatch, path: str) -> None:
    """A mistake of the service tells nothing of itself to the caller."""
    headers = service.token("read")

    def fail(*_: object) -> None:
        raise RuntimeError("the secret is swordfish")

    monkeypatch.setattr("service.store.work.Work.vehicles", fail)
    answer = service.client.get(path, headers=headers)

    assert answer.status_code == 500
    assert "swordfish" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_request_id_is_clean(service: Service) -> None:
    """A request id that could forge a log line is replaced."""
    answer = service.client.get("/livez", headers={"x-request-id": 'x" "event'})

    assert '"' not in answer.headers["x-request-id"]
