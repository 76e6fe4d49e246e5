# SPDX-License-Identifier: MIT
"""Marking of PV DC raceways: at most 3 m apart, each section, each box, in the edition's words."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.electrical.rules.marking import (
    marking,
    markings,
    places_along,
    site_markings,
    spacing_m,
    wording,
)
from wiretrack.electrical.runs import Run
from wiretrack.electrical.tables import Code
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, OutOfRangeError
from wiretrack.model.entities import Circuit, Enclosure, Raceway

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

STRING = Circuit(code="S", system="dc-pv")
FEET_10_M = 3.048


def test_the_spacing_is_3_metres_which_is_within_10_feet() -> None:
    # NEC 690.31(D)(2): not more than 3 m (10 ft).
    assert spacing_m() == 3
    assert spacing_m() <= FEET_10_M


# Wording: 2020 read in an adopted code, 2023 in one reprint, 2014 and 2017 recalled.
@pytest.mark.parametrize(
    ("edition", "words", "section"),
    [
        (2014, "WARNING: PHOTOVOLTAIC POWER SOURCE", "690.31(G)(3) and (4)"),
        (2017, "WARNING: PHOTOVOLTAIC POWER SOURCE", "690.31(G)(3) and (4)"),
        (2020, "PHOTOVOLTAIC POWER SOURCE", "690.31(D)(2)"),
        (2023, "PHOTOVOLTAIC POWER SOURCE", "690.31(D)(2)"),
    ],
)
def test_the_wording_is_that_of_the_edition(
    edition: int, words: str, section: str, make: type[Make]
) -> None:
    code = Code("NEC", edition)
    assert wording(code) == words
    run = make.run(make.wire("10 AWG", "L+", STRING), length_m=5)
    assert {m.wording for m in markings(run, code)} == {words}
    assert {m.source for m in markings(run, code)} == {f"NEC {edition} {section}"}
    assert any("reflective" in m.note for m in markings(run, code)) is (edition < 2020)


@given(data=st.data(), length_cm=st.integers(20, 30_000))
def test_by_walking_the_raceway_no_gap_is_over_3_m_and_every_section_is_marked(
    data: st.DataObject, length_cm: int
) -> None:
    inside_cm = st.integers(1, length_cm - 1)
    walls_cm = sorted(data.draw(st.sets(inside_cm, max_size=5)))
    places = places_along(length_cm / 100, [wall / 100 for wall in walls_cm])
    assert places == sorted(places)
    stops = [0.0, *places, length_cm / 100]
    assert all(later - earlier <= 3.0 + 1e-9 for earlier, later in pairwise(stops))
    for low, high in pairwise([0, *walls_cm, length_cm]):
        marked = [place for place in places if low / 100 < place < high / 100]
        assert marked, f"the section from {low} to {high} cm is unmarked"


def test_a_section_of_just_twice_the_inset_has_one_marking() -> None:
    assert places_along(60.0, [59.4])[-1] == pytest.approx(59.7)
    assert places_along(0.6) == [0.3]


def test_a_wall_has_a_marking_on_each_side() -> None:
    places = places_along(10, [4])
    assert 3.7 in [round(place, 2) for place in places]
    assert 4.3 in [round(place, 2) for place in places]


def test_a_run_of_20_m_between_two_boxes_needs_ten_markings(make: type[Make]) -> None:
    # By hand: 0.3 m from each box leaves 19.4 m, seven gaps of 2.77 m, so eight; and two boxes.
    run = make.run(make.wire("10 AWG", "L+", STRING), length_m=20)
    listed = markings(run, make.nec)
    assert len(listed) == 10
    assert [m.on for m in listed] == ["A", *["W1"] * 8, "B"]
    assert {"on", "at_m", "wording", "source"} <= set(document(listed[0]))
    finding, *boxes = marking(run, make.nec)
    assert finding.outcome == "doubt"
    assert finding.reason.startswith("8 along it")
    assert [(box.subject, box.outcome) for box in boxes] == [("A", "doubt"), ("B", "doubt")]
    assert "state marked" in finding.reason
    assert "state marked" in boxes[0].reason


def test_an_unknown_length_or_edition_is_said(make: type[Make]) -> None:
    run = make.run(make.wire("10 AWG", "L+", STRING))
    along = [m for m in markings(run, make.nec) if m.on == "W1"]
    assert [m.at_m for m in along] == [None]
    assert "length is unknown" in along[0].note
    assert "length" in marking(run, make.nec)[0].reason
    bare = Code("NEC")
    assert wording(bare) is None
    assert "unknown: edition" in markings(run, bare)[0].note
    known = make.run(make.wire("10 AWG", "L+", STRING), length_m=3)
    assert "unknown: edition" in marking(known, bare)[0].reason


def test_only_pv_dc_raceways_of_nec_sites_are_marked(make: type[Make]) -> None:
    run = make.run(make.wire("10 AWG", "L1"), length_m=5)
    assert markings(run, make.nec) == []
    assert marking(run, make.nec) == []
    pv = make.run(make.wire("10 AWG", "L+", STRING), length_m=5)
    assert markings(pv, make.iec) == []
    assert marking(pv, make.iec) == []


def test_a_box_between_two_raceways_is_marked_once_and_an_array_not_at_all(
    make: type[Make],
) -> None:
    wire = make.wire("10 AWG", "L+", STRING)
    array, box = Enclosure(code="ARR", kind="array"), Enclosure(code="J", kind="junction-box")
    first = Run(
        Raceway(code="W1", from_enclosure="ARR", to_enclosure="J", length_m=3), (wire,), array, box
    )
    second = Run(Raceway(code="W2", from_enclosure="J", to_enclosure="K", length_m=3), (wire,), box)
    on = [m.on for m in site_markings([first, second], make.nec)]
    assert on.count("J") == 1
    assert on.count("K") == 1
    assert "ARR" not in on


@pytest.mark.parametrize("length_m", [0, -1, float("nan"), 1e9])
def test_impossible_lengths_are_refused(length_m: float) -> None:
    with pytest.raises(OutOfRangeError):
        places_along(length_m)


@pytest.mark.parametrize("wall", [0, 10, -1, 11, float("nan")])
def test_a_wall_outside_the_raceway_is_refused(wall: float) -> None:
    with pytest.raises(OutOfRangeError, match="between 0 and 10 m"):
        places_along(10, [wall])


def test_an_edition_or_rule_set_that_is_not_held_is_refused() -> None:
    with pytest.raises(BadInputError, match="2014, 2017, 2020, 2023"):
        Code("NEC", 1999)
    with pytest.raises(BadInputError, match="NEC, IEC"):
        Code("ISO")


@pytest.mark.parametrize(
    ("marked", "outcome", "figure"), [(True, "pass", 8), (False, "fail", 0), (None, "doubt", None)]
)
def test_markings_that_are_put_up_can_be_stated_of_raceways_and_boxes(
    marked: bool | None, outcome: str, figure: float | None, make: type[Make]
) -> None:
    # NEC 690.31(D)(2), 8 along 20 m as counted by hand above, and one on each box.
    box = Enclosure(code="A", kind="junction-box", marked=marked)
    raceway = Raceway(code="W1", from_enclosure="A", to_enclosure="ARR", length_m=20, marked=marked)
    array = Enclosure(code="ARR", kind="array")
    along, cover = marking(Run(raceway, (make.wire("10 AWG", "L+", STRING),), box, array), make.nec)
    assert (along.subject, along.outcome, along.figure, along.limit) == ("W1", outcome, figure, 8)
    assert (cover.subject, cover.outcome) == ("A", outcome)
