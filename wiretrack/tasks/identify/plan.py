# SPDX-License-Identifier: MIT
"""Planning a ring-out: what each method of the trade will take, before anything is twisted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.ringout.methods import (
    ABOUT_NOTE,
    DIODE_NOTE,
    compare_methods,
    information_bound,
)
from wiretrack.tasks.identify.request import bundle_of, settings_for

if TYPE_CHECKING:
    from wiretrack.store.store import Registry
    from wiretrack.tasks.identify.request import Wanted


def ringout_plan(registry: Registry, wanted: Wanted) -> dict[str, Any]:
    """Return walks, joins and touches of every method for the ring-out that is `wanted`.

    ``bound`` is log2 of the number of arrangements: no plan can do with fewer touches on average.
    """
    settings = settings_for(registry, wanted)
    bundle = bundle_of(settings)
    methods = compare_methods(bundle)
    notes = []
    alone = methods[0].forecast
    names = {method.name for method in methods}
    if not alone.whole:
        notes.append("Continuity alone can't tell these apart; a reference or a diode would help.")
    if "diode" in names and not bundle.diode:
        notes.append(DIODE_NOTE)
    elif bundle.diode and "diode" not in names:
        notes.append("A diode isn't needed here: joins tell all apart in as few walks.")
    if any(method.forecast.about for method in methods):
        notes.append(ABOUT_NOTE)
    return {
        "pull": wanted.pull,
        "near": settings["near_box"],
        "far": settings["far_box"],
        "conductors": bundle.size,
        "bound": round(information_bound(bundle), 1),
        "methods": [
            {
                "method": method.name,
                "needs": method.needs,
                "why": method.why,
                "walks": method.forecast.walks,
                "joins": method.forecast.joins,
                "touches_expected": method.forecast.expected,
                "touches_worst": method.forecast.worst,
                "touches_for_contacts": method.forecast.screening,
                "identifies_all": method.forecast.whole,
                "about": method.forecast.about,
            }
            for method in methods
        ],
        "notes": notes,
    }
