# SPDX-License-Identifier: MIT
"""Which reading to take next: the one that leads to the fault with the fewest boxes to open.

A suspect is one thing that may be at fault; exactly one is. A question is one reading in one box:
if it is bad the fault is among its suspects, if it is good it is among the others.
"""

from __future__ import annotations

from dataclasses import field
from functools import cache
from math import log2
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

BOX_COST = 1.0  # to go to a box and open it: the unit that plans are compared in
READING_COST = 0.1  # common practice: a reading in an open box takes a tenth of going to another
MOST_STATES = 30_000
_EQUAL = 9  # digits to which two costs are the same: sums in another order differ by the last
SOURCE = f"fewest boxes to open, likelier causes first, half-way first ({COMMON_PRACTICE.key})"

Mask = int


def _numbers(mask: Mask) -> list[int]:
    return [number for number in range(mask.bit_length()) if mask >> number & 1]


@dataclass(frozen=True)
class Question:
    """A reading in a box; `bad` has a bit for each suspect that a bad reading leaves.

    `bad_if` is the answer to `ask` that is bad. It is read `between` two places, with conductors
    `disconnected` there.
    """

    box: str
    ask: str
    bad: Mask = field(metadata={"written": _numbers})
    bad_if: str = "no"
    kind: str = ""
    between: tuple[str, ...] = ()
    disconnected: tuple[str, ...] = ()
    loads: str = "off"
    live: bool = False


@dataclass(frozen=True)
class Plan:
    """The question to ask now, and what the rest of the search costs on average, in boxes."""

    question: int | None
    cost: float
    is_best: bool


def remaining(count: int, answers: Sequence[tuple[Question, bool]]) -> Mask:
    """Return the suspects that agree with every answer: (question, whether it was bad)."""
    left = (1 << count) - 1
    for question, is_bad in answers:
        left &= question.bad if is_bad else ~question.bad
    return left


def next_question(
    weights: Sequence[float], questions: Sequence[Question], left: Mask, box: str | None = None
) -> Plan:
    """Return the question that is best now, by the expected cost of the whole search.

    Parameters
    ----------
    weights : sequence of float
        How likely each suspect is, in any common measure; above 0.
    left : int
        The suspects left, a bit for each.
    box : str, optional
        The box that is open now: a reading there costs no walk. Of two that cost the same, the
        nearer to it is opened first.

    Returns
    -------
    Plan
        Without a question if one suspect is left or none tells the rest apart. `is_best` is
        false where the network is too large to look at every course of the search: the question
        that tells most for its cost is taken then.
    """
    for number, weight in enumerate(weights):
        if not weight > 0:
            raise BadInputError(f"Suspect {number} has the weight {weight}. Give one above 0.")
    away = _away(questions, box)
    try:
        costs = _searcher(weights, questions)(left, box)
    except _TooManyError:
        return _greedy(weights, questions, left, box)

    def rank(n: int) -> tuple[float, int, float, int]:
        nearness = away[questions[n].box]
        return round(costs[n], _EQUAL), nearness, -_told(weights, questions[n], left), n

    best = min(costs, key=rank, default=None)
    return Plan(best, 0.0 if best is None else costs[best], True)


def _away(questions: Sequence[Question], box: str | None) -> dict[str, int]:
    """Return how far each box is from the open one, in boxes as the readings lie along the way."""
    order = [*dict.fromkeys(question.box for question in questions)]
    here = order.index(box) if box in order else None
    return {each: 0 if here is None else abs(n - here) for n, each in enumerate(order)}


class _TooManyError(Exception):
    """There are more courses of the search than can be looked at."""


def _searcher(
    weights: Sequence[float], questions: Sequence[Question]
) -> Callable[[Mask, str | None], dict[int, float]]:
    """Return the function from the suspects left and the open box to each question's cost."""
    states = 0

    @cache
    def weight(mask: Mask) -> float:
        return sum(w for n, w in enumerate(weights) if mask >> n & 1)

    def costs(left: Mask, box: str | None) -> dict[int, float]:
        """Return the expected cost of each question that parts the suspects left."""
        found = {}
        for n, question in enumerate(questions):
            bad, good = left & question.bad, left & ~question.bad
            if not bad or not good:
                continue
            rest = weight(bad) * best(bad, question.box) + weight(good) * best(good, question.box)
            found[n] = _price(question, box) + rest / weight(left)
        return found

    @cache
    def best(left: Mask, box: str | None) -> float:
        """Return the least cost to find the culprit among the suspects left."""
        nonlocal states
        states += 1
        if states > MOST_STATES:
            raise _TooManyError
        if left & (left - 1) == 0:
            return 0.0
        return min(costs(left, box).values(), default=0.0)

    return costs


def _price(question: Question, box: str | None) -> float:
    return READING_COST + (0.0 if question.box == box else BOX_COST)


def _told(weights: Sequence[float], question: Question, left: Mask) -> float:
    """Return how much a question tells, in bits: most where it halves the likelihood."""
    total = sum(w for n, w in enumerate(weights) if left >> n & 1)
    bad = sum(w for n, w in enumerate(weights) if (left & question.bad) >> n & 1) / total
    if not 0 < bad < 1:
        return 0.0
    return -(bad * log2(bad) + (1 - bad) * log2(1 - bad))


def _greedy(
    weights: Sequence[float], questions: Sequence[Question], left: Mask, box: str | None
) -> Plan:
    away = _away(questions, box)
    ranked = [
        (
            round(_told(weights, question, left) / _price(question, box), _EQUAL),
            -away[question.box],
            -n,
        )
        for n, question in enumerate(questions)
        if left & question.bad and left & ~question.bad
    ]
    if not ranked:
        return Plan(None, 0.0, False)
    told, _, number = max(ranked)
    return Plan(-number, 1 / told, False)
