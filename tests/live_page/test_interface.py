"""The interface keeps to its own description: documents by JSON Schema, requests by the thousand from schemathesis."""

from __future__ import annotations

import json
import os
import time
from collections import Counter
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from pretend_room import wheel_room
from serve_room import Served, serving

from tools import missing

try:
    import jsonschema_rs
    import schemathesis
    from schemathesis import GenerationMode
except ImportError:
    schemathesis = None

#: Requests for each of the interface's operations and modes; a long look is WHORLPULSE_REQUESTS=3000.
EXAMPLES = int(os.environ.get("WHORLPULSE_REQUESTS", "30"))


@pytest.fixture(scope="module")
def hurried() -> Iterator[Served]:
    """A served room whose clock runs so fast that no rate is ever used up."""
    if schemathesis is None:
        missing("schemathesis is not installed")
    with serving(wheel_room("By the window"), clock=lambda: time.monotonic() * 1e6) as running:
        yield running


def own_headers(served: Served) -> dict[str, str]:
    with httpx.Client(base_url=served.origin) as visitor:
        visitor.get(served.own_link)
        [(name, value)] = visitor.cookies.items()
    return {"cookie": f"{name}={value}", "origin": served.origin}


def schema_of(served: Served, name: str) -> Any:
    described = httpx.get(f"{served.origin}/api.json").json()
    return jsonschema_rs.validator_for({"$ref": f"#/components/schemas/{name}", "components": described["components"]})


def test_the_documents_have_the_shape_that_is_described(hurried):
    headers = own_headers(hurried)
    whole, changes = schema_of(hurried, "Room"), schema_of(hurried, "Changes")
    document = httpx.get(f"{hurried.origin}/state", headers=headers).json()
    whole.validate(document)
    del document["wheels"][0]["strip"]
    assert not whole.is_valid(document)
    changes.validate(document)
    document["wheels"][0]["cadence"] = 61.0
    assert not changes.is_valid(document)


def test_the_stream_says_documents_of_that_shape(hurried):
    changes = schema_of(hurried, "Changes")
    seen = 0
    with httpx.stream("GET", f"{hurried.origin}/changes", headers=own_headers(hurried)) as stream:
        for line in stream.iter_lines():
            if line.startswith("data: {") and "schema" in line:
                changes.validate(json.loads(line.removeprefix("data: ")))
                seen += 1
            if seen == 8:
                break
    assert seen == 8


@pytest.mark.parametrize("mode", ["positive", "negative"])
def test_requests_made_up_from_the_description_get_the_described_answers(hurried, mode):
    """Requests by schemathesis that fit the description, or don't: no answer may be out of it, and none a 500."""
    import hypothesis

    described = httpx.get(f"{hurried.origin}/api.json").json()
    del described["paths"]["/changes"]  # it doesn't end; the test above reads it
    schema = schemathesis.openapi.from_dict(described)
    schema.config.update(base_url=hurried.origin)
    headers = own_headers(hurried)
    only = schemathesis.checks.CHECKS.get_one
    rules = hypothesis.settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=EXAMPLES == 30,
        database=None,
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    asked: Counter[str] = Counter()
    for result in schema.get_all_operations():
        operation = result.ok()
        if mode == "negative" and operation.method.upper() != "POST":
            continue

        @rules
        @hypothesis.given(case=operation.as_strategy(GenerationMode(mode)))
        def answers_as_described(case: Any) -> None:
            # the cookie is always sent along, so that "auth is ignored" can't be told here; test_strangers does
            answer = case.call_and_validate(headers=headers, excluded_checks=[only("ignored_auth")])
            asked[str(answer.status_code)] += 1

        answers_as_described()
    print(f"{mode}: answers by status {dict(sorted(asked.items()))}")  # seen with -s
    if mode == "negative":
        assert asked["400"] + asked["415"] >= 10
        assert not {status for status in asked if status.startswith(("2", "5"))}
    else:
        assert asked["200"] >= 3
        assert asked["409"] >= 20  # no such wheel


def test_any_bytes_as_a_body_are_answered(hurried):
    """What schemathesis can't make: bodies that are no JSON at all."""
    import hypothesis
    from hypothesis import strategies as some

    headers = {**own_headers(hurried), "content-type": "application/json"}
    with httpx.Client(base_url=hurried.origin, headers=headers) as visitor:

        @hypothesis.settings(max_examples=150, deadline=None, derandomize=True, database=None)
        @hypothesis.given(body=some.binary(max_size=300), action=some.text(max_size=8), text=some.text(max_size=60))
        def is_answered(body: bytes, action: str, text: str) -> None:
            assert visitor.post("/act", content=body).status_code == 400
            asked = {"wheel": "1", "action": action, "text": text}
            assert visitor.post("/act", content=json.dumps(asked).encode()).status_code in (200, 400, 409)

        is_answered()
