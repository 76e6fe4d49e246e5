# SPDX-License-Identifier: MIT
"""All that is joined with a conductor or terminal, as a tree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.tags import parse_tag
from wiretrack.model.tree import Branch, tree_from, tree_lines
from wiretrack.model.wiring import Link, Wiring
from wiretrack.render.tree import tree_svg
from wiretrack.store.source import site_of
from wiretrack.tasks.find.tracing import path_as_json, traced

if TYPE_CHECKING:
    from wiretrack.model.path import Path
    from wiretrack.model.wiring import Network
    from wiretrack.store.store import Registry


def tree_of(registry: Registry, what: str) -> dict[str, Any]:
    """Return all that is joined with a conductor or terminal, as a tree from its source's side.

    Beside the tree as text (``lines``) there is the loop that it contains, if it does.
    """
    path, network = _path_and_network(registry, what)
    root = _root(path)
    top = tree_from(network, root)
    loop = [link.name for link in network.loop(root)]
    return {
        **path_as_json(path),
        "root": {"enclosure": root.enclosure, "terminal": root.terminal},
        "tree": _as_json(top),
        "lines": tree_lines(top),
        "loop": list(dict.fromkeys(loop)),
    }


def tree_picture(registry: Registry, what: str) -> str:
    """Return the tree as an SVG document, the path of `what` drawn broad."""
    path, network = _path_and_network(registry, what)
    lit = [k.name for k in path.steps if isinstance(k, Link) and k.what == "conductor"]
    return tree_svg(tree_from(network, _root(path)), f"What is joined with {what}", lit)


def _path_and_network(registry: Registry, what: str) -> tuple[Path, Network]:
    """Return the path of what a word names, and all that is joined with it."""
    wiring = Wiring(site_of(registry))
    path = traced(registry, wiring, what)
    first = path.steps[0]
    if isinstance(first, Point):
        return path, wiring.joined([first])
    return path, wiring.joined([], [wiring.site.one(Conductor, parse_tag(first.name))])


def _root(path: Path) -> Point:
    """Return the point where a path begins, at its source's side."""
    first = path.steps[0]
    return first if isinstance(first, Point) else first.one


def _as_json(branch: Branch) -> dict[str, Any]:
    link = branch.link
    return {
        "enclosure": branch.point.enclosure,
        "terminal": branch.point.terminal,
        "by": None if link is None else {link.what: link.name},
        "stop": branch.stop or None,
        "ways": [_as_json(way) for way in branch.ways],
    }
