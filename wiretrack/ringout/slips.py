# SPDX-License-Identifier: MIT
"""Slips of hands: a twist that came off or wasn't made, and a wrong end twisted.

Of ends that must be of one join, being whole, and read open against each other, the twist isn't as
asked. Where closed readings contradict, each single slip is imagined in turn, an end in another
join or two that changed places; what makes all readings true, with the fewest open ones to explain,
is named.
"""

from __future__ import annotations

from copy import copy
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.masks import bits, lowest, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.rounds import Groups
    from wiretrack.ringout.stage import Stage

_MOST_IMAGINED = 200_000  # times ends: the more there are, the longer each takes
_MOST_ALONE = 8  # ends that read open; of more, nobody can keep all in mind
Twists = tuple[tuple[str, ...], ...]
_NUMBER = {0: "none", 1: "one", 2: "two", 3: "three"}
_MOST_NAMED = 3  # slips that would do; of more, nobody can look for all


def parted(known: Deductions, stage: Stage, *, whole: bool) -> Iterator[tuple[int, str]]:
    """Yield the ends that read open against what they were twisted with, and that in words.

    `whole` ones only, or those of conductors that may be broken too.
    """
    homes = None if stage in known.found.refused else known.homes(stage)
    components, groups, domain = homes or ([], [], [])
    parts: dict[int, list[int]] = {}
    for component, home in zip(components, domain, strict=True):
        if home.bit_count() == 1:
            parts.setdefault(groups[lowest(home)], []).append(component)
    for group, pieces in parts.items():
        pairs = combinations(map(lowest, pieces), 2)
        if len(pieces) > 1 and all(stage.opens(one, other) for one, other in pairs):
            sound = all(known.proven(stage.at, end) for end in bits(union(pieces)))
            if sound or not whole:
                pieces.sort(key=int.bit_count)
                off = union(pieces if pieces[-1].bit_count() == 1 else pieces[:-1])
                yield off, _told(known, stage, off, group, sound=sound)


def _told(known: Deductions, stage: Stage, off: int, group: int, *, sound: bool) -> str:
    there = other_place(stage.at)
    box, twist = known.bundle.box(there), " + ".join(known.evidence.names(there, group))
    if off.bit_count() == group.bit_count():
        what = f"against each other, though twisted together in {box}: {twist}"
    else:
        what = f"against all that was twisted with {_it(off)} in {box}: {twist}"
    reads = "reads" if _it(off) == "it" else "read"
    broken = "" if sound else ", or a wire is broken"
    bad = off & mask_of(known.badly_touched(stage.at))
    clean = f" Clean {_ends(known, stage, bad)} too: a contact may be bad." if bad else ""
    return (
        f"{_ends(known, stage, off)} {reads} open {what}."
        f" The twist has come off or was not made{broken}.{clean}"
    )


def _it(ends: int) -> str:
    return "it" if ends.bit_count() == 1 else "them"


def _ends(known: Deductions, stage: Stage, mask: int) -> str:
    """Return ends by name, each with its other end where that is known."""
    told, there = [], known.bundle.names(other_place(stage.at))
    for end in bits(mask):
        mate = known.found.settled(stage.at, end)
        name = known.bundle.names(stage.at)[end]
        told.append(name if mate is None or there[mate] == name else f"{name} ({there[mate]})")
    return ", ".join(told)


def hint(known: Deductions) -> str | None:
    """Return what to look at in a twist that still stands, while it can be looked at."""
    for stage in known.stages:
        if known.evidence.joins[other_place(stage.at)] == stage.groups:
            for _, told in parted(known, stage, whole=False):
                return told
            held = stage.joined(known.found, known.contacts)
            if len(stage.components()) > len(held) and known.is_read(stage):
                return _one_of(known, stage, held)
    return None


