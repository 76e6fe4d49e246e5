# SPDX-License-Identifier: MIT
"""Whom to touch against whom while nothing is joined: contacts that no joins would show.

Two that are held together whenever something is joined touch unnoticed. And of an end that is in
none of the first joins nothing reads closed there: if its conductor is broken, and the part here
touches another one, that reads the same. Such pairs are touched once before; all others are told
by touches that the joined stages need anyway.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.first_joins import can_all_be_sure, first_groups, joined_once
from wiretrack.ringout.fitting import bridged
from wiretrack.ringout.masks import bits, mask_of, union
from wiretrack.ringout.rounds import one_walk
from wiretrack.ringout.screening import OPEN_TOUCHES

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions

FEW_ENDS = 13  # look-alikes; more of them are told apart by joins that leave none alone
Rows = tuple[int, ...]  # per end, the others to touch it against


def wanted_unjoined(known: Deductions, place: Place, *, helped: bool) -> tuple[Rows, int]:
    """Return who is to be touched against whom at `place` with nothing joined, and how often."""
    if known.found.refused:
        return _everyone(known), OPEN_TOUCHES
    if bridged(known):
        return _everyone(known), 1
    if known.bundle.screen == "none" or known.begun:
        return (0,) * known.size, 0
    if known.bundle.screen == "first":
        return _everyone(known), OPEN_TOUCHES
    return _unnoticed(known, place, helped=helped), 1


def _everyone(known: Deductions) -> Rows:
    whole = (1 << known.size) - 1
    return tuple(whole & ~(1 << end) for end in range(known.size))


def _unnoticed(known: Deductions, place: Place, *, helped: bool) -> Rows:
    """Return the contacts here that the joins to come wouldn't show."""
    ends, none = range(known.bundle.size), (0,) * known.size
    rows = known.start.of[place]
    at = other_place(place) if helped else place  # where the joins will be
    if groups := one_walk(known, at):
        if not helped:
            return _within(known, groups, [0] * known.size)
        seen = [union(known.start.of[at][end] for end in bits(group)) for group in groups]
        return _within(known, seen, rows)
    if len({rows[end] for end in ends}) == 1:
        few = can_all_be_sure(known) and known.bundle.size <= FEW_ENDS
        return _of_those_alone(known, place) if few and not helped else none
    if joined_once(known, place, ends):
        return none
    return _everyone(known) if helped else _within(known, _first(known, place), rows)


def _first(known: Deductions, place: Place) -> tuple[int, ...]:
    return first_groups(known, place, range(known.bundle.size)) or ()


def _within(known: Deductions, groups: Iterable[int], alike: Sequence[int]) -> Rows:
    """Return, per end, those in one group with it; two of which `alike` says the same are apart."""
    found = [0] * known.size
    for group in groups:
        for end in bits(group):
            found[end] |= mask_of(
                one for one in bits(group) if not alike[end] or alike[one] != alike[end]
            )
    return tuple(row & ~(1 << end) for end, row in enumerate(found))


def _of_those_alone(known: Deductions, place: Place) -> Rows:
    """Return, per end, those against which one of both is in none of the first joins; or all.

    All where that is less: one touch less is needed then between any two groups.
    """
    groups, size = _first(known, place), known.bundle.size
    whole = (1 << size) - 1
    alone = whole & ~union(groups)
    count, joined = len(groups) + alone.bit_count(), size - alone.bit_count()
    if joined * (joined - 1) <= count * (count - 1):
        alone = whole
    rows = ((whole if alone >> end & 1 else alone) & ~(1 << end) for end in range(size))
    return (*rows, *(0 for _ in known.bundle.references))
