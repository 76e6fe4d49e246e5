# SPDX-License-Identifier: MIT
"""What to join next, so that the fewest walks identify all.

Ends that look alike so far (same colour, same group of an earlier stage) form a class. One more
walk suffices when the ends can be put into groups that hold no class twice and no two of which
hold the same classes. Otherwise the first joins cut the classes so that the next walk suffices:
group sizes k, k-1, ..., 1 do it for k(k+1)/2 look-alikes, and few more cases fill the gaps.
Where faults upset the plan, proven conductors serve as references, one for each doubtful end.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.choice_sets import MOST_WORK, distinct_sets
from wiretrack.ringout.exchanges import deal
from wiretrack.ringout.first_joins import first_groups
from wiretrack.ringout.masks import bits, look_alikes, lowest, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.deductions import Deductions

Groups = tuple[int, ...]
MOST_OTHERS = 12  # doubtful ends for each pair in a chain
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
        """The doubtful ends that are in no class."""
        whole = union(self.classes)
        return tuple(end for end in (*self.doubtful, *self.suspect) if not whole >> end & 1)


def situation(known: Deductions, place: Place) -> Situation:
    """Return how things stand at one place."""
    key, state = ("situation", place), known.state()
    return known.evidence.remember(key, state, lambda: _situation(known, place))


def _situation(known: Deductions, place: Place) -> Situation:
    rows, there = known.found.of[place], other_place(place)
    doubtful: list[int] = []
    unproven: list[int] = []
    suspect: list[int] = []
    proven: list[int] = []
    for end in range(known.size):
        touching = known.touching(place, end)
        gone = known.broken(place, end) or known.lone(place, end)
        if gone or (touching and rows[end].bit_count() > 1):
            continue
        if rows[end].bit_count() > 1:
            doubtful.append(end)
        elif not known.proven(place, end):
            (suspect if known.suspect(place, end) else unproven).append(end)
        elif not touching:
            proven.append(end)
    proven.sort(key=lambda end: (not known.is_reference(end), end))

    def is_bridged(ends: int, mates: int) -> bool:
        """Return whether a contact known only at the other place may bridge joins of `ends`."""
        return any(contact & mates for contact in known.contacts.at(there)) and not any(
            contact & ends for contact in known.contacts.at(place)
        )

    open_ends = [end for end in range(known.size) if rows[end] & rows[end] - 1]
    classes = [
        ends
        for ends, mates in look_alikes(rows, open_ends)
        if mates.bit_count() == ends.bit_count()
        and any(ends >> end & 1 for end in doubtful)
        and not any(known.broken(place, end) for end in bits(ends))
        and not any(known.broken(there, mate) for mate in bits(mates))
        and not is_bridged(ends, mates)
    ]
    return Situation(place, *map(tuple, (doubtful, unproven, suspect, proven, classes)))


def one_walk(known: Deductions, place: Place) -> Groups | None:
    """Return joins at `place` after which one walk identifies every end that is in a class."""
    now = situation(known, place)
    if not now.classes:  # what is identified by colour only is joined, to prove it whole
        ends = [*now.unproven, *now.proven[:1]]
        prove_all = len(ends) > 1 and now.unproven and not (now.doubtful or now.suspect)
        return (mask_of(ends),) if prove_all else None
    free = [[e for e in bits(members) if e in now.doubtful] for members in now.classes]
    ends_of = free + [[end] for end in now.unproven]
    degrees = [len(ends) for ends in ends_of]
    contacts = known.contacts.sure[place]
    held = (mask_of(i for i, g in enumerate(now.classes) if g & one) for one in contacts)
    barred = frozenset(filter(None, held))  # sets of classes that look like ends that touch
    alone = frozenset(  # sets that would hold one unproven end alone
        1 << i
        for i, ends in enumerate(ends_of)
        if not all(known.proven(place, end) for end in ends)
    )
    careful = known.bundle.screen != "none"
    lonely = frozenset(1 << i for i in range(len(degrees) if careful else 0))
    fellows = _fellows(known, place, ends_of)
    rules = dict.fromkeys((barred | (lonely or alone), barred | alone, barred))
    work = [MOST_WORK]
    for apart, forbidden in product(dict.fromkeys((fellows, ())), rules):
        for helpers in range(min(3, len(now.proven)) + 1):
            wanted = degrees + [1] * helpers
            sets = distinct_sets(
                wanted, max_size=_width(known), forbidden=forbidden, apart=apart, work=work
            )
            if sets is not None:
                with_helpers = ends_of + [[end] for end in now.proven[:helpers]]
                groups = deal(known, place, sets, with_helpers)
                return _accompany(known, place, groups, now.proven[helpers:], now.loose)
    return _around_unknown(known, place, now) if not known.begun else None


def _fellows(known: Deductions, place: Place, ends_of: Sequence[Sequence[int]]) -> tuple[int, ...]:
    """Return, per class, those with an end that was joined to one of its own; empty for none.

    Two that are joined both times can touch unnoticed, unless contacts were searched for first.
    """
    if known.bundle.screen == "none" or any(known.bare_depth(at) for at in PLACES):
        return ()
    sets = [one for s in known.stages if s.at == place for one in s.components() if one & one - 1]
    masks = [mask_of(ends) for ends in ends_of]
    found = [
        mask_of(j for j, b in enumerate(masks) if i != j and any(s & a and s & b for s in sets))
        for i, a in enumerate(masks)
    ]
    return tuple(found) if any(found) else ()


def _width(known: Deductions) -> int | None:
    return 2 if known.bundle.joins == "pairs" else None


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
    for helpers in range(spare + 1 if classes else 0):
        degrees = [len(members) for members in classes] + [1] * helpers
        lone = frozenset(1 << i for i in range(len(degrees)))
        sets = distinct_sets(degrees, max_size=_width(known), forbidden=lone)
        if sets is not None:
            ends_of = classes + [[end] for end in now.proven[:helpers]]
            dealt = deal(known, place, sets, ends_of)
            with_one = zip(unknown[1:], now.proven[helpers:], strict=False)
            return tuple(sorted([*dealt, *(1 << a | 1 << b for a, b in with_one)]))
    return None


def _accompany(
    known: Deductions, place: Place, groups: list[int], spare: Sequence[int], loose: Sequence[int]
) -> Groups:
    """Return the groups of two and more; lone ends get a proven one for company, if any is left."""
    result = [group for group in groups if group.bit_count() > 1]
    lone = [lowest(group) for group in groups if group.bit_count() == 1]
    waiting = sorted((*lone, *loose), key=lambda end: known.proven(place, end))
    result += [1 << end | 1 << helper for end, helper in zip(waiting, spare, strict=False)]
    return tuple(sorted(result))


def _with_references(known: Deductions, place: Place) -> Groups | None:
    """Return joins that hold each doubtful end together with a proven one of its own.

    Ends that can't be mistaken for each other share one; with too few proven ones, they are
    dealt out evenly, and the round only narrows things down.
    """
    now = situation(known, place)
    wanting = (*now.doubtful, *now.suspect, *known.unheard(place))
    if not now.proven or not wanting:
        return None
    rows = known.found.of[place]
    width = 1 if known.bundle.joins == "pairs" else known.size
    shared: list[list[int]] = []
    together, uneven = mask_of(now.doubtful), any(known.bundle.absent.values())
    few = uneven and len(now.proven) < len(now.doubtful)
    if width > 1 and few and not together & ~known.whole(place):
        silent = mask_of(known.unheard(place)) & ~together
        if silent and together & together - 1 and not now.suspect:
            return tuple(sorted((together, 1 << now.proven[0] | silent)))
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
    with_one = zip(now.proven, shared, strict=False)
    return tuple(sorted(1 << helper | mask_of(group) for helper, group in with_one))


def _chained(known: Deductions, place: Place) -> Groups | None:
    """Return joins that chain pairs of an earlier stage over both places, unless they are few.

    The ends of each pair would have to be found among too many others then.
    """
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
    if not pairs or not heads or len(now.doubtful) > MOST_OTHERS * len(pairs):
        return None
    result, tail = [], heads[0]
    for first, second in pairs:
        result.append(1 << tail | 1 << first)
        tail = second
    lone = tuple(e for e in heads[1:] if e not in now.proven)
    return _accompany(known, place, result, [e for e in now.proven if e != heads[0]], lone)


def _across(known: Deductions, place: Place) -> Groups | None:
    """Return one join with an end of each class, and all ends that are in none."""
    now = situation(known, place)
    chosen = [min(e for e in bits(members) if e in now.doubtful) for members in now.classes]
    group = [*chosen, *now.loose, *now.unproven]
    return (mask_of(group),) if len(group) > 1 and known.bundle.joins != "pairs" else None


def _all_together(known: Deductions, place: Place) -> Groups | None:
    """Return one join of all doubtful ends: what doesn't read closed then is broken."""
    now = situation(known, place)
    if len(now.doubtful) < 2 or known.bundle.joins == "pairs":
        return None
    if all(known.proven(place, end) for end in now.doubtful):
        return None
    return (mask_of((*now.doubtful, *now.proven[:1])),)


