# SPDX-License-Identifier: MIT
"""Following a path from what a word names, end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError, TagError
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.path import path_of, path_through
from wiretrack.model.wiring import ALWAYS_JOINED, Wiring
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.store.wiring import find_terminal
from wiretrack.tasks.change.retired import refuse_retired

if TYPE_CHECKING:
    from wiretrack.model.path import Path
    from wiretrack.model.wiring import Link
    from wiretrack.store.store import Registry

Item = dict[str, Any]


def trace(registry: Registry, what: str) -> dict[str, Any]:
    """Return ``{"path", "branches", "stops"}`` from a conductor (tag) or a terminal.

    ``path`` runs from the end that the record calls "from" (the source, where the record was
    written that way) to the load. ``stops`` says in words why the path ends at each side.
    """
    wiring = Wiring(site_of(registry))
    return path_as_json(traced(registry, wiring, what))


def traced(registry: Registry, wiring: Wiring, what: str) -> Path:
    """Return the path from a conductor in service, or from a terminal."""
    start = _start(registry, what)
    if isinstance(start, Point):
        return path_through(wiring, start)
    conductor = wiring.site.one(Conductor, start)
    refuse_retired(registry, conductor)
    return path_of(wiring, wiring.link(conductor))


def path_as_json(path: Path) -> dict[str, Any]:
    """Return a path as a document."""
    return {
        "path": [_terminal(s) if isinstance(s, Point) else _link(s) for s in path.steps],
        "branches": [
            {
                **_terminal(branching.point),
                "reason": branching.reason,
                "conductors": [k.name for k in branching.ways if k.what == "conductor"],
                "devices": list(
                    dict.fromkeys(k.name for k in branching.ways if k.what == "device")
                ),
            }
            for branching in path.branches
        ],
        "stops": list(path.stops),
    }


def _start(registry: Registry, what: str) -> Point | str:
    """Return the terminal, or the tag, that a word names."""
    try:
        return resolve(registry, what, ("conductor",)).code
    except TagError:
        raise
    except NotFoundError as error:
        if error.near:
            raise
        return find_terminal(registry, what)


def _terminal(point: Point) -> Item:
    return {"terminal": point.terminal, "enclosure": point.enclosure}


def _link(link: Link) -> Item:
    if link.what == "device":
        return {
            "device": link.name,
            "enclosure": link.one.enclosure,
            "kind": link.kind,
            "closed": True if link.kind in ALWAYS_JOINED else link.closed,
        }
    return {
        "conductor": link.name,
        "enclosure": None,
        "circuit": link.circuit,
        "function": link.function,
    }
