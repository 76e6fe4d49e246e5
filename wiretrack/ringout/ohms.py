# SPDX-License-Identifier: MIT
"""Ohms as evidence: each closed reading must fit the path that it claims to be.

A touch in a stage runs through two conductors in series, the join at the other place, and the
leads. Allowances are common practice, from memory: a sound twist or clip adds up to 0.1 Ω; a
conductor's true length and temperature make up to 20 %; leads that weren't measured have up to
0.5 Ω.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits
from wiretrack.ringout.results import Question
from wiretrack.ringout.unexplained import OPEN_WITHIN, open_within

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.stage import Stage, Touch

CONTACT_OHM = 0.1  # common practice
PATH_SHARE = 0.2  # common practice
LEADS_OHM = 0.5  # common practice


def allowed_range(bundle: Bundle, low_ohm: float, high_ohm: float) -> tuple[float, float]:
    """Return the readings, in Ω, that fit a path of `low_ohm` to `high_ohm`."""
    leads_low = bundle.leads_ohm if bundle.leads_ohm is not None else 0.0
    leads_high = bundle.leads_ohm if bundle.leads_ohm is not None else LEADS_OHM
    low = low_ohm * (1 - PATH_SHARE) - CONTACT_OHM + leads_low
    high = high_ohm * (1 + PATH_SHARE) + CONTACT_OHM + leads_high
    return low, high


def _conductor_range(known: Knowledge, mates: int) -> tuple[float, float] | None:
    """Return the least and greatest expected resistance among near ends, if all are known."""
    size = known.bundle.size
    values = [known.bundle.near[end].expected_ohm for end in bits(mates) if end < size]
    sure = [ohms for ohms in values if ohms is not None]
    if not sure or len(sure) != mates.bit_count():
        return None
    return min(sure), max(sure)


def expected_range(
    known: Knowledge, touch: Touch, candidates: Sequence[int] | None = None
) -> tuple[float, float] | None:
    """Return the least and greatest resistance of a touch's path, in Ω, as far as is known.

    `candidates` are the near ends that each end at the touch's place may belong to; `None`
    takes all conclusions so far.
    """
    if all(end.expected_ohm is None for end in known.bundle.near):
        return None
    if touch.at == "near":
        candidates = [1 << end for end in range(known.size)]
    rows = known.found.of["far"] if candidates is None else candidates
    parts = [_conductor_range(known, rows[end]) for end in touch.ends]
    if parts[0] is None or parts[1] is None:
        return None
    return parts[0][0] + parts[1][0], parts[0][1] + parts[1][1]


def is_strange(known: Knowledge, touch: Touch, candidates: Sequence[int] | None = None) -> bool:
    """Return whether a closed reading fits no path that the touch can have had."""
    if touch.ohms is None or touch.verdict != "closed" or touch.own:
        return False
    expected = expected_range(known, touch, candidates)
    if expected is None:
        return False
    low, high = allowed_range(known.bundle, *expected)
    return not low <= touch.ohms <= high


def questions(known: Knowledge) -> tuple[Question, ...]:
    """Return the readings that stay strange although they were taken again."""
    found: list[Question] = []
    for stage in known.stages:
        strange = {
            pair: touches
            for pair, touches in stage.pairs.items()
            if any(is_strange(known, t) for t in touches)
            and not any(t.verdict == "closed" and not is_strange(known, t) for t in touches)
        }
        for pair, touches in strange.items():
            closed = [touch for touch in touches if touch.verdict == "closed"]
            found.append(_question(known, stage, closed[-1], set(strange), pair))
        found += _unclear(known, stage)
        found += [_within(known, touch) for touch in open_within(stage)]
    return tuple(found)


def _within(known: Knowledge, touch: Touch) -> Question:
    names = known.bundle.names(touch.at)
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Question(touch.at, between, touch.ohms, None, OPEN_WITHIN)


def _question(
    known: Knowledge,
    stage: Stage,
    touch: Touch,
    strange: set[tuple[int, int]],
    pair: tuple[int, int],
) -> Question:
    names = known.bundle.names(touch.at)
    low, high = expected_range(known, touch) or (0.0, 0.0)
    leads = known.bundle.leads_ohm or 0.0
    expected = round((low + high) / 2 + leads, 4)
    ohms = touch.ohms or 0.0
    if ohms > expected:
        where = _where(stage, strange, pair, names)
        reason = f"{ohms - expected:.2f} ohm more than its path has: {where}"
    else:
        reason = (
            f"{expected - ohms:.2f} ohm less than its path has: a shorter way, or wrong lengths"
        )
    better = _better_fit(known, stage, touch)
    if better:
        reason += f"; it would fit {better}"
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Question(touch.at, between, touch.ohms, expected, reason)


def _where(
    stage: Stage, strange: set[tuple[int, int]], pair: tuple[int, int], names: tuple[str, ...]
) -> str:
    """Return where the excess sits: at the end that all strange readings share, if one does."""
    for end in pair:
        with_end = [p for p, ts in stage.pairs.items() if end in p and ts[-1].verdict == "closed"]
        without = [p for p in strange if end not in p and stage.closed(p[0], end)]
        if len(with_end) > 1 and all(p in strange for p in with_end) and not without:
            return f"a poor twist or contact at {names[end]} or at its other end"
    sound = {
        end
        for p, touches in stage.pairs.items()
        if p not in strange and touches[-1].verdict == "closed"
        for end in p
    }
    left = [names[end] for end in pair if end not in sound]
    if len(left) == 1:
        return f"a poor twist or contact at {left[0]} or at its other end"
    return "a poor twist or contact in it"


def _better_fit(known: Knowledge, stage: Stage, touch: Touch) -> str:
    """Return another pair of one join, by tags, that the reading fits, or nothing."""
    if touch.ohms is None or stage.at != "far":
        return ""
    claimed = known.found.of["far"][touch.ends[0]] | known.found.of["far"][touch.ends[1]]
    for one, two in _joined_pairs(stage):
        if claimed == 1 << one | 1 << two or max(one, two) >= known.bundle.size:
            continue
        parts = [_conductor_range(known, 1 << end) for end in (one, two)]
        if parts[0] is not None and parts[1] is not None:
            path = parts[0][0] + parts[1][0]
            low, high = allowed_range(known.bundle, path, path)
            if low <= touch.ohms <= high:
                names = known.bundle.names("near")
                return f"{names[one]} and {names[two]} better ({path:.2f} ohm without leads)"
    return ""


def _joined_pairs(stage: Stage) -> Iterator[tuple[int, int]]:
    for group in stage.groups:
        yield from combinations(bits(group), 2)


def _unclear(known: Knowledge, stage: Stage) -> list[Question]:
    """Return the touches that never became clearly closed or open."""
    found = []
    names = known.bundle.names(stage.at)
    for touches in stage.pairs.values():
        if all(touch.verdict == "unclear" for touch in touches):
            last = touches[-1]
            between = (names[last.ends[0]], names[last.ends[1]])
            reason = "neither closed nor open: moisture, or something connected to the wires"
            found.append(Question(last.at, between, last.ohms, None, reason))
    return found