def _listened(known: Deductions, place: Place) -> Groups | None:
    """Return joins of silent ends with whole ones: touched at the other place, a bad contact shows.

    An end is open only if it was silent at both places.
    """
    silent, there = known.unheard(place), other_place(place)
    whole = [
        end
        for end in reversed(bits(known.whole(place)))
        if end not in silent and not known.touching(place, end)
    ]
    if not whole:  # all that were joined were silent: join what may be theirs here, too
        silent = list(situation(known, place).suspect)
        whole, silent = silent[:1], silent[1:]
    one_each = known.bundle.joins == "pairs" or len(whole) >= len(silent)
    for first in range(len(whole) if silent else 0):
        helpers = whole[first:] + whole[:first]
        pairs = zip(silent, helpers, strict=False)
        groups = tuple(sorted(1 << a | 1 << b for a, b in pairs))
        groups = groups if one_each else (mask_of((*silent, helpers[0])),)
        if (there, groups) not in known.evidence.stages:
            return groups
    return None


def _ways(known: Deductions, place: Place) -> Iterator[Groups | None]:
    """Yield the joins worth trying at a place, best first."""
    yield one_walk(known, place)
    now = situation(known, place)
    if not known.begun:
        yield first_groups(known, place, now.doubtful)
        if not any(known.bundle.absent.values()):
            return
    if not now.loose:
        yield _chained(known, place)
    yield _with_references(known, place)
    yield _across(known, place)
    yield first_groups(known, place, now.doubtful) if len(now.doubtful) > 2 else None
    yield _all_together(known, place)
    yield _listened(known, place)


def next_groups(known: Deductions, place: Place) -> Groups | None:
    """Return what to join at `place` next; `None` if nothing more can be found out from there."""
    if known.evidence.walks >= MOST_WALKS:
        return None
    now = situation(known, place)
    is_open = now.doubtful or (now.suspect and now.proven) or _listened(known, place)
    uneven = any(known.bundle.absent.values())
    if uneven:  # all others being taken proves nothing then
        is_open = is_open or now.unproven
    if known.begun and not is_open:
        return None
    for groups in _ways(known, place):
        made = (other_place(place), groups) in known.evidence.stages
        if groups and not made and not (uneven and _is_foregone(known, now, groups)):
            return groups
    return None


def _is_foregone(known: Deductions, now: Situation, groups: Groups) -> bool:
    """Return whether joins can tell nothing: all that is doubtful is whole, and in the only one."""
    joined = groups[0] if len(groups) == 1 else 0
    ends = mask_of((*now.doubtful, *now.suspect))
    return bool(joined) and not ends & ~joined and not joined & ~known.whole(now.place)
