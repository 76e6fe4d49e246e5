# SPDX-License-Identifier: MIT
"""The JSON Schema of site files, made from the fields; CSV columns and the API's records too."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.limits import METALS
from wiretrack.exchange.places import TABLE_NAMES, articled
from wiretrack.exchange.rest import ANSWER, REST, Rows
from wiretrack.files import shipped
from wiretrack.model import kinds, words
from wiretrack.model import kinds as k
from wiretrack.model.entities import Circuit, Conductor, Reading
from wiretrack.model.fields import Fact, Kind, facts, flat_facts
from wiretrack.model.parts import End, FarEnd, SiteFacts
from wiretrack.model.source import TABLES
from wiretrack.readings import BY_NAME

if TYPE_CHECKING:
    from collections.abc import Iterable

FORMAT = "wiretrack-site/1"
PLUGS = (METALS, BY_NAME)  # they bring the words of kinds that the model leaves open
FAR_ENDS = "far_ends"
_Schema = dict[str, Any]


_UNIQUE = {"terminals": "Codes are unique in their enclosure."} | {
    "devices": "Codes are unique in their enclosure.",
    "conductors": "Tags are unique.",
    "readings": "In any order.",
    **dict.fromkeys(REST, "Only in a dump."),
}
_ROWS: dict[str, type | Rows] = {table: of for of, table in TABLES.items()} | REST


@cache
def site_schema() -> _Schema:
    """Return the schema of site files, made from the fields."""
    tables = {
        table: {
            "title": f"a list of {table.replace('_', ' ')}",
            "$comment": _UNIQUE.get(table, "Codes are unique."),
            "type": "array",
            "items": _named(of),
        }
        for table, of in _ROWS.items()
    }
    shared = {kind.name: _of_kind(kind, kind.how) for kind in kinds.SHARED}
    records: tuple[type | Rows, ...] = (SiteFacts, *_ROWS.values(), FarEnd, End, ANSWER)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:wiretrack:site:1",
        "title": "a site file",
        "description": "The wiring of one property, as wiretrack loads and dumps it: UTF-8 JSON."
        " What is unknown is left out.",
        "type": "object",
        "required": ["format"],
        "additionalProperties": False,
        "properties": {
            "format": {"title": "a format", "const": FORMAT},
            "site": _named(SiteFacts),
            **tables,
        },
        "$defs": shared | {_name(of): _of_record(of) for of in records} | _modules(),
    }


def _name(of: type | Rows) -> str:
    if isinstance(of, Rows):
        return of.name
    return "site" if of is SiteFacts else _words(of).replace(" ", "_")


def _words(of: type) -> str:
    """Return the name of a class in words."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", of.__name__).lower()


def _named(of: type | Rows) -> _Schema:
    return {"$ref": f"#/$defs/{_name(of)}"}


def _of_record(of: type | Rows) -> _Schema:
    if isinstance(of, Rows):
        return _object(articled(of.noun), of.meaning, of.facts)
    title = "the site" if of is SiteFacts else articled(_words(of))
    first = (of.__doc__ or "").split("\n\n")[0]
    return _object(title, first, facts(of))


def _modules() -> _Schema:
    inside = [replace(f, key=f.inner) for f in facts(Circuit) if f.outer]
    return {kinds.MODULE.name: _object(kinds.MODULE.title, kinds.MODULE.how, inside)}


def _object(title: str, meaning: str, inside: Iterable[Fact]) -> _Schema:
    """Return the schema of an object with these fields; a dotted one lies in a group."""
    told = [fact for fact in inside if fact.key]
    needed = [fact.key for fact in told if fact.needed]
    properties = {
        fact.outer or fact.key: {"$ref": f"#/$defs/{fact.outer}"} if fact.outer else _of_fact(fact)
        for fact in told
    }
    return {
        "title": title,
        "description": meaning,
        "type": "object",
        **({"required": needed} if needed else {}),
        "additionalProperties": False,
        "properties": properties,
    }


def _of_fact(fact: Fact) -> _Schema:
    kind = fact.kind
    if kind.record is not None:
        return {**_named(kind.record), "description": fact.meaning}
    if kind.name:
        found = {"$ref": f"#/$defs/{kind.name}"}
        return found | ({"description": fact.meaning} if fact.meaning else {})
    return _of_kind(kind, kind.how or fact.meaning)


def _of_kind(kind: Kind, how: str) -> _Schema:
    found = {"title": kind.title, **({"description": how} if how else {}), **kind.schema}
    item = found.get("items")
    if isinstance(item, Kind):
        found["items"] = {"$ref": f"#/$defs/{item.name}"}
    elif item is not None:
        found["items"] = _named(item)
    return found


@cache
def flat_schema() -> _Schema:
    """Return the same schema with every reference replaced by what it names, for speed."""
    schema = dict(site_schema())
    definitions = schema.pop("$defs")
    flat: _Schema = _without_references(schema, definitions)
    return flat


