# SPDX-License-Identifier: MIT
"""The site's wiring as a network: trees from any point, and what a device leaves live."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.cautions import INVERTER
from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.model.entities import Circuit, Conductor, Device, Enclosure
from wiretrack.model.entity import Point
from wiretrack.model.isolating import isolate, supplies_of
from wiretrack.model.tags import parse_tag
from wiretrack.model.tree import Branch, tree_from, tree_lines
from wiretrack.model.wiring import Link, Network, Wiring
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.readings.voltage import VOLTAGE
from wiretrack.render.tree import tree_svg
from wiretrack.store import records
from wiretrack.store.source import site_of
from wiretrack.store.wiring import devices_called, find_terminal
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.find.tracing import path_as_json, traced

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from wiretrack.model.isolating import Supply
    from wiretrack.model.path import Path
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

UNSWITCHED = ("PE", "FE", "PEN", "N", "M")  # what isn't followed when asking what is live
ARRAYS = ("array", "roof-array")


def supplies_in(site: Site, network: Network, named: Sequence[Point] = ()) -> list[Supply]:
    """Return what is under voltage in a network by the record, or may be; also what is `named`."""
    kinds = _kinds(site, network)
    met = {code for link in network.links for code in link.served}
    return supplies_of(
        network,
        {code for code, kind in kinds.items() if kind in ARRAYS},
        {code for code, kind in kinds.items() if kind == "inverter"},
        {c.code: c.system for c in site.find(Circuit, "code", met)},
        named,
    )


def _kinds(site: Site, network: Network) -> dict[str, str | None]:
    boxes = {point.enclosure for point in network.points}
    return {e.code: e.kind for e in site.find(Enclosure, "code", boxes)}


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


def isolation(
    registry: Registry, words: Sequence[str], sources: Sequence[str] = ()
) -> dict[str, Any]:
    """Return which conductors a device leaves dead and live, and what the record can't decide.

    Parameters
    ----------
    words : sequence of str
        ``ENCLOSURE/DEVICE``, or a device's code that is used once.
    sources : sequence of str
        Terminals (``ENCLOSURE/TERMINAL``) that are under voltage, beside those of the record.
    """
    enclosure, device = find_device(registry, "/".join(words))
    wiring = Wiring(site_of(registry), UNSWITCHED)
    record = wiring.site.one(Device, Point(enclosure, device))
    network = wiring.joined(pole.one for pole in wiring.poles(record))
    kinds = _kinds(wiring.site, network)
    named = [find_terminal(registry, word) for word in sources]
    found = isolate(network, enclosure, device, supplies_in(wiring.site, network, named))
    live = [_row(link) | _supply(supply) for link, supply in found.live]
    unknown = [_row(link) | {"why": why} for link, why in found.unknown]
    dead = [*map(_row, found.dead)]
    boxes = {enclosure, *(box for row in (*dead, *live, *unknown) for box in row["between"])}
    left = _abandoned_in(registry, boxes)
    links = (*found.dead, *(link for link, _ in (*found.live, *found.unknown)))
    met = {code for link in links for code in link.served}
    systems = {c.system for c in records.circuits(registry, met)}
    return {
        "device": device,
        "enclosure": enclosure,
        "goes_dead": dead,
        "stays_live": live,
        "unknown": unknown,
        "supplies": [_supply(s) | {"sure": s.is_sure} for s in found.supplies],
        "state_unknown": _devices(found.unsure),
        "unused": _devices(found.unused),
        "abandoned": left,
        "cautions": [
            *([ABANDONED_CAUTION] if left else []),
            *_cautions(systems, {kinds[box] or "" for box in boxes}),
        ],
    }


def find_device(registry: Registry, word: str) -> tuple[str, str]:
    """Return the enclosure and code of the device that `word` names."""
    enclosure, slash, code = word.partition("/")
    if not slash:
        enclosure, code = "", word
    found = devices_called(registry, code, enclosure)
    if not found:
        raise NotFoundError("device with poles", word)
    if len(found) > 1:
        names = ", ".join(sorted("/".join(pair) for pair in found)[:6])
        raise BadInputError(f"'{word}' names {len(found)} devices. Choose one: {names}.")
    return found[0]


def _abandoned_in(registry: Registry, boxes: Collection[str]) -> list[str]:
    """Return the tags of the abandoned conductors that have an end in one of the enclosures."""
    found = records.conductors(registry, enclosures=boxes, abandoned=True)
    return sorted(str(c.tag) for c in found)


def _row(link: Link) -> dict[str, Any]:
    return {
        "conductor": link.name,
        "circuit": link.circuit,
        "function": link.function,
        "between": [link.one.enclosure, link.other.enclosure],
    }


def _supply(supply: Supply) -> dict[str, Any]:
    return {"from": str(supply.point), "why": supply.why}


def _devices(links: Iterable[Link]) -> list[str]:
    return sorted({f"{link.one.enclosure} {link.name}" for link in links})


def _as_json(branch: Branch) -> dict[str, Any]:
    link = branch.link
    return {
        "enclosure": branch.point.enclosure,
        "terminal": branch.point.terminal,
        "by": None if link is None else {link.what: link.name},
        "stop": branch.stop or None,
        "ways": [_as_json(way) for way in branch.ways],
    }


def _cautions(systems: Collection[str | None], places: Collection[str]) -> list[str]:
    """Return the cautions of every system met, the last word last."""
    order = sorted(systems, key=lambda system: str(system)) or [None]
    lines = [line for s in order for line in VOLTAGE.cautions(s, tuple(places))]
    lines += [line for s in order for line in CONTINUITY.cautions(s, tuple(places))]
    once = list(dict.fromkeys([*([INVERTER] if "inverter" in places else []), *lines]))
    return [*(line for line in once if line != lines[-1]), lines[-1]]
