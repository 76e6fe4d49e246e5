# SPDX-License-Identifier: MIT
"""The JSON Schema of site files, read once; and the CSV columns that follow from it."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from wiretrack.exchange.places import TABLE_NAMES
from wiretrack.resources import shipped

FORMAT = "wiretrack-site/1"
FAR_ENDS = "far_ends"
_Schema = dict[str, Any]


@cache
def site_schema() -> _Schema:
    """Return the schema of site files, as it is published."""
    path = shipped("schemas") / "site.schema.json"
    schema: _Schema = json.loads(path.read_text(encoding="utf-8"))
    return schema


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

    The kinds are text, boolean, integer, number, list, lengths, pairs and json.

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


def csv_tables() -> tuple[str, ...]:
    """Return the names of all CSV files, without their ending."""
    return ("site", *TABLE_NAMES, FAR_ENDS)
