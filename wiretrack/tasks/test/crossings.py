# SPDX-License-Identifier: MIT
"""Readings that were judged by a landing since found crossed: they prove nothing any more.

Continuity and loop readings rest on which end was touched at the far box, voltages on which
terminal was at which pole. Insulation readings don't: both conductors were tested either way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import before
from wiretrack.readings import kind_of
from wiretrack.store.records import crossings

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def is_stale(reading: Reading, crossed: Mapping[str, str]) -> bool:
    """Return whether a reading was judged by a landing that was found crossed later."""
    if not crossed or not kind_of(reading.kind).rests_on_landing:
        return False
    named = (reading.subject, reading.against)
    found = [crossed[tag] for tag in named if tag is not None and tag in crossed]
    return any(before(reading.at, moment) for moment in found)


def standing(registry: Registry, found: Iterable[Reading]) -> list[Reading]:
    """Return the readings that still rest on the landing as it is."""
    crossed = crossings(registry)
    return [reading for reading in found if not is_stale(reading, crossed)]
