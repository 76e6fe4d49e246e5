# SPDX-License-Identifier: MIT
"""Which matches are sure, and why one isn't.

A match is sure if only a wrong answer, or a mixture of faults rarer than one in ten thousand
bundles, could make it wrong. So colours, exclusion and one closed reading that stands alone aren't
enough; nor is it where a broken conductor whose loose part touches another one would read the same.

A closed reading is proof, unless a wrong key was pressed or two conductors touched just then. Where
one reading alone holds an end in its component, and the end could as well belong to another one,
one touch more tells: the same again, or, for two such ends at once, from one to the other.
"""

from __future__ import annotations

from itertools import combinations, islice
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES
from wiretrack.ringout.checking import doubted
from wiretrack.ringout.hidden_faults import SMALL_BUNDLE, hidden_faults, unimagined
from wiretrack.ringout.masks import bits, lowest, union
from wiretrack.ringout.ohms import (
    CLOSED_OHM,
    LONG_PATH_FACTOR,
    METER_SHARE,
    OPEN_OHM,
    PATH_SHARE,
)
from wiretrack.ringout.own_ohms import OWN_SHARE, TOLD, TWIST_OHM
from wiretrack.ringout.probing import Probing
from wiretrack.ringout.screening import OPEN_TOUCHES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.probing import Pair
    from wiretrack.ringout.stage import Stage

BY_COLOUR = "Only colours tell it from others. A colour can change on the way."
BY_EXCLUSION = "It never read closed. All other ends are taken. It may be broken."
BY_OHMS = (
    "Only its resistance tells it from others: the size or length in the record must be right."
)
BY_TONE = "A tone was loudest on it. That is no proof: a closed touch must confirm it."
UNSEARCHED = "Nobody searched for wires that touch each other."
CONTRADICTED = "Readings contradict each other."
RECOLOURED = "The readings fit only if a colour changes on the way: look for a splice."
ONCE_CLOSED = "Two bunches read closed, then open. Wires may touch now and then."
FAULTY = "A wire is broken or touches another. More faults could hide behind it."
POINTED = "Readings point to it. More touches must rule out wires that touch each other."
PROVEN = "Closed readings at the boxes tell it from all others."
# What every conclusion takes for granted, as the manual's topic has it.
ASSUMPTIONS = (
    f"A path up to {CLOSED_OHM:g} Ω is closed (longer loops: {LONG_PATH_FACTOR:g} times the"
    f" loop), from {OPEN_OHM / 1e6:g} MΩ on it is open. What lies between says nothing.",
    "A closed reading is proof, unless a wrong key was pressed: what hangs on one alone is touched"
    " again.",
    "An open reading may be a bad contact, one touch in fifty:"
    f" {OPEN_TOUCHES} of them rule a contact out.",
    "A conductor that is silent at one box may have a bad contact there. Silent at both, it is"
    " open.",
    "Every arrangement of look-alikes is as likely as another.",
    f"Wires of a pull share a factor of {1 - PATH_SHARE:g} to {1 + PATH_SHARE:g} for length and"
    f" temperature. Each differs by {100 * OWN_SHARE:g} % more, a twist by {TWIST_OHM:g} Ω, the"
    f" meter by {100 * METER_SHARE:g} %. A match by ohms has odds of {100 * TOLD:g} % at least, and"
    " is not sure.",
    "A colour is the same at both boxes, but no match is sure by colours alone.",
    "What you join is joined as asked. Two ends of one colour that changed places in a twist can"
    " read as if they hadn't, until a check.",
    f"One fault is imagined behind what is known. With up to {SMALL_BUNDLE} wires, an open one and"
    " two that touch are imagined too. More that hide each other, or one that a bad contact hid"
    " from the search, are rarer than one bundle in ten thousand.",
    "Among many wires one that never read closed could hide too many contacts to imagine each: then"
    " no match is sure.",
)
CONFIRM_TOUCHES = 4  # so often is one pair touched before its readings are left as they are


def doubts(known: Deductions) -> dict[int, str]:
    """Return, for the matched near ends that aren't sure, why."""
    state = (*known.state(), known.bundle.screen)
    return known.evidence.remember("doubts", state, lambda: _doubts(known))


def _doubts(known: Deductions) -> dict[int, str]:
    pairs = known.matched
    found = dict.fromkeys(known.told_by_colour, BY_COLOUR)

    def add(ends: Iterable[int], why: str) -> None:
        for end in ends:
            found.setdefault(end, why)

    add(known.told_by_ohms, BY_OHMS)
    add(known.never_closed, BY_EXCLUSION)
    for end, why in doubted(known):
        found.setdefault(end, why)
    trouble = _trouble(known) if len(found) < len(pairs) else None
    if trouble is not None:
        add(pairs, trouble)
    for stage in known.stages if len(found) < len(pairs) else ():
        for link in islice(unconfirmed(Probing(stage, known)), 1):  # it puts all in doubt
            names = " and ".join(known.bundle.names(stage.at)[end] for end in link.pair)
            box = known.bundle.box(stage.at)
            why = f"It rests on one reading: {names} in {box}. Touch them again."
            add(pairs, why)
    for fault in hidden_faults(known) if len(found) < len(pairs) else ():
        add(fault.changed(pairs), fault.why(known))
    return {end: why for end, why in found.items() if end in pairs}


