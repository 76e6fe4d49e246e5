# SPDX-License-Identifier: MIT
"""The description of the HTTP API (OpenAPI 3.1): the published one, its records by their fields."""

from __future__ import annotations

import json
from dataclasses import fields
from functools import cache
from typing import Any

from wiretrack.exchange.schema import flat_schema
from wiretrack.files import shipped
from wiretrack.model import kinds as k
from wiretrack.model import words
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.parts import End

_Schema = dict[str, Any]
_TYPES = {"str": "string", "Tag": "string", "float": "number", "int": "integer", "bool": "boolean"}
_TEXT = {"type": "string"}


@cache
def openapi() -> _Schema:
    """Return the description of the API."""
    found: _Schema = json.loads((shipped("schemas") / "openapi.json").read_text("utf-8"))
    found["components"]["schemas"] |= {"Reading": _reading(), "Conductor": _conductor()}
    return found


def _reading() -> _Schema:
    """Return a reading as a site file has it, with an id that the sender makes."""
    row: _Schema = flat_schema()["properties"]["readings"]["items"]
    made = "One value taken with an instrument, as in a site file; the sender makes the id, a UUID,"
    described = {
        fact: _described(fact, schema)
        for fact, schema in row["properties"].items()
        if not fact.startswith("entered_")
    }
    return (
        row
        | {"description": f"{made} and may send again.", "properties": described}
        | {"required": ["id", *row["required"]]}
    )


def _described(key: str, schema: _Schema) -> _Schema:
    """Return the schema of a field of a reading, with what that field means."""
    declared = {f.metadata["fact"].key: f.metadata["fact"] for f in fields(Reading)}
    kind = declared[key].kind
    return schema if not kind.name else schema | {"description": declared[key].meaning}


def _conductor() -> _Schema:
    end = _of(End, "enclosure", "terminal") | {
        "state": {"enum": [*words.END_STATES, None]},
        "labelled": {"type": "boolean"},
    }
    read = _of(Reading, "id", "kind", "unit", "over_range", "at", "instrument")
    read |= {"value": {"type": ["number", "null"]}, "verdict": _named("Verdict")}
    read |= {"kind": {"enum": [*k.READING_KIND.words]}, "unit": {"enum": [*k.UNIT.words]}}
    read |= {"id": _TEXT}
    served = "The circuit that it serves; a list where several share it, null for a spare."
    circuit = {"type": ["string", "array", "null"], "items": _TEXT, "description": served}
    conductor = _of(Conductor, "tag", "function", "size", "colour", "length_m") | {
        "circuit": circuit,
        "ends": _list(_object(end)) | {"minItems": 2, "maxItems": 2},
        "route": _list(_TEXT),
        "readings": _list(_object(read)),
        "expected_ohms": {"type": ["number", "null"]},
    }
    more = _of(Conductor, "metal", "insulation", "strands", "cable", "core", "pull", "note")
    return _object(conductor, more)


def _of(record: type, *names: str) -> _Schema:
    """Return the fields of a record as an answer has them: numbers in their unit, null unknown."""
    found = {}
    declared = {field.name: str(field.type) for field in fields(record)}
    for name in names:
        kind, _, unknown = declared[name].partition(" | ")
        plain = _TYPES[kind]
        found[name] = {"type": [plain, "null"] if unknown else plain}
    return found


def _named(name: str) -> _Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _list(items: _Schema) -> _Schema:
    return {"type": "array", "items": items}


def _object(needed: _Schema, more: _Schema | None = None) -> _Schema:
    """Return an object that has all of the `needed` properties, and may have `more`."""
    properties = {**needed, **(more or {})}
    return {"type": "object", "required": list(needed), "properties": properties}
