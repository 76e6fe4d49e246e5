# SPDX-License-Identifier: MIT
"""One pull with ends in several boxes, rung out in one tour against wires that only connect nodes.

What is twisted stays twisted until somebody takes it off, whichever box it was twisted for; a touch
is possible only where one stands, and only within that box.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import parts
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out
from wiretrack.encoding import document
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.ringout.several import NOT_SEARCHED, SeveralBoxes, tour


@dataclass
class Pull:
    """Wires from MDB into several boxes: by box, the far mark of each tag."""

    mates: dict[str, dict[str, str]]
    crew: int = 1
    here: str = "MDB"
    twists: dict[str, list[set[str]]] = field(default_factory=dict)
    walks: list[str] = field(default_factory=list)

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        at = "MDB" if step.get("at", step.get("to")) == "near" else step["box"]
        if step["step"] == "walk":
            assert at != self.here
            self.here = at
            self.walks.append(at)
            return {"done": True}
        assert at == self.here or (self.crew == 2 and step["step"] != "probe")
        held = self.twists.setdefault(at, [])
        if step["step"] == "join":
            for group in step["groups"]:
                assert not any({*group} & twist - {"raceway"} for twist in held)
                held.append({*group})
        elif step["step"] == "unjoin":
            out = {*step["ends"]} if "ends" in step else set().union(*held)
            if "ends" not in step and at == "MDB":  # all of it: then all is for this one box
                assert out <= {*self.mates[step["box"]], "raceway"}
            self.twists[at] = [left for twist in held if len(left := twist - out) > 1]
        else:
            one, two = ((at, end) for end in step["between"])
            return {"ohms": 0.4 if self._connected(one, two) else "OL"}
        return {"done": True}

    def _connected(self, one: tuple[str, str], two: tuple[str, str]) -> bool:
        graph = nx.Graph([(one, one), (two, two)])
        for box, mate in self.mates.items():
            graph.add_edges_from((("MDB", tag), (box, mark)) for tag, mark in mate.items())
            graph.add_edge(("MDB", "raceway"), (box, "raceway"))
        for box, twists in self.twists.items():
            for twist in twists:
                graph.add_edges_from(((box, next(iter(twist))), (box, end)) for end in twist)
        return bool(nx.has_path(graph, one, two))


def pull(seed: int, sizes: tuple[int, ...], colours: int, **options: Any) -> tuple[Pull, Any]:
    """Return wires and bundles by box; tags and marks go on from box to box."""
    rng, bundles, mates, first = random.Random(seed), {}, {}, 1
    for box, size in zip(("JT1", "JT2", "JT3"), sizes, strict=False):
        tags = [f"T{first + i}" for i in range(size)]
        marks = [str(first + i) for i in range(size)]
        there, first = rng.sample(marks, size), first + size
        mates[box] = dict(zip(tags, there, strict=True))
        worn = {tag: rng.choice(("BK", "RD", "BU")[:colours] or [None]) for tag in tags}
        back = {mark: tag for tag, mark in mates[box].items()}
        bundles[box] = Bundle(
            near=tuple(NearEnd(name=tag, colour=worn[tag], box=box) for tag in tags),
            far=tuple(FarEnd(name=m, colour=worn[back[m]], box=box) for m in marks),
            boxes=("MDB", box),
            **options,
        )
    return Pull(mates, crew=options.get("crew", 1)), SeveralBoxes(bundles)


def run(wires: Pull, ringing: SeveralBoxes) -> Result:
    for _ in range(2_000):
        step = ringing.next_step()
        if isinstance(step, Result):
            return step
        shown = document(step)
        assert parse_step(shown) == step
        assert ringing.guidance({"near": "MDB", "far": ""}).why
        ringing.apply(step, wires.answer(shown))
    raise AssertionError("the ring-out doesn't end")


@pytest.mark.parametrize("references", [(), ("raceway",)])
@pytest.mark.parametrize("seeds", parts(12, 200, 50), ids=str)
def test_all_ends_in_three_boxes_are_matched_in_one_tour(
    references: tuple[str, ...], seeds: range
) -> None:
    for seed in seeds:
        rng = random.Random(seed)
        sizes = tuple(rng.randint(3, 7) for _ in range(rng.choice((2, 2, 3))))
        wires, ringing = pull(seed, sizes, seed % 4, references=references)
        result = run(wires, ringing)
        assert {m.near: (m.box, m.far) for m in result.matches} == {
            tag: (box, mark) for box, mate in wires.mates.items() for tag, mark in mate.items()
        }
        assert not result.unresolved
        assert not result.faults
        assert result.walks == len(wires.walks)
        alone = [ring_out(Wires(part.bundle, wires.mates[b])) for b, part in ringing.parts.items()]
        assert result.probes == sum(one.probes for one in alone)
        assert result.walks <= tour([one.walks for one in alone])
        assert NOT_SEARCHED in result.notes


def test_two_boxes_of_look_alikes_take_three_walks_in_place_of_four() -> None:
    wires, ringing = pull(1, (4, 5), 1)
    assert run(wires, ringing).walks == 3
    assert wires.walks == ["JT1", "JT2", "MDB"]


def test_a_helper_at_the_far_boxes_saves_the_walks() -> None:
    wires, ringing = pull(2, (4, 3), 1, crew=2)
    result = run(wires, ringing)
    assert (result.walks, len(result.matches)) == (0, 7)


def test_begun_in_a_far_box_the_tour_goes_on_from_there() -> None:
    bundles = {}
    for box, start in (("JT1", "far"), ("JT2", "near")):
        first = 1 if box == "JT1" else 4
        plain, _ = arranged(["BK"] * 3, (1, 2, 0), start=start, references=("raceway",))
        near = tuple(NearEnd(name=f"T{first + i}", box=box) for i in range(3))
        far = tuple(FarEnd(name=str(first + i), box=box) for i in range(3))
        bundles[box] = Bundle(near=near, far=far, start=plain.start, references=plain.references)
    mates = {"JT1": {"T1": "2", "T2": "3", "T3": "1"}, "JT2": {"T4": "4", "T5": "6", "T6": "5"}}
    wires = Pull(mates, here="JT1")
    result = run(wires, SeveralBoxes(bundles))
    assert len(result.matches) == 6
    assert wires.walks[0] == "MDB"


def test_a_log_makes_the_same_ring_out_again_and_why_finds_the_box() -> None:
    wires, ringing = pull(3, (4, 4), 2, references=("raceway",))
    run(wires, ringing)
    again = SeveralBoxes({box: part.bundle for box, part in ringing.parts.items()})
    for step, answer in ringing.log:
        again.retake(step, answer)
    assert again.result() == ringing.result()
    assert "in JT2" in " ".join(again.why("T6"))
    assert again.effort == ringing.effort


def test_a_tour_counts_the_ways_out_one_by_one_and_the_way_back_once() -> None:
    """By hand: out to both and back; out to both; two boxes twice, two ways back, once alone."""
    assert [tour([2, 2]), tour([1, 1]), tour([3, 4]), tour([0, 0]), tour([2, 0, 1])] == [
        3, 2, 6, 0, 3,
    ]  # fmt: skip
