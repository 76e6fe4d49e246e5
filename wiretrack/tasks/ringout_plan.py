# SPDX-License-Identifier: MIT
"""Planning a ring-out: what each method of the trade will take, before anything is twisted."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from wiretrack.ringout.methods import DIODE_NOTE, compare_methods, information_bound
from wiretrack.tasks.ringout_request import bundle_of, settings_for

if TYPE_CHECKING:
    from wiretrack.registry.store import Registry
    from wiretrack.tasks.ringout_request import Wanted


def ringout_plan(registry: Registry, wanted: Wanted) -> dict[str, Any]:
    """Return walks, joins and touches of every method for the ring-out that is `wanted`.

    ``bound`` is log2 of the number of arrangements: no plan can do with fewer touches on average.
    """
    settings = settings_for(registry, wanted)
    bundle = bundle_of(settings)
    methods = compare_methods(bundle)
    notes = []
    alike = Counter(end.colour for end in bundle.near)
    if not methods[0].forecast.whole:
        notes.append("Continuity alone can't tell these apart; a reference, a resistor would help.")
    if any(count == 2 for count in alike.values()):
        notes.append(DIODE_NOTE)
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
                "walks": method.forecast.walks,
                "joins": method.forecast.joins,
                "touches_expected": method.forecast.expected,
                "touches_worst": method.forecast.worst,
                "touches_for_contacts": method.forecast.screening,
                "identifies_all": method.forecast.whole,
            }
            for method in methods
        ],
        "notes": notes,
    }
