# SPDX-License-Identifier: MIT
"""The tables of what IEC 60364-6 and IEC 62446-1 ask: each row says where from and how read."""

from __future__ import annotations

import re

import pytest

from wiretrack import manner
from wiretrack.electrical.tables import HEADINGS, read_table
from wiretrack.model.words import SYSTEMS
from wiretrack.render.report.asked import (
    DATA,
    inspection_points,
    not_checked,
    required_items,
    unrecorded_tests,
)

FILES = sorted(DATA.glob("*.csv"))
# IEC 60364-6:2016, 6.4.2.3: the list runs from a to p (from memory).
LETTERS = "abcdefghijklmnop"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_table_says_its_source_and_how_it_was_read(file: object) -> None:
    text = file.read_text("utf-8")  # type: ignore[attr-defined]
    for heading in HEADINGS:
        assert re.search(rf"^# {heading}: \S", text, re.M)
    assert "originals not seen" in text
    assert read_table(file).rows  # type: ignore[arg-type]


def test_a_clause_that_was_not_checked_is_never_cited() -> None:
    for item in required_items(set(SYSTEMS)):
        assert item.kept in ("recorded", "by hand", "both")
        assert item.source == f"{item.standard} {item.place}".strip()
        assert item.source.startswith(("IEC 60364-6:2016", "IEC 62446-1:2016"))
        assert item.unchecked not in item.place.split() or not item.unchecked
    for row in inspection_points(set(SYSTEMS)):
        assert row.place.split()[-1] == row.place.removeprefix(f"{row.standard} ")
        assert row.unchecked == "" or not row.place.endswith(row.unchecked)


# The contents of IEC 60364-6:2016 (reprint) have 6.4.4, 6.5.2 and 6.5.3; no reprint that was found
# has those of IEC 62446-1:2016 from clause 9 on, nor the letters of 6.4.2.3.
@pytest.mark.parametrize(
    ("item", "source"),
    [
        ("extent", "IEC 60364-6:2016 6.4.4"), ("next", "IEC 60364-6:2016 6.4.4 and 6.5.2"),
        ("limitations", "IEC 60364-6:2016 6.5.3"), ("instruments", "IEC 60364-6:2016"),
        ("pv-signature", "IEC 62446-1:2016"), ("pv-voc", "IEC 62446-1:2016 6.4"),
    ],
)  # fmt: skip
def test_an_item_is_cited_as_far_as_was_read(item: str, source: str) -> None:
    found = {one.item: one.source for one in required_items(set(SYSTEMS))}
    assert found[item] == source


def test_what_was_not_checked_is_told_by_standard_and_each_number_once() -> None:
    told = not_checked([*inspection_points({"dc-pv"}), *required_items({"dc-pv"})])
    assert told == {
        "IEC 60364-6:2016": "6.4.2.3 a to 6.4.2.3 p, 6.4.3.1",
        "IEC 62446-1:2016": "5.2.2 to 5.2.10, 9.1, 9.2, 9.3, 4.2, 4.3, 6.1, annex",
    }
    without = not_checked([*inspection_points({"ac-1ph"}), *required_items({"ac-1ph"})])
    assert without.keys() == {"IEC 60364-6:2016"}


def test_the_items_of_photovoltaics_are_asked_only_where_there_are_any() -> None:
    without = {item.standard for item in required_items({"ac-3ph", "signal"})}
    assert without == {"IEC 60364-6:2016"}
    for systems in ({"dc-pv"}, {None}):
        assert len({item.standard for item in required_items(systems)}) == 2


def test_the_whole_list_of_what_to_look_at_is_there() -> None:
    rows = inspection_points({"ac-1ph"})
    found = [row.unchecked[-1] for row in rows if row.place.endswith(" 6.4.2.3")]
    assert "".join(found) == LETTERS
    assert all("62446" not in row.place for row in rows)
    assert any("62446" in row.place for row in inspection_points({"dc-pv"}))


def test_a_circuit_of_unknown_system_is_asked_for_every_test() -> None:
    every = {row.asks for system in SYSTEMS for row in unrecorded_tests(system)}
    assert {row.asks for row in unrecorded_tests(None)} == every
    assert "Phase sequence" in {row.asks for row in unrecorded_tests("ac-3ph")}
    assert "Phase sequence" not in {row.asks for row in unrecorded_tests("ac-1ph")}


def test_points_are_in_the_words_of_the_rules_in_use_each_time() -> None:
    def asked(rules: str) -> str:
        manner.use(manner.Manner(rules=rules))
        return " ".join(row.asks for row in inspection_points({"ac-3ph"}))

    assert "Grounding" in asked("NEC")
    assert "Grounding" not in asked("IEC")
    assert "Earthing" in asked("IEC")
