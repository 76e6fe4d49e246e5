# SPDX-License-Identifier: MIT
"""Readings to look at again: each closed one must fit its path, and a diode conducts one way."""

from __future__ import annotations

from itertools import chain, combinations
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.masks import bits
from wiretrack.ringout.ohms import Range, allowed_range
from wiretrack.ringout.results import Question

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.fitted import DiodeStage, Pair
    from wiretrack.ringout.stage import Stage, Touch

OPEN_WITHIN = (
    "they read open, but each read closed to the same wire: a wrong key or a bad contact;"
    " touch them again"
)
UNCLEAR = "neither closed nor open: moisture, or something connected to the wires"
NO_CURRENT_HERE = (
    "no current either way through the diode at its own box: the meter's ohms range is too weak"
    " for it (use the diode range), a lead makes no contact, or the diode is broken; take another"
)
BOTH_WAYS_HERE = (
    "current both ways at the diode's own box, and none without it: the diode is broken, or it is"
    " no diode; take another"
)
BOTH_WAYS_THERE = (
    "closed both ways, though the diode lets current through one way only: the two conductors"
    " touch each other, or something bridges the diode"
)
# By whether the two conductors read closed while joined; `None` if they never were.
NO_CURRENT = {
    None: "no current either way: a conductor is broken, a lead makes no contact, the diode is"
    " broken, or the meter's voltage is too low for diode and conductors (use its diode range)",
    True: "no current either way, though the conductors are whole: they read closed when joined. A"
    " lead made no contact, the diode is broken, or the meter's voltage is too low for it (use its"
    " diode range)",
    False: "no current either way through the diode, and none with the two ends joined in its"
    " place: one of the two conductors is broken",
}


def questions(known: Deductions) -> tuple[Question, ...]:
    """Return the readings that stay strange although they were taken again, and what they mean."""
    of_stages = chain.from_iterable(_of_stage(known, stage) for stage in known.stages)
    of_diodes = chain.from_iterable(_of_diode(known, stage) for stage in known.diodes)
    return (*of_stages, *of_diodes)


def is_strange(known: Deductions, touch: Touch, candidates: Sequence[int] | None = None) -> bool:
    """Return whether a closed reading fits no path that the touch can have had.

    `candidates` are the near ends that each end at the touch's place may belong to; `None`
    takes all conclusions so far.
    """
    if touch.ohms is None or touch.verdict != "closed" or touch.own:
        return False
    expected = _expected(known, touch, candidates)
    return expected is not None and touch.ohms not in allowed_range(
        known.bundle, expected.low_ohm, expected.high_ohm
    )


def _expected(
    known: Deductions, touch: Touch, candidates: Sequence[int] | None = None
) -> Range | None:
    """Return the least and greatest resistance of a touch's path, as far as is known."""
    if all(end.expected_ohm is None for end in known.bundle.near):
        return None
    if touch.at == "near":
        candidates = [1 << end for end in range(known.size)]
    rows = known.found.of["far"] if candidates is None else candidates
    return _path(known, *(rows[end] for end in touch.ends))


def _path(known: Deductions, one: int, two: int) -> Range | None:
    """Return the resistance of two conductors in series, each one of some near ends."""
    lows, highs = [], []
    for mates in (one, two):
        near = known.bundle.near
        values = [near[end].expected_ohm for end in bits(mates) if end < len(near)]
        sure = [ohms for ohms in values if ohms is not None]
        if not sure or len(sure) != mates.bit_count():
            return None
        lows.append(min(sure))
        highs.append(max(sure))
    return Range(sum(lows), sum(highs))


def _question(
    known: Deductions, touch: Touch, reason: str, expected_ohm: float | None = None
) -> Question:
    names = known.bundle.names(touch.at)
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Question(touch.at, between, touch.ohms, expected_ohm, reason)


