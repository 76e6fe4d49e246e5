# SPDX-License-Identifier: MIT
"""What to read before a reading is taken, by what it is of."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from wiretrack.electrical.cautions import once
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.entity import Point
from wiretrack.readings import kind_of
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import ABANDONED, ABANDONED_CAUTION

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from wiretrack.model.parts import Device
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry


def cautions_for(registry: Registry, kind: str, what: str) -> tuple[str, ...]:
    """Return what to read before a reading of `kind` on the conductor or circuit `what`."""
    named, site = resolve(registry, what, ("conductor", "circuit")), site_of(registry)
    of: type[Conductor | Circuit] = Conductor if named.what == "conductor" else Circuit
    return cautions_of(site, kind, site.one(of, named.code))


def cautions_of(site: Site, kind: str, thing: Conductor | Device | Circuit) -> tuple[str, ...]:
    """Return what to read before a reading of `kind` of a thing."""
    if isinstance(thing, Conductor):
        return cautions_at(site, kind, [thing], thing.circuits)
    if isinstance(thing, Circuit):
        return cautions_at(site, kind, thing.conductors, [thing.code])
    places = {Point(thing.enclosure, name) for pole in thing.poles for name in pole}
    found = site.find(Conductor, "terminal", places)
    circuits = [code for conductor in found for code in conductor.circuits]
    return cautions_at(site, kind, found, circuits, {thing.enclosure})


def cautions_at(
    site: Site, kind: str, found: Sequence[Conductor], circuits: Collection[str],
    boxes: Collection[str] | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Return what to read before a reading of `kind` at the ends of conductors of circuits.

    `boxes` are the enclosures to be opened, where they aren't those of the ends.
    """
    systems = {c.system: None for c in site.find(Circuit, "code", circuits)} or {None: None}
    if boxes is None:
        boxes = {end.enclosure for c in found for end in c.ends}
    kinds = {e.kind for e in site.find(Enclosure, "code", boxes) if e.kind}
    warned = (kind_of(kind).cautions(system, tuple(sorted(kinds))) for system in systems)
    abandoned = any(c.retired_because == ABANDONED for c in found)
    return once(chain([ABANDONED_CAUTION] if abandoned else [], *warned))
