# SPDX-License-Identifier: MIT
"""The description of the API holds: every answer to generated requests is one that it allows."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings

from tests.drawing import full
from tests.web.conftest import BEARER, settings_of
from wiretrack.exchange.schema import openapi, site_schema
from wiretrack.files import shipped
from wiretrack.model.entities import Conductor
from wiretrack.model.fields import facts
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient

DOCUMENT = json.loads((shipped("schemas") / "openapi.json").read_text("utf-8"))
OPERATIONS = [
    (path, method) for path, operations in DOCUMENT["paths"].items() for method in operations
]


def test_the_description_is_served_to_everybody(client: FlaskClient) -> None:
    answer = client.get("/api/openapi.json")
    assert (answer.status_code, answer.json) == (200, DOCUMENT)
    assert DOCUMENT["openapi"].startswith("3.1.")


def test_the_published_description_is_the_one_that_the_fields_make() -> None:
    assert openapi() == DOCUMENT
    shown = DOCUMENT["components"]["schemas"]["Conductor"]["properties"]
    declared = {each.name: each for each in facts(Conductor)}
    assert {name for name in shown if name in declared} >= {"metal", "cable", "length_m", "note"}
    assert all((name in declared) or name in _MADE for name in shown)


_MADE = ("circuit", "ends", "route", "readings", "expected_ohms")  # of a record, by what it does


def test_the_reading_that_is_posted_has_the_fields_of_a_site_file() -> None:
    definitions = site_schema()["$defs"]
    described = deepcopy(DOCUMENT["components"]["schemas"]["Reading"])
    for key, stated in definitions["reading"]["properties"].items():
        if key in ("entered_at", "entered_by"):  # over HTTP nobody chooses these
            assert key not in described["properties"]
            continue
        named = definitions.get(stated.get("$ref", "").removeprefix("#/$defs/"), {})
        made = {**named, **stated}
        made.pop("$ref", None)
        assert described["properties"].pop(key) == made
    assert described["properties"] == {}
    assert set(described["required"]) == {*definitions["reading"]["required"], "id"}


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
@pytest.mark.parametrize("examples", [5, full(40)])
def test_every_answer_to_generated_requests_is_described(
    db: Path, path: str, method: str, examples: int
) -> None:
    schemathesis = pytest.importorskip("schemathesis", reason="schemathesis is not installed")
    app = create_app(settings_of(db))
    schema = schemathesis.openapi.from_wsgi("/api/openapi.json", app)
    operation = schema[path][method.upper()]

    @given(case=operation.as_strategy())
    @settings(max_examples=examples, deadline=None, database=None, derandomize=True,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    def answered_as_described(case: Any) -> None:
        answer = case.call(headers=BEARER)
        assert answer.status_code < 500
        case.validate_response(answer, checks=_checks())

    answered_as_described()


def _checks() -> list[Any]:
    from schemathesis.specs.openapi import checks

    return [
        checks.status_code_conformance,
        checks.content_type_conformance,
        checks.response_schema_conformance,
    ]
