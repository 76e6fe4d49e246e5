# SPDX-License-Identifier: MIT
"""Touches in a stage with one join only: all against an end that is known to be in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import lowest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.ringout.probing import Model

Pair = tuple[int, int]


def the_join(model: Model) -> int | None:
    """Return the place of the only group with more than one end, if there is just one."""
    if model.glue or any(model.apart):
        return None
    joined = [index for index, room in enumerate(model.room) if room > 1]
    return joined[0] if len(joined) == 1 else None


def next_against_it(
    model: Model,
    components: Sequence[int],
    opens: Callable[[int, int], int],
    most: int,
) -> Pair | None:
    """Return the next end to touch against the join, the least often touched first.

    `None` if no end is known to be in the join, or if every end that may be was touched `most`
    times. Each end of the join is wanted closed, so no touch between two others says as much.
    """
    join = the_join(model)
    if join is None:
        return None
    inside = [members for members in components if model.fitting(members) == 1 << join]
    if not inside:
        return None if model.structures else _first_guess(model, join, components, opens)
    anchor = max(inside, key=lambda members: members.bit_count())
    best: tuple[int, int, int] | None = None
    for place, members in enumerate(components):
        if members == anchor or not model.fitting(members | anchor):
            continue
        rank = (opens(anchor, members), members not in inside, place)
        if rank[0] < most and (best is None or rank < best):
            best = rank
    return None if best is None else (lowest(anchor), lowest(components[best[2]]))


def _first_guess(
    model: Model, join: int, components: Sequence[int], opens: Callable[[int, int], int]
) -> Pair | None:
    """Return two ends not touched yet, likely in the join both; `None` if there are none left."""
    fresh = [
        members
        for members in components
        if model.fitting(members) >> join & 1
        and not any(opens(members, other) for other in components if other != members)
    ]
    fresh.sort(key=lambda members: -_share(model, join, lowest(members)))
    for place, first in enumerate(fresh):
        for second in fresh[place + 1 :]:
            if model.fitting(first | second):
                return lowest(first), lowest(second)
    return None


def _share(model: Model, join: int, end: int) -> float:
    """Return which part of the ends of a kind is in the join."""
    kind = model.kind[end]
    return model.caps[kind][join] / model.totals[kind]


def most_against_it(model: Model, join: int) -> int:
    """Return the most touches that finding all ends of the join can take.

    Each end that may be in it is touched once against one that is. Where none is known to be,
    the first closed touch takes half as many, and few more, to find (the join holds half).
    """
    masks = [model.fitting(1 << end) for end in model.order]
    open_to = sum(mask >> join & 1 and mask != 1 << join for mask in masks)
    if any(mask == 1 << join for mask in masks):
        return open_to + sum(mask == 1 << join for mask in masks) - 1
    return open_to + open_to // 2 + 4
