# SPDX-License-Identifier: MIT
"""What each method of a ring-out takes, before it is begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.forecast import (
    ABOUT_NOTE,
    DIODE_NOTE,
    Method,
    compare_methods,
    in_one_tour,
    information_bound,
)
from wiretrack.tasks.identify.request import Wanted, settings_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.bundle import Bundle, Times
    from wiretrack.store.store import Registry


@dataclass(frozen=True, kw_only=True)
class RingoutPlan:
    """Walks, joins and touches of every method, the plainest first.

    `bound` is log2 of the number of arrangements: no plan can do with fewer touches on average.
    """

    pull: str
    near: str
    far: str
    conductors: int
    bound: float
    times: Times
    methods: tuple[Method, ...]
    notes: tuple[str, ...]


def ringout_plan(registry: Registry, wanted: Wanted) -> RingoutPlan:
    """Return what each method takes for the ring-out that is `wanted`."""
    settings = settings_for(registry, wanted)
    bundles = list(settings.bundles.values())
    methods = in_one_tour([compare_methods(bundle) for bundle in bundles])
    return RingoutPlan(
        pull=wanted.pull,
        near=settings.near_box,
        far=settings.far_boxes,
        conductors=sum(bundle.size for bundle in bundles),
        bound=round(sum(map(information_bound, bundles)), 1),
        times=settings.times,
        methods=tuple(methods),
        notes=tuple(_notes(bundles[0], methods)),
    )


def _notes(bundle: Bundle, methods: Sequence[Method]) -> Iterator[str]:
    names = {method.name for method in methods}
    if not methods[0].forecast.whole:
        yield "Continuity alone can't tell these apart; a reference or a diode would help."
    if "diode" in names and not bundle.diode:
        yield DIODE_NOTE
    elif bundle.diode and "diode" not in names:
        yield "A diode isn't needed here: joins tell all apart in as few walks."
    if any(method.forecast.about for method in methods):
        yield ABOUT_NOTE
