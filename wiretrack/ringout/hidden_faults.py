# SPDX-License-Identifier: MIT
"""Faults that could hide behind readings that fit: each is imagined, to see what is left sure.

The part at one place of a broken conductor may touch another conductor there. It then reads closed
for the other one, and nothing reads closed at the other place. Only a search for contacts with
nothing joined, made at the place of the contact, shows it. Without that, each such conductor is
imagined in turn: where all readings fit, they prove no more than is left.

In a small bundle a broken conductor, silent at both places, and two others that touch can together
read as if all were whole. The search for contacts has touched each two once. A contact that comes
and goes, or a wrong key, hides from that. So both are imagined where those two read open just once.
"""

from __future__ import annotations

from itertools import chain, combinations, permutations, product
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, other_place
from wiretrack.ringout.candidates import Contacts
from wiretrack.ringout.checking import SHARE, expected
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.candidates import Candidates
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.probing import Pair

FEW_ENDS = 8  # conductors; in more, so much seldom fits by chance
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
    yield from _parts_found_touching(known)


def _parts_found_touching(known: Deductions) -> Iterator[Loose]:
    """Yield the contacts that are known, where one wrong reading alone could hide a broken wire."""
    for place in PLACES:
        there = other_place(place)
        for contact in known.contacts.sure[place]:
            for loose, touched in permutations(bits(contact), 2):
                for dead in bits(known.start.of[place][loose]):
                    if _times_heard(known, there, dead) == 1:
                        world = _imagined(known, place, dead, loose, touched)
                        if world is not None:
                            yield loose, touched, place, world


def broken_and_touching(known: Deductions) -> Iterator[Loose]:
    """Yield the contacts that all readings would fit if a silent conductor were broken besides.

    As `loose_parts` does, in bundles of up to `FEW_ENDS`.
    """
    if known.size > FEW_ENDS or not known.stages:
        return
    silent = [[e for e in range(known.bundle.size) if _is_silent(known, at, e)] for at in PLACES]
    closed = {at: list(_always_closed(known, at)) for at in PLACES}
    mates = [*closed["far"], *(pair[::-1] for pair in closed["far"])]
    ways = [
        (pair, others)
        for pair, others in product(closed["near"], mates)
        if _times_open(known, "near", pair) + _times_open(known, "far", others) < 2
    ]
    for broken in product(*silent):
        if known.start.of["near"][broken[0]] >> broken[1] & 1:
            for pair, others in ways:
                world = _imagined_both(known, broken, pair, others)
                if world is not None:
                    yield *pair, "near", world
                    yield *others, "far", world


def _is_silent(known: Deductions, place: Place, end: int) -> bool:
    return not (_heard(known, place, end) or known.bundle.absent[place] >> end & 1)


def _always_closed(known: Deductions, place: Place) -> list[Pair]:
    """Return the pairs at `place` that read closed in every stage there; none without any."""
    stages = [stage for stage in known.stages if stage.at == place]
    pairs = combinations(range(known.bundle.size if stages else 0), 2)
    return [pair for pair in pairs if all(stage.closed(*pair) for stage in stages)]


def _times_open(known: Deductions, place: Place, pair: Pair) -> int:
    """Return how often two ends read open with nothing between them joined, or in a check."""
    bare = known.evidence.bare(place)
    stages = (*known.checks, *([bare] if bare else ()))
    return sum(stage.opens(*pair) for stage in stages if stage.at == place)


def _imagined_both(
    known: Deductions, broken: Pair, touching: Pair, mates: Pair
) -> Candidates | None:
    """Return who may be whom if a conductor is broken, by its ends, and two whole ones touch.

    `touching` are the near ends of those, `mates` their far ones. `None` if the readings
    contradict that.
    """
    dead = {"near": 1 << broken[0], "far": 1 << broken[1]}
    contacts = {"near": [mask_of(touching)], "far": [mask_of(mates)]}
    world = known.start.copy()
    for end, mate in zip((broken[0], *touching), (broken[1], *mates), strict=True):
        world.keep("near", end, 1 << mate)
    if not all(world.of["near"]):
        return None
    stages = [
        Stage.holding(
            stage.at,
            stage.size,
            [group & ~dead[other_place(stage.at)] for group in stage.groups],
            stage.components(),
        )
        for stage in (*known.stages, *known.checks)
    ]
    return world if world.propagate(stages, Contacts(contacts, known.contacts.vague)) else None


def hiding(known: Deductions, place: Place) -> list[Pair]:
    """Return the ends at `place` of which two must read open to each other, to be sure.

    Else one of them may be that of a broken conductor that touches the other's there.
    """
    state = (place, *known.state())
    return known.evidence.remember("hiding", state, lambda: _hiding(known, place))


def _hiding(known: Deductions, place: Place) -> list[Pair]:
    pairs: dict[Pair, None] = {}
    for one, two, at, world in chain(loose_parts(known), broken_and_touching(known)):
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


def _times_heard(known: Deductions, place: Place, end: int) -> int:
    """Return how many closed readings an end has."""
    fitted = sum(stage.at == place and stage.proven() >> end & 1 for stage in known.fitted)
    return fitted + sum(stage.times_closed(end) for stage in known.stages if stage.at == place)


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
            sets = [members & ~(1 << dead) for members in sets]
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
