# SPDX-License-Identifier: MIT
"""Faults that could hide behind readings that fit: each is imagined, to see what is left sure.

The part at one place of a broken conductor may touch another conductor there. It then reads closed
for the other one, and nothing reads closed at the other place. Only a search for contacts with
nothing joined, made at the place of the contact, shows it. Without that, each such conductor is
imagined in turn: where all readings fit, they prove no more than is left.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, other_place
from wiretrack.ringout.checking import SHARE, expected
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.candidates import Candidates
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.probing import Pair

MOST_IMAGINED = 8000  # per end, as each takes the longer the more ends there are; above, all may be

Loose = tuple[int, int, "Place", "Candidates | None"]


def loose_parts(known: Deductions) -> Iterator[Loose]:
    """Yield the contacts that all readings would fit, and who may be whom then.

    Each is two ends, their place, and the candidates; `None` where there are too many to imagine.
    """
    tried = 0
    for place in PLACES:
        if known.bare_depth(place):
            continue
        there = other_place(place)
        ends = known.matched if there == "near" else known.matched.values()
        for dead in (*ends, *bits(known.bundle.absent[there])):
            if _heard(known, there, dead):
                continue
            for loose in bits(known.start.of[there][dead] & ~known.bundle.absent[place]):
                for touched in _touched(known, place, loose):
                    tried += 1
                    world = _imagined(known, place, dead, loose, touched)
                    if world is not None:
                        yield loose, touched, place, world
                    if tried * known.size > MOST_IMAGINED:
                        yield loose, touched, place, None
                        return


def hiding(known: Deductions, place: Place) -> list[Pair]:
    """Return the ends at `place` of which two must read open to each other, to be sure.

    Else one of them may be that of a broken conductor that touches the other's there.
    """
    state = (place, *known.state())
    return known.evidence.remember("hiding", state, lambda: _hiding(known, place))


def _hiding(known: Deductions, place: Place) -> list[Pair]:
    pairs: dict[Pair, None] = {}
    for one, two, at, world in loose_parts(known):
        wrong = world and any(world.settled("near", e) != mate for e, mate in known.matched.items())
        if at == place and wrong:
            pairs[min(one, two), max(one, two)] = None
    return list(pairs)


def next_hiding(known: Deductions, place: Place) -> Pair | None:
    """Return the next two ends to touch at `place` so that all is sure, if a check was asked for.

    In all they are a third as many as there are conductors at most.
    """
    most, bundle = known.bundle.most_matches, known.bundle
    if bundle.check != "always" or bundle.crew == 2 or not known.begun or len(known.matched) < most:
        return None
    stages = [stage for stage in known.checks if stage.at == place]
    closed = {(min(pair), max(pair)) for stage in stages for pair in expected(known, stage)}
    bare = known.evidence.bare(place)
    asked = {pair for stage in (*stages, *([bare] if bare else ())) for pair in stage.pairs}
    if len(asked - closed) >= most // SHARE:
        return None
    return next((pair for pair in hiding(known, place) if pair not in asked | closed), None)


def _heard(known: Deductions, place: Place, end: int) -> bool:
    return any(s.at == place and s.component(end).bit_count() > 1 for s in known.stages) or any(
        s.at == place and s.proven() >> end & 1 for s in known.fitted
    )


def _touched(known: Deductions, place: Place, loose: int) -> Iterator[int]:
    """Yield the ends that a loose part may touch: what it read closed to, or else any."""
    heard = ((1 << known.size) - 1) & ~known.bundle.absent[place]
    for stage in known.stages:
        if stage.at == place and stage.component(loose).bit_count() > 1:
            heard &= stage.component(loose)
    yield from bits(heard & ~(1 << loose))


def _imagined(
    known: Deductions, place: Place, dead: int, loose: int, touched: int
) -> Candidates | None:
    """Return who may be whom if so; `None` if the readings contradict that.

    All others are whole. At the place of the contact the loose end is nothing but a second lead
    to the end that it touches; joined there, it bridges two joins.
    """
    if _read_apart(known, place, loose, touched):
        return None
    stages: list[Stage] = []
    for stage in known.stages:
        sets, groups = stage.components(), list(stage.groups)
        if stage.at == place:
            if not stage.closed(loose, touched) and stage.opens(loose, touched):
                return None
            sets = [members & ~(1 << loose) for members in sets]
            groups = [group & ~(1 << dead) for group in groups]
        else:  # the two joins that it bridges are one, without the loose end
            pair = mask_of((loose, touched))
            bridge = pair
            for group in groups:
                bridge |= group if group & pair else 0
            groups = [bridge & ~(1 << loose), *(group for group in groups if not group & pair)]
        stages.append(Stage.holding(stage.at, stage.size, groups, filter(None, sets)))
    world = known.start.copy()
    world.keep(other_place(place), dead, 1 << loose)
    return world if world.propagate(stages, known.contacts) else None


def _read_apart(known: Deductions, place: Place, one: int, two: int) -> bool:
    """Return whether two ends read open to each other, other resistors, or a diode differently.

    Open with nothing connected, or in a check: in other stages the joins may be why.
    """
    bare = known.evidence.bare(place)
    for stage in (*known.checks, *([bare] if bare else ())):
        if stage.at == place and not stage.closed(one, two):
            if stage.read_open(1 << one) >> two & 1:
                return True
    for stage in known.fitted:
        told = known.start.copy()
        if stage.at == place and stage.strike(told, known.contacts) is not None:
            if not told.of[place][one] & told.of[place][two]:
                return True
    return False
