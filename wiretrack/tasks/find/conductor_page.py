# SPDX-License-Identifier: MIT
"""All that a conductor's page shows, each fact of it asked of the registry once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import TagError
from wiretrack.model.entities import Conductor, readings_of
from wiretrack.model.path import path_of
from wiretrack.model.tags import parse_tag
from wiretrack.model.wiring import Wiring
from wiretrack.readings.base import latest
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.find.conductors import conductor_record
from wiretrack.tasks.find.tracing import path_as_json
from wiretrack.tasks.label.truth import labels_of
from wiretrack.tasks.report.punchlist import open_points_of

if TYPE_CHECKING:
    from wiretrack.store.store import Registry
    from wiretrack.tasks.report.punchlist import OpenPoint


@dataclass(frozen=True)
class ConductorPage:
    """A conductor's record, its path (`None` if it is retired), and what is open about it."""

    record: dict[str, Any]
    path: dict[str, Any] | None
    points: list[OpenPoint]


def conductor_page(registry: Registry, text: str) -> ConductorPage:
    """Return what there is to show of the conductor that `text` (a tag in any writing) names.

    Raises
    ------
    NotFoundError, TagError
        If none is called so.
    """
    found = _with_its_circuit(registry, text)
    conductor = next(one for one in found[0] if one.tag == found[1])
    members = [one for one in found[0] if one.retired_at is None]
    taken = readings_of(found[0])
    labels = labels_of(registry, [conductor])
    in_service = {one.tag for one in members}
    rested = [
        reading
        for reading in latest(taken)
        if reading.subject in in_service and not reading.is_stale
    ]
    return ConductorPage(
        record=conductor_record(registry, conductor, labels),
        path=None if conductor.retired_at is not None else _path(registry, conductor),
        points=open_points_of(conductor, labels, rested),
    )


def _path(registry: Registry, conductor: Conductor) -> dict[str, Any]:
    wiring = Wiring(site_of(registry))
    return path_as_json(path_of(wiring, wiring.link(conductor)))


def _with_its_circuit(registry: Registry, text: str) -> tuple[list[Conductor], str]:
    """Return the conductors of the circuit of the one named, retired ones too, and its tag."""
    tag: str
    try:
        tag = parse_tag(text)
    except TagError:
        tag = tag_of(registry, text)  # which names the known tags a slip away
    site = site_of(registry)
    named = site.at(Conductor, "tag", tag)
    if not named:
        return [], tag_of(registry, text)
    found = site.find(Conductor, "circuit", named[0].circuits) if named[0].circuits else [*named]
    return found, tag
