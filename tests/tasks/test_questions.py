# SPDX-License-Identifier: MIT
"""Questions are as good as the best of all decision trees, found by brute force."""

from __future__ import annotations

from itertools import product
from random import Random
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import BadInputError
from wiretrack.tasks.trouble import questions as room
from wiretrack.tasks.trouble.questions import (
    BOX_COST,
    READING_COST,
    Question,
    next_question,
    remaining,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

# A decision tree: None where it stops, else a question's number with what follows bad and good.
Tree = tuple[int, "Tree", "Tree"] | None


def all_trees(questions: list[Question], left: int) -> Iterator[Tree]:
    """Every way of asking questions that tell something, to the end."""
    telling = [n for n, q in enumerate(questions) if left & q.bad and left & ~q.bad]
    if not telling:
        yield None
        return
    for n in telling:
        bad = list(all_trees(questions, left & questions[n].bad))
        good = list(all_trees(questions, left & ~questions[n].bad))
        for one, other in product(bad, good):
            yield (n, one, other)


def cost_of(tree: Tree, questions: list[Question], weights: list[float], box: str | None) -> float:
    """The expected cost of a tree, by playing it through for every suspect as the culprit."""
    total = 0.0
    for culprit, weight in enumerate(weights):
        node, here = tree, box
        while node is not None:
            question = questions[node[0]]
            total += weight * (READING_COST + (BOX_COST if question.box != here else 0.0))
            here = question.box
            node = node[1] if question.bad >> culprit & 1 else node[2]
    return total / sum(weights)


@pytest.mark.parametrize("seed", range(60))
def test_the_plan_costs_what_the_best_of_all_decision_trees_costs(seed: int) -> None:
    random = Random(seed)
    count = random.randint(2, 4)
    weights = [random.choice([0.5, 1.0, 3.0, 8.0]) for _ in range(count)]
    questions = [
        Question(random.choice("ABC"), f"q{n}", random.randrange(1, (1 << count) - 1))
        for n in range(random.randint(1, 4))
    ]
    box = random.choice([None, "A"])
    left = (1 << count) - 1
    best = min(cost_of(tree, questions, weights, box) for tree in all_trees(questions, left))
    plan = next_question(weights, questions, left, box)
    assert plan.cost == pytest.approx(best)
    assert plan.is_best


@pytest.mark.parametrize("length", [3, 4, 5])
def test_along_a_path_the_plan_is_the_best_of_all_decision_trees(length: int) -> None:
    questions = [Question(f"B{n}", f"T{n}", (1 << n) - 1) for n in range(1, length)]
    weights = [1.0] * length
    left = (1 << length) - 1
    best = min(cost_of(tree, questions, weights, None) for tree in all_trees(questions, left))
    assert next_question(weights, questions, left).cost == pytest.approx(best)


def test_of_equal_suspects_the_half_way_box_comes_first() -> None:
    questions = [Question(f"B{n}", f"T{n}", (1 << n) - 1) for n in range(1, 16)]
    plan = next_question([1.0] * 16, questions, (1 << 16) - 1)
    # 16 equal suspects, each reading a box of its own: 4 halvings, and no way is shorter (Shannon).
    assert plan.question == 7
    assert plan.cost == pytest.approx(4 * (BOX_COST + READING_COST))


def test_a_reading_in_the_open_box_goes_before_a_walk_of_the_same_use() -> None:
    questions = [Question("B", "far", 0b001), Question("A", "here", 0b100)]
    plan = next_question([1.0, 1.0, 1.0], questions, 0b111, "A")
    assert questions[plan.question or 0].ask == "here"


def test_a_likely_suspect_is_asked_about_first() -> None:
    questions = [Question(f"B{n}", f"T{n}", (1 << n) - 1) for n in range(1, 8)]
    plan = next_question([50.0, 1, 1, 1, 1, 1, 1, 1], questions, 0xFF)
    assert plan.question == 0


def test_answers_leave_the_suspects_that_agree_with_all_of_them() -> None:
    one, other = Question("A", "a", 0b0011), Question("B", "b", 0b0101)
    assert remaining(4, [(one, True), (other, False)]) == 0b0010
    assert remaining(4, [(one, True), (one, False)]) == 0
    assert next_question([1, 1, 1, 1], [one, other], 0b0010).question is None


def test_a_large_network_is_asked_about_half_way_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(room, "MOST_STATES", 10)
    questions = [Question(f"B{n}", f"T{n}", (1 << n) - 1) for n in range(1, 16)]
    plan = next_question([1.0] * 16, questions, (1 << 16) - 1)
    assert (plan.question, plan.is_best) == (7, False)
    assert next_question([1.0] * 16, questions, 0b11000).question == 3
    assert next_question([1.0] * 16, [], 0b11000).question is None


@pytest.mark.parametrize("weight", [0.0, -1.0, float("nan")])
def test_a_suspect_needs_a_weight(weight: float) -> None:
    with pytest.raises(BadInputError, match="Give one above 0"):
        next_question([1.0, weight], [Question("A", "a", 1)], 0b11)


@pytest.mark.parametrize("too_many", [False, True])
@pytest.mark.parametrize(
    ("here", "first"), [("SUPPLY", "BOARD"), ("LOAD", "BOX"), (None, "SUPPLY")]
)
def test_of_two_boxes_that_cost_the_same_the_nearer_is_opened_first(
    monkeypatch: pytest.MonkeyPatch, here: str | None, first: str, too_many: bool
) -> None:
    """By hand: four causes alike, a reading at either end of each box says the same."""
    if too_many:
        monkeypatch.setattr(room, "MOST_STATES", 0)
    way = ("SUPPLY", "BOARD", "BOX", "LOAD")
    halves = [Question(box, "?", bad=0b0011) for box in way]
    asked = [q for q in halves if q.box != here]
    ends = [Question(str(here), "?", bad=0b1111)] if here else []  # which tells nothing
    order = sorted([*asked, *ends], key=lambda q: way.index(q.box))
    plan = next_question([1.0] * 4, order, 0b1111, here)
    assert plan.question is not None
    assert order[plan.question].box == first
