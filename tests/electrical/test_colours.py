# SPDX-License-Identifier: MIT
"""Colours and functions against the tables of IEC 60757 and IEC 60445."""

from __future__ import annotations

import pytest

from wiretrack.electrical.colours import (
    colour_codes,
    colour_name,
    colour_parts,
    function_of,
    parse_colour,
)
from wiretrack.errors import QuantityError, TableEntryError
from wiretrack.model.words import FUNCTIONS

# IEC 757:1983 as GOST 28763-90 reproduces it: codes in the order of the table.
PUBLISHED = (
    ("BK", "black"), ("BN", "brown"), ("RD", "red"), ("OG", "orange"), ("YE", "yellow"),
    ("GN", "green"), ("BU", "blue"), ("VT", "violet"), ("GY", "grey"), ("WH", "white"),
    ("PK", "pink"), ("GD", "gold"), ("TQ", "turquoise"), ("SR", "silver"), ("GNYE", "green-yellow"),
)  # fmt: skip


def test_the_codes_are_those_of_iec_757_in_its_order() -> None:
    assert colour_codes() == tuple(code for code, _ in PUBLISHED)
    assert [colour_name(code) for code, _ in PUBLISHED] == [name for _, name in PUBLISHED]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        # IEC 60757 itself gives RDBU for red and blue; table order decides, not the speaker's.
        ("RDBU", "RDBU"), ("BURD", "RDBU"), ("red/blue", "RDBU"), ("blue red", "RDBU"),
        ("GNYE", "GNYE"), ("yegn", "GNYE"), ("yellow-green", "GNYE"), ("red", "RD"), ("rd", "RD"),
        ("light blue", "BU"), ("purple", "VT"), ("slate", "GY"), ("gray", "GY"),
        ("GNYEBU", "BUGNYE"), ("green/yellow", "GNYE"), ("gnye", "GNYE"), ("Red", "RD"),
    ],
)  # fmt: skip
def test_a_colour_is_read_from_code_or_name_and_written_in_table_order(
    text: str, code: str
) -> None:
    assert parse_colour(text) == code
    assert parse_colour(code) == code


@pytest.mark.parametrize("text", ["", "XX", "blk", "RDRD", "R", "RDX", "BKBNRDOGYE", "\x1b[31mred"])
def test_what_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_colour(text)


def test_a_misspelt_colour_names_the_code_that_was_meant() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_colour("blakc")
    assert str(caught.value) == "'blakc' is not a colour. Write it like BK."


def test_green_yellow_is_one_colour_and_others_are_taken_apart() -> None:
    assert colour_parts("GNYE") == ("GNYE",)
    assert colour_parts("RDBU") == ("RD", "BU")
    assert colour_parts("BUGNYE") == ("BU", "GNYE")


def test_every_function_of_the_vocabulary_is_known_with_its_colours() -> None:
    assert {function_of(code).code for code in FUNCTIONS} == set(FUNCTIONS)
    # IEC 60445:2021: protective earth green-yellow, neutral and midpoint blue, FE pink.
    assert function_of("PE").colours == ("GNYE",)
    assert function_of("N").colours == ("BU",)
    assert function_of("FE").colours == ("PK",)
    assert not function_of("PE").live
    with pytest.raises(TableEntryError):
        function_of("L9")