def _one_of(known: Deductions, stage: Stage, held: Sequence[int]) -> str:
    """Return that some end is off its twist, and which read open against all others."""
    box, there = known.bundle.box, other_place(stage.at)
    alone = union(one for one in stage.components() if not one & one - 1) & ~stage.absent
    free = sum(not group & group - 1 for group in held) - stage.absent.bit_count()
    what = f"Fewer ends read closed in {box(stage.at)} than are twisted in {box(there)}."
    if free < alone.bit_count() <= _MOST_ALONE:
        what = (
            f"{_ends(known, stage, alone)} read open against all others,"
            f" but {_NUMBER.get(free, free)} of them should."
        )
    return (
        f"{what} Look at each twist in {box(there)}: one has come off or was not made, or a wire is"
        " broken."
    )


@dataclass(frozen=True)
class Slip:
    """A slip of a hand that would make all readings true: in words, and what was twisted then.

    `asked` is what was to be twisted, both by the names of the ends at `place`.
    """

    told: str
    place: Place
    asked: Twists
    twisted: Twists


def mistwisted(known: Deductions) -> list[Slip]:
    """Return which slip would make all readings true, where they contradict: the likeliest ones.

    None where there are more than anybody can look for.
    """
    if not known.found.refused:
        return []
    return known.evidence.remember("slips", known.state(), lambda: _mistwisted(known))


def _mistwisted(known: Deductions) -> list[Slip]:
    stages = [stage for stage in known.stages if not stage.unexplained()]
    if len(stages) < len(known.stages) or not any(s in known.found.refused for s in stages):
        return []
    found: dict[Slip, int] = {}
    tried = 0
    for stage in stages:
        others = [one for one in stages if one is not stage]
        for told, groups in _slips(known, stage):
            tried += known.size**2
            if tried > _MOST_IMAGINED:
                return []
            world, as_was = known.start.copy(), copy(stage)
            as_was.groups = groups
            if world.propagate([as_was, *others, *known.fitted], known.contacts):
                there = other_place(stage.at)
                asked, twisted = (
                    tuple(known.evidence.names(there, group) for group in both)
                    for both in (stage.groups, groups)
                )
                found[Slip(told, there, asked, twisted)] = sum(
                    abs(len(one.components()) - len(one.joined(world, known.contacts)))
                    for one in (as_was, *others)
                )
    likely = [slip for slip, opens in found.items() if opens == min(found.values())]
    return likely if len(likely) <= _MOST_NAMED else []


def _slips(known: Deductions, stage: Stage) -> Iterator[tuple[str, Groups]]:
    """Yield each slip of one hand in a stage's joins: what happened, and what was joined then."""
    place, names = other_place(stage.at), known.bundle.names(other_place(stage.at))
    ends = [end for end in range(known.size) if not known.bundle.absent[place] >> end & 1]
    home = {end: next((g for g in stage.groups if g >> end & 1), 0) for end in ends}
    box = known.bundle.box(place)

    def others(group: int, end: int) -> str:
        return ", ".join(known.evidence.names(place, group & ~(1 << end)))

    def moved(into: Mapping[int, int]) -> Groups:
        """Return the joins with each of these ends in the join named, or in none."""
        out = mask_of(into)
        now = [
            group & ~out | mask_of(end for end, joined in into.items() if joined == group)
            for group in stage.groups
        ]
        return tuple(sorted(group for group in now if group & group - 1))

    for end in ends:
        for group in stage.groups:
            if group != home[end]:
                told = f"{names[end]} was twisted with {others(group, end)}"
                instead = f", not with {others(home[end], end)}," if home[end] else ""
                yield f"{told}{instead} in {box}", moved({end: group})
        if home[end]:
            yield f"{names[end]} was not twisted in {box}", moved({end: 0})
    for one, two in combinations(ends, 2):
        told = f"{names[one]} and {names[two]} changed places"
        if not (home[one] and home[two]):
            right, wrong = (one, two) if home[one] else (two, one)
            told = f"{names[wrong]} was twisted in place of {names[right]}"
        if home[one] != home[two]:
            yield f"{told} in {box}", moved({one: home[two], two: home[one]})
