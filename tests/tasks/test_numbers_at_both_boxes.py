# SPDX-License-Identifier: MIT
"""A pull of which no end is known at either box: numbers at both, tags given when matched."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.pump import PUMP, conductor, tag
from tests.tasks.test_three_boxes import made
from wiretrack.encoding import document
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.ringout.results import Result
from wiretrack.tasks.identify import state as ringout_state
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

COLOURS = {tag(f"PMP05{i}"): colour for i, colour in enumerate(("BK", "BK", "BK", "RD", "RD"))}
# As the wires lie: each number in MDB with its colour, and the number of its other end in PH1.
SEEN, MATE = ("RD", "BK", "BK", "RD", "BK"), {"N1": "4", "N2": "1", "N3": "5", "N4": "2", "N5": "3"}


def wire(code: str, colour: str, **more: Any) -> dict[str, Any]:
    return {**conductor(code, "L1", colour, "X"), "from": {"enclosure": "MDB"}, **more}


def site(*more: dict[str, Any]) -> dict[str, Any]:
    return PUMP | {"conductors": [*(wire(*one) for one in COLOURS.items()), *more]}


@pytest.fixture
def pulled(tmp_path: Path) -> Any:
    with made(tmp_path, site()) as registry:
        yield registry


def wanted(**more: Any) -> Wanted:
    return Wanted(pull="P1", near="MDB", far="PH1", **more)


def rung_out(registry: Registry, asked: Wanted, mate: dict[str, str]) -> Ringing:
    ringing, real = Ringing.begin(registry, asked), RealBundle(dict(mate), ohm_each=0.3)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, real.answer(document(step)))
    ringing.finish()
    return ringing


@pytest.mark.parametrize("body", ["N12345", "NT85BN"])
def test_a_tag_that_begins_as_a_number_does_is_a_tag(tmp_path: Path, body: str) -> None:
    one, other = tag(body), tag("PMP051")
    wires = [wire(one, "BK"), wire(other, "BK")]
    with made(tmp_path, PUMP | {"conductors": wires}) as registry:
        ringing = Ringing.begin(registry, wanted())
        assert ringing.settings.numbers == {}
        assert set(ringing.settings.sought) == {format_tag(one), format_tag(other)}


def marks(registry: Registry) -> dict[str, tuple[str | None, str | None]]:
    """Return, by tag, the marks in the registry at MDB and PH1."""
    return {
        row["tag"]: (row["near"], row["far"])
        for row in registry.rows(
            "SELECT c.tag, n.mark AS near, f.mark AS far FROM conductors AS c"
            " JOIN ends AS n ON n.conductor_id = c.id AND n.enclosure_id ="
            " (SELECT id FROM enclosures WHERE code = 'MDB') JOIN ends AS f"
            " ON f.conductor_id = c.id AND f.enclosure_id ="
            " (SELECT id FROM enclosures WHERE code = 'PH1')"
        )
    }


def test_each_pair_gets_a_conductor_of_its_colour_and_both_ends_their_marks(pulled: Any) -> None:
    ringing = rung_out(pulled, wanted(near_colours=",".join(SEEN)), MATE)
    matches = ringing.result().matches
    assert {m.near_mark: m.far for m in matches} == MATE
    for match in matches:
        assert COLOURS[parse_tag(match.near)] == SEEN[int((match.near_mark or "N0")[1:]) - 1]
    assert Counter(m.near for m in matches) == Counter(map(format_tag, COLOURS))
    assert marks(pulled) == {parse_tag(m.near): (m.near_mark, m.far) for m in matches}
    for one in (matches[0].near, str(matches[0].near_mark)):
        assert f"is end {matches[0].far}." in ringing.why(one)[-1]


def test_the_colours_at_the_far_box_do_as_well(pulled: Any) -> None:
    far = {mark: SEEN[int(number[1:]) - 1] for number, mark in MATE.items()}
    asked = wanted(near_numbers=True, far_colours=",".join(far[str(i)] for i in range(1, 6)))
    for match in rung_out(pulled, asked, MATE).result().matches:
        assert COLOURS[parse_tag(match.near)] == far[match.far]


def test_a_wrong_answer_found_later_takes_both_marks_back(pulled: Any) -> None:
    ringing = rung_out(pulled, wanted(near_colours=",".join(SEEN)), MATE)
    assert ringing.finished
    assert not ringing.undo().finished
    assert set(marks(pulled).values()) == {(None, None)}


def test_while_it_goes_on_ends_are_called_by_their_numbers(pulled: Any) -> None:
    ringing = Ringing.begin(pulled, wanted(near_colours=",".join(SEEN)))
    now = ringout_state.state_of(ringing)
    assert [end.name for end in now.numbers] == list(MATE)
    assert now.ends["N1"] == "red"
    assert set(now.result.unresolved) == {*MATE, *MATE.values()}
    gone_on = Ringing.gone_on(pulled, "P1", {"near_colours": ",".join(SEEN)})
    assert gone_on.record.id == ringing.record.id


def test_an_end_that_is_landed_in_the_near_box_keeps_its_tag(tmp_path: Path) -> None:
    landed = tag("PMP06A")
    with made(
        tmp_path, site(wire(landed, "BK", **{"from": {"enclosure": "MDB", "terminal": "Q4:9"}}))
    ) as registry:
        mate = {**MATE, format_tag(landed): "6"}
        ringing = rung_out(registry, wanted(near_colours=",".join(SEEN)), mate)
        matches = {m.near: (m.near_mark, m.far) for m in ringing.result().matches}
        assert matches[format_tag(landed)] == (None, "6")
        assert marks(registry)[landed] == (None, "6")
        assert len(matches) == 6


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"near_numbers": True}, r"different colours \(BK, RD\)"),
        ({"near_colours": "BK,BK"}, "Colours given in MDB: 2, but 5 ends"),
        ({"near_colours": "BK,BK,RD,RD,RD"}, "has 3 wires in BK, but 2 are named in MDB"),
    ],
)
def test_what_would_not_tell_the_conductors_apart_is_refused(
    pulled: Any, more: dict[str, Any], told: str
) -> None:
    with pytest.raises(BadInputError, match=told):
        Ringing.begin(pulled, wanted(**more))


def test_wires_of_one_colour_and_two_sizes_are_not_given_in_turn(tmp_path: Path) -> None:
    with made(tmp_path, site(wire(tag("PMP06B"), "RD", size="6 mm2"))) as registry:
        with pytest.raises(BadInputError, match=r"Conductors of one colour \(RD\) differ in size"):
            Ringing.begin(registry, wanted(near_numbers=True))


def test_wires_that_are_all_alike_need_no_colours(tmp_path: Path) -> None:
    alike = PUMP | {"conductors": [wire(one, "BK") for one in COLOURS]}
    with made(tmp_path, alike) as registry:
        ringing = rung_out(registry, wanted(near_numbers=True), MATE)
        assert {m.near_mark: m.far for m in ringing.result().matches} == MATE
        given = [m.near for m in ringing.result().matches]
        assert given == list(map(format_tag, COLOURS))  # in the order of the record
