# SPDX-License-Identifier: MIT
"""Retiring a conductor or a whole circuit: pulled out, or left in place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.registry import changing, service, wiring
from wiretrack.registry.dumping import circuits
from wiretrack.registry.searching import resolve
from wiretrack.tags import format_tag
from wiretrack.tasks.change_results import labels_to_take_off, read_after, ringouts_touched
from wiretrack.tasks.conductors import route_of
from wiretrack.tasks.moments import moment_of_change
from wiretrack.tasks.retired import (
    ABANDONED,
    ABANDONED_CAUTION,
    conductor_in_service,
    refuse_retired_circuit,
    refuse_too_early,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.records import Conductor
    from wiretrack.registry.store import Registry

REMOVED = "removed"


def retire(
    registry: Registry,
    what: str,
    *,
    abandoned: bool,
    at: str | None = None,
    who: str | None = None,
) -> dict[str, Any]:
    """Retire the conductor or the circuit that `what` names, as one durable change.

    `abandoned` conductors stay in their raceways, the others are drawn out. Readings, history and
    tags stay for good.

    Raises
    ------
    RetiredError
        If it is retired already.
    """
    moment = moment_of_change(at)
    because = ABANDONED if abandoned else REMOVED
    with registry.write(who):
        named = resolve(registry, what, ("circuit", "conductor"))
        if named.what == "circuit":
            refuse_retired_circuit(circuits(registry, "code = ?", [named.code])[0])
            found = service.conductors(registry, "k.code = ?", [named.code])
            changing.retire_circuit(registry, named.code, moment)
        else:
            found = [conductor_in_service(registry, named.code)]
        refuse_too_early(registry, found, moment)
        for conductor in found:
            changing.retire_conductor(registry, conductor.tag or "", moment, because)
        notes = [
            *ringouts_touched(registry, found),
            *_terminals_empty(registry, found),
            *(() if abandoned else read_after(registry, found, moment)),
        ]
    return {
        "what": named.what,
        "code": named.code if named.what == "circuit" else format_tag(named.code),
        "at": moment,
        "because": because,
        "conductors": [_row(registry, conductor) for conductor in found],
        "take_off": labels_to_take_off(registry, found) if abandoned else [],
        "notes": notes,
        "cautions": [ABANDONED_CAUTION, LAST_WORD] if abandoned and found else [],
    }


def _row(registry: Registry, conductor: Conductor) -> dict[str, Any]:
    return {
        "tag": format_tag(conductor.tag or ""),
        "circuit": conductor.circuit,
        "function": conductor.function,
        "route": route_of(registry, conductor),
        "ends": [conductor.from_end.place, conductor.to_end.place],
    }


def _terminals_empty(registry: Registry, found: Sequence[Conductor]) -> list[str]:
    """Return a sentence that names the terminals on which nothing is landed any more."""
    places = dict.fromkeys(
        wiring.Place(end.enclosure, end.terminal)
        for conductor in found
        for end in (conductor.from_end, conductor.to_end)
        if end.terminal
    )
    empty = [f"{p.enclosure} {p.terminal}" for p in places if not wiring.ends_at(registry, p)]
    return [f"Nothing is landed any more on {', '.join(empty)}."] if empty else []
