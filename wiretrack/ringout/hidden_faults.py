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

from itertools import combinations, permutations, product
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES, other_place
from wiretrack.ringout.candidates import Contacts
from wiretrack.ringout.checking import SHARE, expected
from wiretrack.ringout.masks import bits, lowest, mask_of, union
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.candidates import Candidates
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.probing import Pair

SMALL_BUNDLE = 8  # conductors; in more, so much seldom fits by chance
MOST_IMAGINED = 8000  # times ends: the more there are, the longer each takes; above, all may be

LOOSE_PART = "A broken wire that touches another at {ends} in {box} would read the same."
NEVER_CLOSED = (
    "A wire that never read closed in {there} may be broken and touch another in {box}."
    " That could read the same."
)
BROKEN_TOO = "A broken wire, and contact between {ends} in {box}, would read the same."
TWISTS = (
    "Nobody touched {ends} to each other. Two twists that touch in {there} would read the same."
)


@dataclass(frozen=True)
class Hidden:
    """What all readings would fit: two ends at a place touch, or their twists do.

    `world` is who may be whom then.
    """

    ends: Pair
    at: Place
    world: Candidates
    sentence: str

    def changed(self, matched: Mapping[int, int]) -> list[int]:
        """Return the `matched` near ends that could have other mates then."""
        world = self.world
        return [end for end, mate in matched.items() if world.settled("near", end) != mate]

    def why(self, known: Deductions) -> str:
        """Return in a sentence why a match isn't sure."""
        bundle, names = known.bundle, known.bundle.names(self.at)
        ends = " and ".join(names[end] for end in self.ends)
        return self.sentence.format(
            ends=ends, box=bundle.box(self.at), there=bundle.box(other_place(self.at))
        )


def hidden_faults(known: Deductions) -> Iterator[Hidden]:
    """Yield what could hide behind the readings, the likelier kinds first."""
    yield from _contacts(known)
    for stage in known.stages:
        yield from _touching_twists(known, stage)


def _contacts(known: Deductions) -> Iterator[Hidden]:
    yield from _loose_parts(known)
    yield from _parts_found_touching(known)
    yield from _broken_and_touching(known)


def _loose_parts(known: Deductions) -> Iterator[Hidden]:
    """Yield the contacts of a broken conductor's part that all readings would fit."""
    for place, dead, loose, touchable in () if unimagined(known) else _loose_ways(known):
        for touched in bits(touchable):
            world = _imagined(known, place, dead, loose, touched)
            if world is not None:
                yield Hidden((loose, touched), place, world, LOOSE_PART)


def unimagined(known: Deductions) -> str | None:
    """Return in a sentence what hides too many contacts to imagine each; `None` for few."""
    count = 0
    for place, _, _, touchable in _loose_ways(known):
        count += touchable.bit_count()
        if count * known.size > MOST_IMAGINED:
            box = known.bundle.box
            return NEVER_CLOSED.format(there=box(other_place(place)), box=box(place))
    return None


def _loose_ways(known: Deductions) -> Iterator[tuple[Place, int, int, int]]:
    """Yield what a broken conductor's part could be that touches another, unseen at a place.

    That is the place, the end at the other one that is dead then, its mate that is loose, and what
    that may touch, as bits.
    """
    for place in PLACES:
        there, touchable = other_place(place), dict[int, int]()
        for dead in range(known.bundle.size) if not known.bare_depth(place) else ():
            if not _heard(known, there, dead):
                for loose in bits(known.start.of[there][dead] & ~known.bundle.absent[place]):
                    if loose not in touchable:
                        touchable[loose] = _touchable(known, place, loose)
                    yield place, dead, loose, touchable[loose]


def _parts_found_touching(known: Deductions) -> Iterator[Hidden]:
    """Yield the contacts that are known, where one wrong reading alone could hide a broken wire."""
    for place in PLACES:
        there = other_place(place)
        for contact in known.contacts.sure[place]:
            for loose, touched in permutations(bits(contact), 2):
                for dead in bits(known.start.of[place][loose]):
                    if _times_heard(known, there, dead) == 1:
                        world = _imagined(known, place, dead, loose, touched)
                        if world is not None:
                            yield Hidden((loose, touched), place, world, LOOSE_PART)


