# SPDX-License-Identifier: MIT
"""Tags against python-stdnum 2's ISO/IEC 7064 MOD 37,36, an implementation that isn't ours."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from wiretrack.errors import TagError
from wiretrack.model.tags import (
    ALPHABET,
    check_character,
    format_tag,
    make_tag,
    parse_tag,
    read_aloud,
    single_slips,
)

bodies = st.text(alphabet=ALPHABET, min_size=6, max_size=6)


@given(bodies)
def test_the_check_character_is_the_one_python_stdnum_calculates(body: str) -> None:
    assert check_character(body) == mod_37_36.calc_check_digit(body)


@pytest.mark.parametrize(
    ("number", "character"),
    # ISO/IEC 7064 MOD 37,36 as used by published identifiers: the GRid standard's example and
    # strings whose check character python-stdnum 2.2 computes.
    [("A12425GABC1234002", "M"), ("GRID", "E"), ("A999914123N", "Y"), ("WIRE0001", "A")],
)
def test_published_check_characters_are_reproduced(number: str, character: str) -> None:
    assert check_character(number) == character


@given(bodies)
def test_a_tag_is_read_in_any_case_with_spaces_hyphens_and_look_alikes(body: str) -> None:
    tag = body + check_character(body)
    sloppy = body.lower().replace("0", "o").replace("1", "l") + tag[6].lower()
    assert parse_tag(f" {sloppy[:3]} - {sloppy[3:]} ") == tag
    assert parse_tag(format_tag(tag)) == tag


@given(bodies, st.integers(0, 5), st.sampled_from(ALPHABET))
def test_one_wrong_character_is_always_noticed_and_explained(
    body: str, place: int, wrong: str
) -> None:
    tag = body + check_character(body)
    slipped = tag[:place] + wrong + tag[place + 1 :]
    if slipped == tag:
        return
    with pytest.raises(TagError, match="the check character is wrong"):
        parse_tag(slipped)
    assert tag in single_slips(slipped)


@given(bodies)
def test_a_check_character_taken_for_its_look_alike_is_read_as_meant(body: str) -> None:
    tag = body + check_character(body)
    alike = {"0": "O", "O": "0", "1": "IL", "I": "1L", "L": "1I"}.get(tag[6], "")
    for typed in alike:
        assert read_aloud(f"{body[:3]}-{body[3:]}{typed}") == tag
        with pytest.raises(TagError):  # the registry decides whether that is meant
            parse_tag(body + typed)
    assert read_aloud(tag) is None
    for typed in set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ") - {tag[6], *alike}:
        assert read_aloud(body + typed) is None


@given(bodies, st.integers(0, 4))
def test_two_swapped_neighbours_are_explained_when_noticed(body: str, place: int) -> None:
    tag = body + check_character(body)
    swapped = tag[:place] + tag[place + 1] + tag[place] + tag[place + 2 :]
    if swapped == tag or mod_37_36.is_valid(swapped):
        return
    assert tag in single_slips(swapped)


@pytest.mark.parametrize("text", ["", "ABC", "ABC-DEFGH", "ABC-DEU1", "ABC_DEF1", "ÄBC-DEF1"])
def test_what_is_not_a_tag_is_refused_in_words(text: str) -> None:
    with pytest.raises(TagError) as caught:
        parse_tag(text)
    assert str(caught.value) == (
        f"'{text}' is not a tag: a tag is six characters and a check character, like ABC-DEFG."
    )


def test_new_tags_are_valid_and_differ() -> None:
    tags = {make_tag() for _ in range(1000)}
    assert len(tags) > 990
    assert all(mod_37_36.is_valid(tag) for tag in tags)