def _of_stage(known: Deductions, stage: Stage) -> Iterator[Question]:
    strange = {
        pair: touches
        for pair, touches in stage.pairs.items()
        if any(is_strange(known, t) for t in touches)
        and not any(t.verdict == "closed" and not is_strange(known, t) for t in touches)
    }
    for pair, touches in strange.items():
        closed = [touch for touch in touches if touch.verdict == "closed"]
        yield _strange(known, stage, closed[-1], set(strange), pair)
    for touches in stage.pairs.values():
        if all(touch.verdict == "unclear" for touch in touches):
            yield _question(known, touches[-1], UNCLEAR)
    for touch in stage.open_within():
        yield _question(known, touch, OPEN_WITHIN)


def _strange(
    known: Deductions, stage: Stage, touch: Touch, strange: set[Pair], pair: Pair
) -> Question:
    path = _expected(known, touch) or Range(0.0, 0.0)
    leads = known.bundle.leads_ohm or 0.0
    expected = round((path.low_ohm + path.high_ohm) / 2 + leads, 4)
    ohms = touch.ohms or 0.0
    if ohms > expected:
        where = _where(stage, strange, pair, known.bundle.names(touch.at))
        reason = f"{ohms - expected:.2f} ohm more than its path has: {where}"
    else:
        less = f"{expected - ohms:.2f} ohm less than its path has"
        reason = f"{less}: a shorter way, or wrong lengths"
    better = _better_fit(known, stage, touch)
    return _question(
        known, touch, f"{reason}; it would fit {better}" if better else reason, expected
    )


def _where(stage: Stage, strange: set[Pair], pair: Pair, names: tuple[str, ...]) -> str:
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


def _better_fit(known: Deductions, stage: Stage, touch: Touch) -> str:
    """Return another pair of one join, by tags, that the reading fits, or nothing."""
    if touch.ohms is None or stage.at != "far":
        return ""
    claimed = known.found.of["far"][touch.ends[0]] | known.found.of["far"][touch.ends[1]]
    for one, two in chain.from_iterable(combinations(bits(g), 2) for g in stage.groups):
        path = _path(known, 1 << one, 1 << two)
        if claimed == 1 << one | 1 << two or path is None:
            continue
        if touch.ohms in allowed_range(known.bundle, path.low_ohm, path.low_ohm):
            names = known.bundle.names("near")
            return f"{names[one]} and {names[two]} better ({path.low_ohm:.2f} ohm without leads)"
    return ""


def _of_diode(known: Deductions, stage: DiodeStage) -> Iterator[Question]:
    """Yield what a diode read that proves nothing, and what it can mean."""
    box = other_place(stage.at)
    settled = all(known.found.settled(box, end) is not None for end in stage.own)
    if settled or any(known.touching(box, end) for end in stage.own):
        return
    flow, bare = stage.check(), known.evidence.bare(box)
    if flow == "neither way":
        yield _question(known, stage.checks[-1], NO_CURRENT_HERE)
    elif flow == "both ways" and bare is not None and bare.opens(*stage.own):
        yield _question(known, stage.checks[-1], BOTH_WAYS_HERE)
    for pair, touches in stage.pairs.items():
        flow = stage.flow(pair)
        if flow == "both ways":
            yield _question(known, touches[-1], BOTH_WAYS_THERE)
        elif flow == "neither way":
            yield _question(known, touches[-1], NO_CURRENT[_when_joined(known, stage, pair)])


def _when_joined(known: Deductions, stage: DiodeStage, pair: Pair) -> bool | None:
    """Return whether the two conductors read closed while joined; `None` if they never were."""
    ends = {stage.at: pair, other_place(stage.at): stage.own}
    read: bool | None = None
    for other in known.stages:
        one, two = ends[other_place(other.at)]
        if any(group >> one & 1 and group >> two & 1 for group in other.groups):
            closed = other.closed(*ends[other.at])
            if closed or other.opens(*ends[other.at]):
                read = bool(read) or closed
    return read
