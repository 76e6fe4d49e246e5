# SPDX-License-Identifier: MIT
"""A conductor that is broken and whose part at one place touches another conductor there.

That part then reads closed for the other one, and nothing reads closed at the other place. Only a
search for contacts with nothing joined, made at the place of the contact, shows it. Without that,
each such conductor is imagined in turn: where all readings fit, they prove no more than is left.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, other_place
from wiretrack.ringout.candidates import Candidates, propagate
from wiretrack.ringout.masks import bits
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.knowledge import Knowledge

MOST_IMAGINED = 8000  # per end, as each takes the longer the more ends there are; above, all may be

Loose = tuple[int, int, "Place", Candidates | None]


def loose_parts(known: Knowledge, pairs: Mapping[int, int]) -> Iterator[Loose]:
    """Yield the contacts that all readings would fit, and who may be whom then.

    Each is two ends, their place, and the candidates; `None` where there are too many to imagine.
    """
    tried = 0
    for place in PLACES:
        if known.bare_depth(place):
            continue
        there = other_place(place)
        silent = [end for end in _ends(pairs, there) if not _heard(known, there, end)]
        for dead in silent:
            for loose in bits(known.start.of[there][dead]):
                for touched in _touched(known, place, loose):
                    tried += 1
                    world = _imagined(known, place, dead, loose, touched)
                    if world is not None:
                        yield loose, touched, place, world
                    if tried * known.size > MOST_IMAGINED:
                        yield loose, touched, place, None
                        return


def _heard(known: Knowledge, place: Place, end: int) -> bool:
    """Return whether an end read closed to another at its own place."""
    return any(s.at == place and s.component(end).bit_count() > 1 for s in known.stages) or any(
        s.at == place and s.proven() >> end & 1 for s in known.fitted
    )


def _ends(pairs: Mapping[int, int], place: Place) -> list[int]:
    return list(pairs) if place == "near" else list(pairs.values())


def _touched(known: Knowledge, place: Place, loose: int) -> Iterator[int]:
    """Yield the ends that a loose part may touch: what it read closed to, or else any."""
    heard = (1 << known.size) - 1
    for stage in known.stages:
        if stage.at == place and stage.component(loose).bit_count() > 1:
            heard &= stage.component(loose)
    yield from bits(heard & ~(1 << loose))


def _imagined(
    known: Knowledge, place: Place, dead: int, loose: int, touched: int
) -> Candidates | None:
    """Return who may be whom if so; `None` if the readings contradict that.

    All others are whole. At the place of the contact the loose end is nothing but a second lead
    to the end that it touches; joined there, it bridges two joins.
    """
    there = other_place(place)
    if _read_apart(known, place, loose, touched):
        return None
    stages: list[Stage] = []
    for stage in known.stages:
        if stage.at == place:
            if not stage.closed(loose, touched) and stage.opens(loose, touched):
                return None
            sets = [members & ~(1 << loose) for members in stage.components()]
            groups = [group & ~(1 << dead) for group in stage.groups]
        else:
            sets = stage.components()
            groups = _bridged(stage.groups, loose, touched)
        sets = [members for members in sets if members]
        stages.append(Stage.holding(stage.at, stage.size, groups, sets))
    world = known.start.copy()
    world.keep(there, dead, 1 << loose)
    return world if propagate(world, stages, known.contacts) else None


def _read_apart(known: Knowledge, place: Place, one: int, two: int) -> bool:
    """Return whether two ends read different resistors, or a diode differently."""
    for stage in known.fitted:
        told = known.start.copy()
        if stage.at == place and stage.strike(told, known.contacts) is not None:
            if not told.of[place][one] & told.of[place][two]:
                return True
    return False


def _bridged(groups: tuple[int, ...], loose: int, touched: int) -> list[int]:
    """Return joins without the loose end, the two that it bridges made one."""
    with_loose = next((group for group in groups if group >> loose & 1), 1 << loose)
    with_touched = next((group for group in groups if group >> touched & 1), 1 << touched)
    others = [group for group in groups if group not in (with_loose, with_touched)]
    return [(with_loose | with_touched) & ~(1 << loose), *others]