def _without_references(schema: Any, definitions: _Schema) -> Any:
    if isinstance(schema, list):
        return [_without_references(item, definitions) for item in schema]
    if not isinstance(schema, dict):
        return schema
    if isinstance(schema.get("$ref"), str):
        schema = definitions[schema["$ref"].removeprefix("#/$defs/")]
    return {key: _without_references(item, definitions) for key, item in schema.items()}


def row_schema(table: str) -> _Schema:
    """Return the schema of one row of a table, or of the site."""
    properties = flat_schema()["properties"]
    schema: _Schema = properties["site"] if table == "site" else properties[table]["items"]
    return schema


@cache
def columns(table: str) -> dict[str, str]:
    """Return the CSV columns of a table, each with the kind of its cells.

    The kinds are text, boolean, integer, number, list, codes, lengths, pairs and json.

    >>> columns("pulls")
    {'code': 'text', 'path': 'list', 'id': 'text'}
    """
    if table == FAR_ENDS:
        far_end = row_schema("pulls")["properties"][FAR_ENDS]["items"]
        return {"pull": "text"} | _columns_of(far_end)
    found = _columns_of(row_schema(table))
    return {"format": "text"} | found if table == "site" else found


def _columns_of(schema: _Schema) -> dict[str, str]:
    found: dict[str, str] = {}
    for key, inner in schema["properties"].items():
        if inner.get("type") == "object" and "properties" in inner:
            found |= {f"{key}.{name}": kind for name, kind in _columns_of(inner).items()}
        elif key != FAR_ENDS:
            found[key] = _cell_kind(inner)
    return found


def _cell_kind(schema: _Schema) -> str:
    declared = schema.get("type", "string")
    if declared == ["string", "array"]:
        return "codes"
    kind: str = declared[0] if isinstance(declared, list) else declared
    if kind == "array":
        item = schema["items"]
        kinds = {"a code": "list", "a length": "lengths", "a pole": "pairs"}
        return kinds.get(item.get("title", ""), "json")
    return {"string": "text", "object": "json"}.get(kind, kind)


@cache
def required_columns(table: str) -> frozenset[str]:
    """Return the columns that a CSV file of this table can't do without."""
    if table == FAR_ENDS:
        return frozenset({"pull", "enclosure", "mark"})
    schema = row_schema(table)
    found = set()
    for key in schema.get("required", ()):
        inner = schema["properties"][key].get("required", ())
        found |= {f"{key}.{name}" for name in inner} or {key}
    return frozenset(found)


_OF_PULL = Fact("pull", kinds.CODE, "The pull that it was pulled in with.", "pulls", needed=True)


@cache
def table_facts(table: str) -> dict[str, Fact]:
    """Return the fields of a table by their dotted keys, as its columns are called.

    >>> table_facts("conductors")["from.terminal"].refers
    'terminals'
    """
    of: type | Rows = FarEnd if table == FAR_ENDS else _ROWS.get(table, SiteFacts)
    told = of.facts if isinstance(of, Rows) else flat_facts(of)
    return {fact.key: fact for fact in ((_OF_PULL, *told) if table == FAR_ENDS else told)}


def csv_tables() -> tuple[str, ...]:
    """Return the names of all CSV files, without their ending."""
    return ("site", *TABLE_NAMES, FAR_ENDS)


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
    read |= {"value": {"type": ["number", "null"]}, "verdict": _component("Verdict")}
    read |= {"kind": {"enum": [*k.READING_KIND.words]}, "unit": {"enum": [*k.UNIT.words]}}
    read |= {"id": _TEXT}
    served = "The circuit that it serves; a list where several share it, null for a spare."
    circuit = {"type": ["string", "array", "null"], "items": _TEXT, "description": served}
    conductor = _of(Conductor, "tag", "function", "size", "colour", "length_m") | {
        "circuit": circuit,
        "ends": _list(_answer(end)) | {"minItems": 2, "maxItems": 2},
        "route": _list(_TEXT),
        "readings": _list(_answer(read)),
        "expected_ohms": {"type": ["number", "null"]},
    }
    more = _of(Conductor, "metal", "insulation", "strands", "cable", "core", "pull", "note")
    return _answer(conductor, more)


def _of(record: type, *names: str) -> _Schema:
    """Return the fields of a record as an answer has them: numbers in their unit, null unknown."""
    found = {}
    declared = {field.name: str(field.type) for field in fields(record)}
    for name in names:
        kind, _, unknown = declared[name].partition(" | ")
        plain = _TYPES[kind]
        found[name] = {"type": [plain, "null"] if unknown else plain}
    return found


def _component(name: str) -> _Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _list(items: _Schema) -> _Schema:
    return {"type": "array", "items": items}


def _answer(needed: _Schema, more: _Schema | None = None) -> _Schema:
    """Return an object that has all of the `needed` properties, and may have `more`."""
    properties = {**needed, **(more or {})}
    return {"type": "object", "required": list(needed), "properties": properties}
