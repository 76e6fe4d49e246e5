# SPDX-License-Identifier: MIT
"""A step as it is drawn and read aloud: the two boxes, what is twisted, what is touched."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from wiretrack.render.ringout_step import MOST, step_svg
from wiretrack.ringout.bundle import Place
from wiretrack.ringout.prompts import Aloud, Names
from wiretrack.ringout.steps import Join, Probe, Unjoin, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action

NEAR, FAR = ("AAA-AAA1", "AAA-AAA2", "AAA-AAA3", "raceway"), ("1", "2", "<3>", "raceway")
Held = Mapping[Place, Sequence[Sequence[str]]]
NAMES = Names({"near": "MDB", "far": "J&T"}, {"1": "red"})
FREE: Held = {"near": (), "far": ()}
HELD: Held = {"near": (NEAR[:2],), "far": ()}


def drawn(step: Action, held: Held = FREE) -> list[tuple[str, ...]]:
    """Return what is drawn: each word with its weight, each bracket by its colour."""
    root = ElementTree.fromstring(step_svg(step, NAMES, {"near": NEAR, "far": FAR}, held))
    found: list[tuple[str, ...]] = []
    for one in root:
        kind = one.tag.partition("}")[2]
        if kind == "text":
            found.append((one.text or "", one.get("font-weight") or ""))
        elif kind == "path" and one.get("stroke-width") == "4":
            found.append(("twist", one.get("stroke") or "", one.get("stroke-dasharray") or ""))
    return found


def test_a_touch_shows_both_boxes_the_meter_and_what_is_twisted_over_there() -> None:
    shown = drawn(Probe("far", ("1", "<3>")), HELD)
    assert {("MDB", "bold"), ("J&T", "bold"), ("here", ""), ("Ω", "")} <= set(shown)
    assert [one[0] for one in shown if one[1] == "bold"][2:] == ["1", "<3>"]
    assert len([one for one in shown if one[0] == "twist"]) == 1


def test_a_twist_is_drawn_in_its_colour_and_one_that_comes_off_is_dashed() -> None:
    (new,) = [one for one in drawn(Join("near", (NEAR[:2],))) if one[0] == "twist"]
    (old,) = [one for one in drawn(Probe("far", ("1", "2")), HELD) if one[0] == "twist"]
    (off,) = [one for one in drawn(Unjoin("near"), HELD) if one[0] == "twist"]
    assert new[1] != old[1]
    assert (old[2], bool(off[2])) == ("", True)


def test_a_walk_says_where_to_go() -> None:
    words = [one[0] for one in drawn(Walk("far"), HELD)]
    assert words.index("go here") == words.index("J&T") + 1
    assert "here" not in words


@pytest.mark.parametrize(("size", "shown"), [(MOST, MOST), (MOST + 1, 2)])
def test_of_many_ends_only_those_at_work_are_drawn(size: int, shown: int) -> None:
    marks = tuple(str(n) for n in range(1, size + 1))
    svg = step_svg(Probe("far", ("1", "2")), NAMES, {"near": (), "far": marks}, FREE)
    assert len(re.findall(r">\d+</text>", svg)) == shown


def test_ends_are_read_aloud_as_short_as_they_stay_clear() -> None:
    known = {"0AZ-EMTB": "PV-A L-, black", "7G1-99ZS": "spare", "M0H-TA7K": "spare", "12": "red"}
    said = Aloud({"near": "MDB", "far": "JT1"}, known)
    assert Probe("near", ("0AZ-EMTB", "7G1-99ZS")).told(said) == (
        "In MDB: touch PV-A L minus, black and 9 9 Z S."
    )
    assert Probe("far", ("12", "raceway")).told(said) == ("In JT1: touch 12, red, and the raceway.")