def _trouble(known: Deductions) -> str | None:
    """Return what makes every match doubtful, if anything does."""
    if known.bundle.screen == "none":
        return UNSEARCHED
    stages = [one for one in known.evidence.stages.values() if one not in known.checks]
    for touch in (touch for stage in stages for touch in stage.came_and_went()):
        one, two = (known.bundle.names(touch.at)[end] for end in touch.ends)
        box = known.bundle.box(touch.at)
        return f"{one} and {two} in {box} read closed, then open. Touch them again."
    if known.found.refused or any(stage.unexplained() for stage in stages):
        return CONTRADICTED
    if any(stage.once_closed() for stage in stages):
        return ONCE_CLOSED
    if known.bundle.colours_agree and not known.trust_colours:
        return RECOLOURED
    searched = all(known.bare_depth(place) >= OPEN_TOUCHES for place in PLACES)
    if not searched and any(not _is_explained(known, stage) for stage in known.stages):
        return FAULTY
    return unimagined(known)


def _is_explained(known: Deductions, stage: Stage) -> bool:
    """Return whether a stage shows nothing but what was joined."""
    split = known.homes(stage)
    if split is None or any(known.contacts.at(place) for place in PLACES):
        return False
    return not any(
        home == other_home and home.bit_count() == 1 and stage.opens(lowest(one), lowest(other))
        for (one, home), (other, other_home) in combinations(
            zip(split[0], split[2], strict=True), 2
        )
    )


@dataclass(frozen=True)
class Link:
    """A closed pair without which its component falls into `part` and `rest`."""

    pair: Pair
    part: int
    rest: int


def _weak_links(stage: Stage) -> Iterator[Link]:
    """Yield the closed pairs that read closed once, and that no other closed readings bridge."""
    closed, dropped = stage.closed_pairs, stage.dropped
    times = {pair: closed[pair] for pair in stage.pairs if pair in closed and pair not in dropped}
    joined: dict[int, int] = {}
    for one, two in times:
        joined[one] = joined.get(one, 0) | 1 << two
        joined[two] = joined.get(two, 0) | 1 << one
    for (one, two), count in times.items():
        part = _parted(joined, one, two) if count == 1 else None
        if part is not None:
            whole = stage.component(one)
            if part >> one & 1:
                yield Link((one, two), part, whole & ~part)
            else:
                yield Link((one, two), whole & ~part, part)


def _parted(joined: Mapping[int, int], one: int, two: int) -> int | None:
    """Return all that hangs on one of two joined ends, if it does so by their own link alone.

    `joined` are the neighbours of each end. It is the side that is walked through first.
    """
    reached = [1 << one, 1 << two]
    front = [joined[one] & ~reached[1], joined[two] & ~reached[0]]
    while front[0] and front[1]:
        for side in (0, 1):
            reached[side] |= front[side]
            if reached[0] & reached[1]:
                return None
            beyond = union(joined[end] for end in bits(front[side]))
            front[side] = beyond & ~reached[side]
    return reached[1] if front[0] else reached[0]


def _stands_alone(probing: Probing, link: Link) -> bool:
    """Return whether all else could be true if this one closed reading weren't."""
    opened = probing.stage.read_open_in_parts(link.part, link.rest)
    return probing.verdict((link, opened), lambda: _moves(probing, link, opened))


def _moves(probing: Probing, link: Link, opened: tuple[int, int]) -> bool:
    """Return whether a part of a link, which read open to `opened`, fits elsewhere as well."""
    model, whole = probing.model, link.part | link.rest
    exact = len(probing.components) == len(model.room)  # then every size stays taken
    for mover, rest, heard in zip(
        (link.part, link.rest), (link.rest, link.part), opened, strict=True
    ):
        out, fit = whole | heard | model.barred(mover), model.fitting(mover)
        left = (rest.bit_count(), model.fitting(rest))
        for room, homes in probing.alike if left[1] else ():
            if not fit & room:
                continue
            home = next((home for home in homes if not home & out), None)
            if home and not (exact and home.bit_count() != rest.bit_count()):
                both = mover | home
                more = [(both.bit_count(), model.fitting_both(mover, home)), left]
                if more[0][1] and _fit(probing, (whole, home), more):
                    return True
    return False


def _fit(probing: Probing, without: Pair, more: list[Pair]) -> bool:
    """Return whether components can be placed, some left out and more, by size and groups, added.

    What is alike is looked into but once.
    """
    left_out = tuple((part.bit_count(), probing.model.fitting(part)) for part in without)
    return probing.verdict((left_out, tuple(more)), lambda: probing.packs(without, more))


def unconfirmed(probing: Probing) -> Iterator[Link]:
    """Yield the closed pairs that stand alone, as far as the other stages leave that open."""
    if not (probing.overfull or probing.contradictory):
        yield from (link for link in _weak_links(probing.stage) if _stands_alone(probing, link))


def next_confirming(probing: Probing) -> Pair | None:
    """Return the next two ends to touch so that no closed reading stands alone."""
    if probing.overfull or probing.contradictory:
        return None
    stage, links = probing.stage, list(_weak_links(probing.stage))
    for number, link in enumerate(links, 1):
        if not _stands_alone(probing, link):
            continue
        for other in links[number:]:
            pair = _across(link, other)
            if pair and not stage.asked(*pair) and _stands_alone(probing, other):
                return pair
        if len(stage.asked(*link.pair)) < CONFIRM_TOUCHES:
            return link.pair
    return None


def _across(one: Link, two: Link) -> Pair | None:
    """Return two ends that hang on one link each, so that one touch confirms both."""
    for first in (one.part, one.rest):
        for second in (two.part, two.rest):
            if (one.part | one.rest) == (two.part | two.rest) and not first & second:
                low, high = sorted((lowest(first), lowest(second)))
                return low, high
    return None
