# SPDX-License-Identifier: MIT
"""The tables of what IEC 60364-6 and IEC 62446-1 ask: each row says where from and how read."""

from __future__ import annotations

import re

import pytest

from wiretrack.electrical.tables import HEADINGS, read_table
from wiretrack.reports.asked import (
    DATA,
    inspection_points,
    reading_of,
    required_items,
    unrecorded_tests,
)
from wiretrack.words import SYSTEMS

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


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_report_tells_how_the_table_was_read(file: object) -> None:
    assert reading_of(file.stem).startswith("Read as: ")  # type: ignore[attr-defined]


def test_what_wasnt_even_seen_in_a_table_of_contents_is_from_memory() -> None:
    for item in required_items(set(SYSTEMS)):
        assert item.read in ("memory", "contents")
        assert item.kept in ("recorded", "by hand", "both")
        assert item.source.endswith("(from memory)") == (item.read == "memory")
        assert item.source.startswith(("IEC 60364-6:2016 ", "IEC 62446-1:2016 "))


def test_the_items_of_photovoltaics_are_asked_only_where_there_are_any() -> None:
    without = {item.standard for item in required_items({"ac-3ph", "signal"})}
    assert without == {"IEC 60364-6:2016"}
    for systems in ({"dc-pv"}, {None}):
        assert len({item.standard for item in required_items(systems)}) == 2


def test_the_whole_list_of_what_to_look_at_is_there() -> None:
    places = [row["place"] for row in inspection_points({"ac-1ph"})]
    found = [place[-1] for place in places if " 6.4.2.3 " in place]
    assert "".join(found) == LETTERS
    assert all("62446" not in place for place in places)
    assert any("62446" in row["place"] for row in inspection_points({"dc-pv"}))


def test_a_circuit_of_unknown_system_is_asked_for_every_test() -> None:
    every = {row["asks"] for system in SYSTEMS for row in unrecorded_tests(system)}
    assert {row["asks"] for row in unrecorded_tests(None)} == every
    assert "Phase sequence" in {row["asks"] for row in unrecorded_tests("ac-3ph")}
    assert "Phase sequence" not in {row["asks"] for row in unrecorded_tests("ac-1ph")}
