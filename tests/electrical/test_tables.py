# SPDX-License-Identifier: MIT
"""Tables: each says where it comes from, how it was read and what is doubtful."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical import tables
from wiretrack.electrical.tables import load_table, table_names
from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from pathlib import Path

PUBLISHERS = ("IEC 6", "NEC", "ANSI", "common practice")
NOT_NUMBERS = (
    "device", "motor", "confidence", "note", "name", "also", "code", "function", "colours", "live",
    "construction", "insulation", "covering", "raceway", "trade_size", "size", "metal", "table",
    "section", "wording", "reflective", "circuit", "type", "wet", "sunlight", "pe", "cu", "al",
    "conductors", "use", "part", "form", "confidence_oil", "confidence_solid",
)  # fmt: skip


@pytest.mark.parametrize("name", table_names())
def test_a_table_names_publication_edition_reading_and_doubts(name: str) -> None:
    table = load_table(name)
    assert table.source.startswith(PUBLISHERS)
    assert "original not seen" in table.read_as or table.read_as == "memory"
    assert table.edition
    assert table.doubts
    assert table.rows


@pytest.mark.parametrize("name", table_names())
def test_every_row_is_whole_and_says_how_sure_it_is(name: str) -> None:
    for row in load_table(name).rows:
        assert None not in row
        assert None not in row.values()
        sure = [value for key, value in row.items() if key.startswith("confidence")]
        assert sure
        assert set(sure) <= {"high", "medium", "low"}


@pytest.mark.parametrize("name", table_names())
def test_every_figure_is_a_finite_number(name: str) -> None:
    for row in load_table(name).rows:
        for key, text in row.items():
            if key not in NOT_NUMBERS and text:
                assert abs(float(text)) < 1e7, (key, text)


@pytest.mark.parametrize("name", table_names())
def test_no_row_stands_twice(name: str) -> None:
    rows = [tuple(row.items()) for row in load_table(name).rows]
    assert len(set(rows)) == len(rows)


def test_an_unknown_table_is_refused_and_the_known_ones_named() -> None:
    with pytest.raises(BadInputError, match="nec_310_16"):
        load_table("astrology")


def test_a_table_without_its_source_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bare.csv").write_text("# edition: 1\na,b\n1,2\n", encoding="utf-8")
    monkeypatch.setattr(tables, "DATA", tmp_path)
    with pytest.raises(BadInputError) as caught:
        load_table("bare")
    assert (
        str(caught.value) == "Table 'bare' doesn't say its source, read as, doubts. Add the line."
    )


def test_a_row_is_found_by_the_values_of_its_columns() -> None:
    table = load_table("nec_310_16")
    row = table.find(size="10", metal="Cu")
    assert row is not None
    assert row["amp_75c"] == "35"
    assert table.find(size="10", metal="Fe") is None
