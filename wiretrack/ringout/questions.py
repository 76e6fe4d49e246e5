# SPDX-License-Identifier: MIT
"""Readings to take again: those that contradict each other, and those that fit no path.

Of a contradiction the fewest readings that can't all be true are named, and the one to repeat
first. Each closed reading must fit its path, and a diode conducts one way only.
"""

from __future__ import annotations

from dataclasses import field
from itertools import chain, combinations
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.checking import missed
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.fitted import FittedStage
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.ohms import Range, allowed_range
from wiretrack.ringout.results import Question
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.candidates import AnyStage
    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.fitted import DiodeStage, Pair
    from wiretrack.ringout.stage import Touch

_EXHAUSTIVE = 3  # sets of up to so many readings are tried one by one
_MOST_TRIED = 3000
_LARGE = 24  # ends; among more of them, each try takes longer, so fewer are made

CAME_AND_WENT = (
    "They read closed once and open when touched again: a wrong key, a bad contact, or wires that"
    " touch each other now and then."
)
NOT_CLOSED = (
    "Readings say that the two were connected in {there}, but they read open: a wrong key, a"
    " bad contact, or a twist that isn't as it was said to be."
)
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
    " broken. Or the meter's voltage is too low for it: use its diode range",
    True: "no current either way, though the conductors are whole: they read closed when joined. A"
    " lead made no contact, the diode is broken, or the meter's voltage is too low for it (use its"
    " diode range)",
    False: "no current either way through the diode, and none with the two ends joined"
    " instead: one of the two conductors is broken",
}


@dataclass(frozen=True)
class Doubted:
    """A reading in a contradiction; `index` is its place in the log."""

    index: int
    at: Place
    between: tuple[str, str]
    ohms: float | None
    joined: tuple[tuple[str, ...], ...]
    box: str = field(metadata={"json": None})


@dataclass(frozen=True)
class Contradiction:
    """Readings that can't all be true, fewest first, and the one to take again first."""

    readings: tuple[Doubted, ...]
    repeat_first: Doubted
    reason: str


def contradictions(evidence: Evidence) -> tuple[Contradiction, ...]:
    """Return what contradicts among all readings so far."""
    known = Deductions(evidence)
    found: list[Contradiction] = []
    for stage in known.found.refused:
        if isinstance(stage, FittedStage):
            found.append(_of_fitted(known, stage))
        elif isinstance(stage, Stage):
            found.append(_of(known, stage))
    for stage in (*known.stages, *filter(None, map(evidence.bare, PLACES))):
        found += [_alone(known, stage, touch, CAME_AND_WENT) for touch in stage.came_and_went()]
    for stage in known.stages:
        if stage not in known.found.refused:
            opened = _not_closed(known, stage)
            told = NOT_CLOSED.format(there=evidence.bundle.box(other_place(stage.at)))
            found += [_alone(known, stage, touch, told) for touch in opened]
    for stage, touch in missed(known):
        told = NOT_CLOSED.format(there=evidence.bundle.box(other_place(stage.at)))
        found.append(_alone(known, stage, touch, told))
    return tuple(found)


def _alone(known: Deductions, stage: Stage, touch: Touch, reason: str) -> Contradiction:
    doubted = _doubted(known, stage, touch)
    return Contradiction((doubted,), doubted, reason)


def _not_closed(known: Deductions, stage: Stage) -> Iterator[Touch]:
    """Yield an open touch of every two components that must be of one join, all being whole."""
    homes = known.homes(stage)
    sound = (
        [
            (component, home)
            for component, home in zip(homes[0], homes[2], strict=True)
            if home.bit_count() == 1 and all(known.proven(stage.at, end) for end in bits(component))
        ]
        if homes
        else []
    )
    for i, (one, home) in enumerate(sound):
        for two, other in sound[:i]:
            touch = _open_between(stage, one, two) if home == other else None
            if touch is not None:
                yield touch


def _open_between(stage: Stage, one: int, two: int) -> Touch | None:
    """Return the last open touch between two sets of ends."""
    for touch in reversed(stage.touches):
        ends = mask_of(touch.ends)
        if not touch.own and touch.verdict == "open" and ends & one and ends & two:
            return touch
    return None


def _of(known: Deductions, stage: Stage) -> Contradiction:
    bunch = _bunch_touch(stage)
    if bunch is not None:
        reason = "These bunches read closed, but no two ends of theirs do. Touch them again."
        return _contradiction(known, stage, [bunch], reason)
    closed = _telling(stage)
    others = [s for s in known.stages if s is not stage and s not in known.found.refused]
    context: list[AnyStage] = []
    if _possible(known, stage, closed, []):
        context = list(others)
    core = _smallest(known, stage, closed, context)
    reason = (
        "More ends read closed to each other than were connected: one reading is wrong, two"
        " conductors touch each other, or a join isn't as it was said to be."
    )
    return _contradiction(known, stage, core, reason)