def _broken_and_touching(known: Deductions) -> Iterator[Hidden]:
    """Yield the contacts that all readings would fit if a silent conductor were broken besides.

    Only in bundles of up to `SMALL_BUNDLE`.
    """
    if known.size > SMALL_BUNDLE or not known.stages:
        return
    ends = range(known.bundle.size)
    silent = [[end for end in ends if _is_silent(known, at, end)] for at in PLACES]
    closed = {at: _always_closed(known, at) for at in PLACES}
    mates = [*closed["far"], *((two, one) for one, two in closed["far"])]
    ways = [
        (pair, others)
        for pair, others in product(closed["near"], mates)
        if _times_open(known, "near", pair) + _times_open(known, "far", others) < 2
    ]
    for broken in product(silent[0], silent[1]):
        if known.start.of["near"][broken[0]] >> broken[1] & 1:
            for pair, others in ways:
                world = _imagined_both(known, broken, pair, others)
                if world is not None:
                    yield Hidden(pair, "near", world, BROKEN_TOO)
                    yield Hidden(others, "far", world, BROKEN_TOO)


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
    dead: dict[Place, int] = {"near": 1 << broken[0], "far": 1 << broken[1]}
    contacts: dict[Place, list[int]] = {"near": [mask_of(touching)], "far": [mask_of(mates)]}
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


def _touching_twists(known: Deductions, stage: Stage) -> Iterator[Hidden]:
    """Yield ends of two components, one of each, whose twists could touch each other unnoticed.

    No touch was made between them.
    """
    homes = known.homes(stage)
    if homes is None or stage in known.found.refused:
        return
    rows = known.without(stage).of[stage.at]
    settled = [
        (part, homes[1][lowest(possible)])
        for part, possible in zip(homes[0], homes[2], strict=True)
        if part.bit_count() > 1 and possible.bit_count() == 1
    ]
    mates = {part: union(rows[end] for end in bits(part)) for part, _ in settled}
    apart = {part: stage.opened(lowest(part)) | stage.read_open(part) for part, _ in settled}
    for (one, group), (two, other) in combinations(settled, 2):
        if mates[one] & other and mates[two] & group and not apart[one] & two:
            world = _as_one(known, stage, one | two, group | other)
            if world is not None:
                ends = stage.weakest(one, 0), stage.weakest(two, 0)
                yield Hidden(ends, stage.at, world, TWISTS)


def next_between(known: Deductions, stage: Stage) -> Pair | None:
    """Return two ends to touch, so that twists of a stage can't touch each other unnoticed."""
    found = next(_touching_twists(known, stage), None)
    return found.ends if found else None


def _as_one(known: Deductions, stage: Stage, both: int, twist: int) -> Candidates | None:
    """Return who may be whom if two components are one, as their twists touch."""
    sets = [both, *(part for part in stage.components() if not part & both)]
    groups = [twist, *(group for group in stage.groups if not group & twist)]
    merged = Stage.holding(stage.at, stage.size, groups, sets)
    world = known.start.copy()
    others = (other for other in (*known.stages, *known.checks) if other is not stage)
    return world if world.propagate([merged, *others], known.contacts) else None


def hiding(known: Deductions, place: Place) -> list[Pair]:
    """Return the ends at `place` of which two must read open to each other, to be sure.

    Else one of them may be that of a broken conductor that touches the other's there.
    """
    state = (place, *known.state())
    return known.evidence.remember("hiding", state, lambda: _hiding(known, place))


def _hiding(known: Deductions, place: Place) -> list[Pair]:
    found = (one for one in _contacts(known) if one.at == place)
    pairs = (one.ends for one in found if one.changed(known.matched))
    return list(dict.fromkeys((min(pair), max(pair)) for pair in pairs))


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


def _touchable(known: Deductions, place: Place, loose: int) -> int:
    """Return the ends that a loose part may touch: what it read closed to, or else any."""
    heard = ((1 << known.size) - 1) & ~known.bundle.absent[place]
    for stage in known.stages:
        if stage.at == place and stage.component(loose).bit_count() > 1:
            heard &= stage.component(loose)
    return heard & ~(1 << loose)


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
