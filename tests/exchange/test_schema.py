# SPDX-License-Identifier: MIT
"""The published schema: valid by its metaschema, closed, and equal to the words of the registry."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator

from wiretrack.electrical.limits import METALS
from wiretrack.exchange.raw import DoubledKeys, NotANumber
from wiretrack.exchange.schema import csv_tables, flat_schema, row_schema, site_schema
from wiretrack.exchange.shape import fitting
from wiretrack.files import shipped
from wiretrack.model import words
from wiretrack.model.fields import facts, flat_facts
from wiretrack.model.parts import FarEnd, SiteFacts
from wiretrack.model.source import TABLES, SiteDocument
from wiretrack.readings import BY_NAME

if TYPE_CHECKING:
    from collections.abc import Iterator

FREE_FORM = {"settings", "result", "step", "answer", "legend", "old", "new", "more"}


def parts(schema: Any, key: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Return every schema inside a schema, with the key it stands under."""
    if isinstance(schema, dict):
        yield key, schema
        for name, inner in schema.items():
            yield from parts(inner, name)
    elif isinstance(schema, list):
        for inner in schema:
            yield from parts(inner, key)


def test_the_schema_is_valid_by_the_metaschema_of_json_schema_2020_12() -> None:
    schema = site_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema)


def test_no_object_takes_unknown_keys_unless_its_form_is_free() -> None:
    opened = {
        key
        for key, schema in parts(site_schema())
        if "object" in (schema.get("type") or ())
        and schema.get("additionalProperties") is not False
    }
    assert opened == FREE_FORM


def test_every_definition_says_what_it_is() -> None:
    for name, schema in site_schema()["$defs"].items():
        assert schema["title"], name
        assert schema.get("description") or "enum" in schema, name


@pytest.mark.parametrize(
    ("table", "key", "allowed"),
    [
        ("enclosures", "kind", words.ENCLOSURE_KINDS),
        ("devices", "kind", words.DEVICE_KINDS),
        ("raceways", "type", words.RACEWAY_TYPES),
        ("circuits", "system", words.SYSTEMS),
        ("conductors", "function", words.FUNCTIONS),
        ("conductors", "metal", tuple(METALS)),
        ("conductors", "retired_because", words.RETIREMENTS),
        ("instruments", "kind", words.INSTRUMENT_KINDS),
        ("readings", "kind", tuple(BY_NAME)),
        ("label_prints", "end", words.SIDES),
        ("placed_labels", "end", words.SIDES),
        ("site", "rules", words.RULE_SETS),
        ("site", "units", words.LENGTH_UNITS),
        ("site", "edition", words.NEC_EDITIONS),
    ],
)
def test_the_schema_has_the_words_of_the_registry(
    table: str, key: str, allowed: tuple[object, ...]
) -> None:
    assert tuple(row_schema(table)["properties"][key]["enum"]) == allowed


def test_the_ends_of_conductors_have_the_states_of_the_registry() -> None:
    for side in ("from", "to"):
        end = row_schema("conductors")["properties"][side]
        assert tuple(end["properties"]["state"]["enum"]) == words.END_STATES


def test_the_schema_without_references_judges_alike() -> None:
    assert not [schema for _, schema in parts(flat_schema()) if "$ref" in schema]
    wrong = {"format": "wiretrack-site/1", "conductors": [{"circuit": 1, "from": {"x": 1}}]}
    judged = [
        {(tuple(error.absolute_path), error.validator) for error in validator.iter_errors(wrong)}
        for validator in map(Draft202012Validator, (site_schema(), flat_schema()))
    ]
    assert judged[0] == judged[1]
    assert len(judged[0]) >= 4


@pytest.mark.parametrize("of", [SiteFacts, FarEnd, *TABLES])
def test_every_attribute_of_a_record_has_a_key_in_the_schema(of: type) -> None:
    measured = {"number", "unit", "over_range"} if TABLES.get(of) == "readings" else set()
    assert {field.name for field in dataclasses.fields(of)} == {fact.name for fact in facts(of)}
    assert {fact.name for fact in facts(of) if not fact.key} == measured
    schema = row_schema("pulls")["properties"]["far_ends"]["items"]
    schema = schema if of is FarEnd else row_schema(TABLES.get(of, "site"))
    for fact in flat_facts(of):
        inner = schema
        for key in fact.key.split("."):
            inner = inner["properties"][key]


def test_every_field_says_what_it_means_in_a_sentence_of_its_own_line() -> None:
    for of in (SiteFacts, FarEnd, *TABLES):
        for fact in facts(of):
            assert fact.meaning.endswith("."), (of, fact.name)


def test_the_published_file_is_the_schema_made_from_the_fields() -> None:
    text = (shipped("schemas") / "site.schema.json").read_text("utf-8")
    assert text == json.dumps(site_schema(), ensure_ascii=False, indent=2) + "\n"


def test_every_table_of_a_document_has_a_place_in_a_file() -> None:
    tables = {field.name for field in dataclasses.fields(SiteDocument)} - {"rest"}
    assert tables <= set(csv_tables())
    assert set(site_schema()["properties"]) == set(csv_tables()) - {"far_ends"} | {"format"}


def test_raceway_types_with_a_trade_size_are_those_of_nec_chapter_9_table_4() -> None:
    # NEC chapter 9 table 4 (reprint; original not seen), one article a row of this list.
    table_4 = {"EMT", "ENT", "FMC", "IMC", "LFNC-B", "LFMC", "RMC", "PVC-80", "PVC-40", "HDPE"}
    assert table_4 < set(words.RACEWAY_TYPES)
    assert set(words.RACEWAY_TYPES) - table_4 == {"wireway", "tray", "cable", "trench"}


STRANGE: tuple[object, ...] = (
    None, True, 0, -1, 1.0, 1e300, "", " ", "x", "x" * 3000, "a\n", [], ["a", "a"], ["1"], {},
    {"x": 1}, NotANumber("NaN"), DoubledKeys({"code": "A"}),
)  # fmt: skip


@pytest.mark.parametrize("table", TABLES.values())
def test_what_is_told_fast_to_fit_is_what_the_library_allows(table: str) -> None:
    """A strange value in each field by itself: our fast answer against jsonschema's own."""
    for key, schema in row_schema(table)["properties"].items():
        library, fits = Draft202012Validator(schema), fitting(schema)
        for value in STRANGE + tuple(schema.get("enum", ())) + tuple(schema.get("examples", ())):
            assert not fits(value) or library.is_valid(value), (key, value)
            if type(value) is str and "enum" not in schema:
                assert fits(value) == library.is_valid(value), (key, value)


def test_rows_with_too_much_or_too_little_do_not_fit() -> None:
    fits = fitting(row_schema("conductors"))
    row = {"function": "L1", "size": "4 mm2", "from": {"enclosure": "A"}, "to": {"enclosure": "B"}}
    assert fits(row)
    assert not fits(row | {"colours": "BN"})
    assert not fits(row | {"to": {"enclosure": "B", "box": "C"}})
    assert not fits({key: row[key] for key in ("function", "from", "to")})
