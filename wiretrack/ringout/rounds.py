# SPDX-License-Identifier: MIT
"""What to join next, so that the fewest walks identify all.

Ends that look alike so far (same colour, same group of an earlier stage) form a class. One more
walk suffices when the ends can be put into groups that hold no class twice and no two of which
hold the same classes. Otherwise the first joins cut the classes so that the next walk suffices:
group sizes k, k-1, ..., 1 do it for k(k+1)/2 look-alikes, and few more cases fill the gaps.
Where faults upset the plan, proven conductors serve as references, one for each doubtful end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import Place, other_place
from wiretrack.ringout.first_joins import first_groups
from wiretrack.ringout.masks import bits, look_alikes, lowest, mask_of, union
from wiretrack.ringout.sets import LAST_WORK, MOST_WORK, distinct_sets

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.deductions import Deductions

Groups = tuple[int, ...]
MOST_WALKS = 16  # a ring-out that needs more has a fault that continuity can't settle


@dataclass(frozen=True)
class Situation:
    """The ends at one place, sorted by what is known of them."""

    place: Place
    doubtful: tuple[int, ...]  # to be identified, and not known to be broken or touching
    unproven: tuple[int, ...]  # identified, but never read closed
    suspect: tuple[int, ...]  # identified, joined to another one, and read closed to nothing
    proven: tuple[int, ...]  # identified and read closed, references first
    classes: tuple[int, ...]  # sets of look-alikes, as many here as there, touching ones included

    @property
    def loose(self) -> tuple[int, ...]:
        """Return the doubtful ends that are in no class."""
        whole = 0
        for members in self.classes:
            whole |= members
        return tuple(end for end in (*self.doubtful, *self.suspect) if not whole >> end & 1)


def situation(known: Deductions, place: Place) -> Situation:
    """Return how things stand at one place."""
    rows = known.found.of[place]
    doubtful: list[int] = []
    unproven: list[int] = []
    suspect: list[int] = []
    proven: list[int] = []
    for end in range(known.size):
        touching = known.touching(place, end)
        if known.broken(place, end) or (touching and rows[end].bit_count() > 1):
            continue
        if rows[end].bit_count() > 1:
            doubtful.append(end)
        elif not known.proven(place, end):
            (suspect if known.suspect(place, end) else unproven).append(end)
        elif not touching:
            proven.append(end)
    proven.sort(key=lambda end: (not known.is_reference(end), end))
    classes = [
        ends
        for ends, mates in look_alikes(
            rows, [e for e in range(known.size) if rows[e] & rows[e] - 1]
        )
        if mates.bit_count() == ends.bit_count()
        and any(ends >> end & 1 for end in doubtful)
        and not any(known.broken(place, end) for end in bits(ends))
        and not any(known.broken(other_place(place), mate) for mate in bits(mates))
        and not _bridged(known, place, ends, mates)
    ]
    sorts = (tuple(ends) for ends in (doubtful, unproven, suspect, proven, classes))
    return Situation(place, *sorts)


def _bridged(known: Deductions, place: Place, ends: int, mates: int) -> bool:
    """Return whether a contact known only at the other place may bridge joins of `ends`."""
    return any(contact & mates for contact in known.contacts.at(other_place(place))) and not any(
        contact & ends for contact in known.contacts.at(place)
    )


def one_walk(known: Deductions, place: Place) -> Groups | None:
    """Return joins at `place` after which one walk identifies every end that is in a class."""
    now = situation(known, place)
    if not now.classes:
        return None if now.doubtful or now.suspect else _prove_all(now)
    width = 2 if known.bundle.joins == "pairs" else None
    free = [[e for e in bits(members) if e in now.doubtful] for members in now.classes]
    degrees = [len(ends) for ends in free] + [1] * len(now.unproven)
    barred = _barred(known, now)
    singles = [[end] for end in now.unproven]
    alone = _would_stay_unproven(known, place, free + singles)
    careful = known.bundle.screen != "none"
    lonely = frozenset(1 << index for index in range(len(degrees) if careful else 0))
    for forbidden in dict.fromkeys((barred | (lonely or alone), barred | alone, barred)):
        work = [LAST_WORK if forbidden == barred else MOST_WORK]
        for helpers in range(min(3, len(now.proven)) + 1):
            wanted = degrees + [1] * helpers
            sets = distinct_sets(wanted, max_size=width, forbidden=forbidden, work=work)
            if sets is not None:
                helping = [[end] for end in now.proven[:helpers]]
                groups = _deal(sets, free + singles + helping)
                return _accompany(known, place, groups, now.proven[helpers:], now.loose)
    return _around_unknown(known, place, now) if not known.begun else None


def _around_unknown(known: Deductions, place: Place, now: Situation) -> Groups | None:
    """Return joins for one walk that leave an end of unknown colour alone, if they exist.

    All others go into different groups of two and more, so that whatever stays open belongs to
    the unknown one. More unknown ends take a reference each.
    """
    ends = known.bundle.near if place == "near" else known.bundle.far
    unknown = [end for end in now.doubtful if ends[end].colour is None]
    if not unknown or not known.trust_colours:
        return None
    colours: dict[str | None, list[int]] = {}
    for end in (*now.doubtful, *now.unproven):
        if end not in unknown:
            colours.setdefault(ends[end].colour, []).append(end)
    spare = len(now.proven) - (len(unknown) - 1)
    classes = list(colours.values())
    width = 2 if known.bundle.joins == "pairs" else None
    for helpers in range(spare + 1 if classes else 0):
        degrees = [len(members) for members in classes] + [1] * helpers
        lone = frozenset(1 << i for i in range(len(degrees)))
        sets = distinct_sets(degrees, max_size=width, forbidden=lone)
        if sets is not None:
            helping = [[end] for end in now.proven[:helpers]]
            with_one = zip(unknown[1:], now.proven[helpers:], strict=False)
            groups = [*_deal(sets, classes + helping), *(1 << a | 1 << b for a, b in with_one)]
            return tuple(sorted(groups))
    return None


def _would_stay_unproven(
    known: Deductions, place: Place, classes: list[list[int]]
) -> frozenset[int]:
    """Return the sets, as bits over the classes, that would hold one unproven end alone."""
    return frozenset(
        1 << index
        for index, ends in enumerate(classes)
        if not all(known.proven(place, end) for end in ends)
    )


def _barred(known: Deductions, now: Situation) -> frozenset[int]:
    """Return the sets of classes that look like a set of ends touching each other."""
    words = set()
    for contact in known.contacts.sure[now.place]:
        held = [i for i, members in enumerate(now.classes) if members & contact]
        if held:
            words.add(mask_of(held))
    return frozenset(words)


def _prove_all(now: Situation) -> Groups | None:
    """Return one join of all that is identified by colour only, to prove it whole."""
    ends = [*now.unproven, *now.proven[:1]]
    return (mask_of(ends),) if len(ends) > 1 and now.unproven else None


def _deal(sets: tuple[tuple[int, ...], ...], ends: list[list[int]]) -> list[int]:
    """Return groups with one end of each class that a set names, each end once."""
    given = [iter(members) for members in ends]
    return [mask_of(next(given[index]) for index in one) for one in sets]


def _accompany(
    known: Deductions, place: Place, groups: list[int], spare: Sequence[int], loose: Sequence[int]
) -> Groups:
    """Return the groups of two and more; lone ends get a proven one for company, if any is left."""
    result = [group for group in groups if group.bit_count() > 1]
    lone = [lowest(group) for group in groups if group.bit_count() == 1]
    waiting = sorted((*lone, *loose), key=lambda end: known.proven(place, end))
    result += [1 << end | 1 << helper for end, helper in zip(waiting, spare, strict=False)]
    return tuple(sorted(result))


def with_references(known: Deductions, place: Place) -> Groups | None:
    """Return joins that hold each doubtful end together with a proven one of its own.

    Ends that can't be mistaken for each other share one; with too few proven ones, they are
    dealt out evenly, and the round only narrows things down.
    """
    now = situation(known, place)
    wanting = (*now.doubtful, *now.suspect)
    if not now.proven or not wanting:
        return None
    rows = known.found.of[place]
    width = 1 if known.bundle.joins == "pairs" else known.size
    shared: list[list[int]] = []
    for end in wanting:
        home = next(
            (g for g in shared if len(g) < width and not any(rows[end] & rows[o] for o in g)), None
        )
        if home is None and len(shared) < len(now.proven):
            shared.append([end])
        elif home is not None:
            home.append(end)
        elif width > 1:
            min(shared, key=len).append(end)
    return tuple(
        sorted(1 << helper | mask_of(g) for helper, g in zip(now.proven, shared, strict=False))
    )


def chained(known: Deductions, place: Place) -> Groups | None:
    """Return joins that chain pairs of an earlier stage over both places."""
    now = situation(known, place)
    stages = [s for s in known.stages if s.at == place]
    if not stages:
        return None
    pairs = [
        tuple(bits(members))
        for members in stages[-1].components()
        if members.bit_count() == 2 and all(end in now.doubtful for end in bits(members))
    ]
    paired = {end for pair in pairs for end in pair}
    heads = [e for e in (*now.unproven, *now.doubtful, *now.proven) if e not in paired]
    if not pairs or not heads:
        return None
    result, tail = [], heads[0]
    for first, second in pairs:
        result.append(1 << tail | 1 << first)
        tail = second
    lone = tuple(e for e in heads[1:] if e not in now.proven)
    return _accompany(known, place, result, [e for e in now.proven if e != heads[0]], lone)


def across(known: Deductions, place: Place) -> Groups | None:
    """Return one join with an end of each class, and all ends that are in none."""
    now = situation(known, place)
    chosen = [min(e for e in bits(members) if e in now.doubtful) for members in now.classes]
    group = [*chosen, *now.loose, *now.unproven]
    if len(group) < 2 or known.bundle.joins == "pairs":
        return None
    return (mask_of(group),)


def all_together(known: Deductions, place: Place) -> Groups | None:
    """Return one join of all doubtful ends: what doesn't read closed then is broken."""
    now = situation(known, place)
    if len(now.doubtful) < 2 or known.bundle.joins == "pairs":
        return None
    if all(known.proven(place, end) for end in now.doubtful):
        return None
    mates = union(known.found.of[place][end] for end in now.doubtful)
    if mates.bit_count() == 2 and (place, (mates,)) in known.evidence.stages:
        return None  # joined at the other place, they told the same
    return (mask_of((*now.doubtful, *now.proven[:1])),)


def anew(known: Deductions, place: Place) -> Groups | None:
    """Return first joins again, of the ends still doubtful."""
    now = situation(known, place)
    return first_groups(known, place, now.doubtful) if len(now.doubtful) > 2 else None


def ways(known: Deductions, place: Place) -> Iterator[Groups | None]:
    """Yield the joins worth trying at a place, best first."""
    yield one_walk(known, place)
    if not known.begun:
        now = situation(known, place)
        yield first_groups(known, place, now.doubtful)
        return
    if not situation(known, place).loose:
        yield chained(known, place)
    yield with_references(known, place)
    yield across(known, place)
    yield anew(known, place)
    yield all_together(known, place)


def next_groups(known: Deductions, place: Place) -> Groups | None:
    """Return what to join at `place` next; `None` if nothing more can be found out from there."""
    if known.evidence.walks >= MOST_WALKS:
        return None
    now = situation(known, place)
    if known.begun and not now.doubtful and not (now.suspect and now.proven):
        return None
    for groups in ways(known, place):
        if groups and (other_place(place), groups) not in known.evidence.stages:
            return groups
    return None
