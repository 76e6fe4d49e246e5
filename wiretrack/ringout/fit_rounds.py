# SPDX-License-Identifier: MIT
"""Which resistors to fit where, so that one reading a conductor tells it from its look-alikes.

With as many usable values as look-alikes one walk does it. With fewer, ends share a value in
joined groups, and a second round from the other place tells the members of each group apart:
k values serve k times k look-alikes in two walks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import mask_of
from wiretrack.ringout.resistors import usable
from wiretrack.ringout.rounds import one_walk, situation
from wiretrack.ringout.steps import Fit, Fitted

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.rounds import Groups

MOST_ROUNDS = 2  # with more, joins alone need no more walks
LEAST_HIDDEN = 3  # ends that can be told apart although one of them is an unknown common return


def fit_round(known: Knowledge, place: Place) -> tuple[Groups, Fit] | None:
    """Return joins and resistors to put on at `place`, or `None` if the kit doesn't help."""
    if not known.bundle.resistors or known.found.refused:
        return None
    now = situation(known, place)
    if not now.doubtful:
        return None
    if now.proven:
        found = _with_common(known, place, now.proven[0], now.doubtful)
    else:
        found = _with_hidden_common(known, place, now.doubtful)
    if found is None:
        return None
    groups, fit = found
    tried = known.facts.fitted.get((fit, groups))
    return None if tried and tried.touches else found


def _with_common(
    known: Knowledge, place: Place, common: int, ends: tuple[int, ...]
) -> tuple[Groups, Fit] | None:
    values = usable(known.bundle)
    rows = known.found.of[place]
    classes: dict[int, list[int]] = {}
    for end in ends:
        classes.setdefault(rows[end], []).append(end)
    largest = max(len(members) for members in classes.values())
    if len(values) < 2 or len(values) ** MOST_ROUNDS < largest:
        return None
    if len(values) < largest and one_walk(known, place):
        return None
    if len(ends) <= len(values):
        sharing = [[end] for end in ends]
    else:
        sharing = [[] for _ in values]
        for members in classes.values():
            for i, end in enumerate(members):
                sharing[i % len(values)].append(end)
        sharing = [group for group in sharing if group]
    if known.bundle.joins == "pairs" and any(len(group) > 2 for group in sharing):
        return None
    return _step(known, place, sharing, values, common)


def _with_hidden_common(
    known: Knowledge, place: Place, ends: tuple[int, ...]
) -> tuple[Groups, Fit] | None:
    values = usable(known.bundle, hidden_common=True)
    if len(ends) < LEAST_HIDDEN or len(values) < len(ends) - 1:
        return None
    return _step(known, place, [[end] for end in ends[:-1]], values, ends[-1])


def _step(
    known: Knowledge,
    place: Place,
    sharing: list[list[int]],
    values: tuple[float, ...],
    common: int,
) -> tuple[Groups, Fit]:
    names = known.bundle.names(place)
    groups = tuple(sorted(mask_of(group) for group in sharing if len(group) > 1))
    resistors = tuple(
        Fitted(names[group[0]], value) for group, value in zip(sharing, values, strict=False)
    )
    return groups, Fit(place, resistors, names[common])
