# SPDX-License-Identifier: MIT
"""The columns of the store are the fields of the records, and each has its words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from wiretrack.files import shipped
from wiretrack.model.fields import facts
from wiretrack.model.parts import End, FarEnd, SiteFacts
from wiretrack.model.source import TABLES
from wiretrack.store.loading import create_registry
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

RECORDS: dict[str, type] = {"site": SiteFacts, "ends": End, "far_ends": FarEnd} | {
    table: of for of, table in TABLES.items()
}
# What a record has from the rows that belong to it, and what a row has from the record it is of.
IN_ROWS_OF_THEIR_OWN = {"circuits_id", "poles", "path_id", "far_ends", "from_end", "to_end"}
OF_THE_ROW = {"nr", "came", "one", "conductor_id", "side", "pull_id", "position", "id"}
# Words that the store leaves open: what plugs bring, and what a newer edition adds.
OPEN = {"edition", "type"}
OPEN_OF = {"readings": {"kind", "unit"}, "conductors": {"metal"}}


@pytest.mark.parametrize("table", RECORDS)
def test_every_column_is_a_field_and_every_field_has_its_column(table: str, tmp_path: Path) -> None:
    create_registry(tmp_path / "r.db", SiteFacts(name="x"))
    with open_registry(tmp_path / "r.db") as registry:
        columns = {row["name"] for row in registry.rows(f"PRAGMA table_info({table})")}
    declared = {fact.column for fact in facts(RECORDS[table])}
    if table == "readings":
        declared = declared - {"subject"} | {"device_id", "circuit_id"}
    assert columns - OF_THE_ROW == declared - IN_ROWS_OF_THEIR_OWN - OF_THE_ROW


def test_the_store_allows_the_words_of_the_fields_and_no_others() -> None:
    text = (shipped("schemas") / "schema.sql").read_text("utf-8")
    checked = 0
    for table, of in RECORDS.items():
        body = re.search(rf"CREATE TABLE {table} \((.*?)\n\) STRICT", text, re.DOTALL)
        assert body, table
        for fact in facts(of):
            found = re.search(rf"\b{fact.column} [A-Z ]*CHECK \({fact.column} IN \(([^)]*)\)",
                              body[1])  # fmt: skip
            if found is None:
                assert not fact.kind.words or fact.name in OPEN | OPEN_OF.get(table, set())
            elif fact.kind.is_truth:
                assert found[1] == "0, 1"
            else:
                assert tuple(re.findall(r"'([^']*)'", found[1])) == fact.kind.words
                checked += 1
    assert checked >= 12