def _of_fitted(known: Deductions, stage: FittedStage) -> Contradiction:
    odd = stage.odd() or stage.touches
    reason = (
        "The reading fits no resistor: it is wrong, two conductors touch each other,"
        " or another resistor was fitted."
    )
    doubted = tuple(_doubted(known, stage, touch) for touch in odd)
    return Contradiction(doubted, doubted[-1], reason)


def _bunch_touch(stage: Stage) -> Touch | None:
    if not stage.unexplained():
        return None
    closed = [touch for touch in stage.touches if touch.own and touch.verdict == "closed"]
    return closed[-1] if closed else None


def _telling(stage: Stage) -> list[Touch]:
    return [
        [touch for touch in touches if touch.verdict == "closed"][-1]
        for pair, touches in stage.pairs.items()
        if pair not in stage.dropped and any(touch.verdict == "closed" for touch in touches)
    ]


def _possible(
    known: Deductions, stage: Stage, touches: Sequence[Touch], context: Sequence[AnyStage]
) -> bool:
    part = Stage(stage.at, stage.size, stage.groups)
    for touch in touches:
        part.add(touch)
    return known.start.allows([*context, part], known.contacts)


def _smallest(
    known: Deductions, stage: Stage, touches: list[Touch], context: list[AnyStage]
) -> list[Touch]:
    """Return the fewest readings that can't all be true, as far as a bounded search finds."""
    tried, most = 0, _MOST_TRIED * _LARGE**2 // max(_LARGE, stage.size) ** 2
    for size in range(1, _EXHAUSTIVE + 1):
        for chosen in combinations(touches, size):
            tried += 1
            if tried > most:
                break
            if not _possible(known, stage, chosen, context):
                return list(chosen)
    core = list(touches)
    for touch in touches:
        fewer = [other for other in core if other is not touch]
        if not _possible(known, stage, fewer, context):
            core = fewer
    return core


def _contradiction(
    known: Deductions, stage: Stage, core: list[Touch], reason: str
) -> Contradiction:
    first = min(core, key=lambda touch: (len(stage.asked(*touch.pair)), -touch.index))
    doubted = {touch.index: _doubted(known, stage, touch) for touch in core}
    return Contradiction(tuple(doubted.values()), doubted[first.index], reason)


def _doubted(known: Deductions, stage: AnyStage, touch: Touch) -> Doubted:
    names = known.bundle.names(touch.at)
    there = other_place(stage.at)
    joined = tuple(known.evidence.names(there, group) for group in stage.groups)
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Doubted(touch.index, touch.at, between, touch.ohms, joined, known.bundle.box(touch.at))


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
    if expected is None:
        usual = known.evidence.usual_path(touch)
        return usual is not None and touch.ohms > usual.high_ohm
    return touch.ohms not in allowed_range(known.bundle, expected.low_ohm, expected.high_ohm)


def _expected(
    known: Deductions, touch: Touch, candidates: Sequence[int] | None = None
) -> Range | None:
    """Return the least and greatest resistance of a touch's path, as far as is known."""
    if not known.bundle.expects_ohms:
        return None
    if touch.at == "near":
        candidates = [1 << end for end in range(known.size)]
    rows = known.found.of["far"] if candidates is None else candidates
    return _path(known, *(rows[end] for end in touch.ends))


def _path(known: Deductions, one: int, two: int) -> Range | None:
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
        pair: closed[-1]
        for pair, touches in stage.pairs.items()
        if pair in stage.closed_pairs
        and (closed := [touch for touch in touches if touch.verdict == "closed"])
        and all(is_strange(known, touch) for touch in closed)
    }
    for pair, touch in strange.items():
        yield _strange(known, stage, touch, set(strange), pair)
    for touches in stage.pairs.values():
        if touches[-1].verdict == "unclear" and all(one.verdict == "unclear" for one in touches):
            yield _question(known, touches[-1], UNCLEAR)
    for touch in stage.open_within():
        yield _question(known, touch, OPEN_WITHIN)


def _strange(
    known: Deductions, stage: Stage, touch: Touch, strange: set[Pair], pair: Pair
) -> Question:
    path, whose = _expected(known, touch), "its path has"
    leads = known.bundle.leads_ohm or 0.0
    if path is not None:
        expected = round((path.low_ohm + path.high_ohm) / 2 + leads, 4)
    else:
        usual, whose = known.evidence.usual_path(touch), "most paths have"
        expected = usual.low_ohm if usual else 0.0
    ohms = touch.ohms or 0.0
    if ohms > expected:
        where = _where(stage, strange, pair, known.bundle.names(touch.at))
        reason = f"{ohms - expected:.2f} Ω more than {whose}: {where}"
    else:
        less = f"{expected - ohms:.2f} Ω less than its path has"
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
            return f"{names[one]} and {names[two]} better ({path.low_ohm:.2f} Ω without leads)"
    return ""


def _of_diode(known: Deductions, stage: DiodeStage) -> Iterator[Question]:
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
