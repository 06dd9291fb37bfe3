"""Every address of the described API, tried with inputs made from its own description and against it.

Repeat with more: FORELAMP_TEST_EXAMPLES=200 python -m pytest -m slow -s -k answers_are_described
"""

import os
import re
from collections import Counter
from contextlib import suppress
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.core.result import Ok

from tests.service.web.conftest import Service

_EXAMPLES = int(os.environ.get("FORELAMP_TEST_EXAMPLES", "15"))  # noqa: TID251 (tests have no settings)
_PLAIN = re.compile(r"[\x21-\x7e]+")


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # the libraries that make the inputs warn of themselves
@pytest.mark.parametrize("mode", list(GenerationMode))
def test_answers_are_described(fleet: Service, mode: GenerationMode) -> None:
    """No input is answered with 500, or with a status that the description does not name."""
    described = schemathesis.openapi.from_dict(fleet.app.openapi())
    token = fleet.token("admin")
    answers: Counter[tuple[str, int]] = Counter()
    wrong: list[tuple[str, int, dict[str, Any]]] = []
    for result in described.get_all_operations():
        assert isinstance(result, Ok)
        operation = result.ok()
        names = set(operation.definition.raw["responses"])
        for case in _cases(operation, mode):
            sent = _as_request(case)
            sent["headers"] |= token
            answer = fleet.client.request(**sent, follow_redirects=False)
            answers[operation.label, answer.status_code] += 1
            if answer.status_code == 500 or str(answer.status_code) not in names | _ROUTING:
                wrong.append((operation.label, answer.status_code, sent))

    statuses = Counter[int]()
    for (_, status), count in answers.items():
        statuses[status] += count
    print(  # noqa: T201 (counts for whoever runs it)
        f"\n{mode.value}: {answers.total():,} inputs to {len({label for label, _ in answers})} operations, "
        f"answers {dict(sorted(statuses.items()))}"
    )
    assert wrong == []
    assert len({label for label, _ in answers}) >= 15


_ROUTING = frozenset({"400", "404", "405"})
"""Statuses before any operation is reached: no HTTP, another address, another method."""


def _cases(operation: Any, mode: GenerationMode) -> list[Any]:
    """Draw inputs for one operation, the same at every run."""
    found: list[Any] = []

    @seed(20310304)
    @settings(
        max_examples=_EXAMPLES,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(mode))
    def draw(case: Any) -> None:
        found.append(case)

    with suppress(Unsatisfiable):  # nothing of it can be varied
        draw()
    return found


def _as_request(case: Any) -> dict[str, Any]:
    """Write an input in the words of the test's client."""
    given_words = case.as_transport_kwargs(base_url="http://testserver")
    sent = {name: value for name, value in given_words.items() if value is not None}
    headers = sent.pop("headers", None) or {}
    sent["headers"] = {n: v for n, v in headers.items() if _sendable(n) and _sendable(v)}
    if "data" in sent and not isinstance(sent["data"], dict):
        sent["content"] = sent.pop("data")
    return sent


def _sendable(text: object) -> bool:
    """Tell whether a client can put a text into a header at all."""
    return _PLAIN.fullmatch(str(text)) is not None
