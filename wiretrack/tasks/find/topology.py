# SPDX-License-Identifier: MIT
"""The site's wiring as a network: trees from any point, and what a device leaves live."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.cautions import INVERTER, cautions
from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.render.tree import tree_svg
from wiretrack.store import records, wiring
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.find.tracing import trace
from wiretrack.topology.isolating import isolate, supplies_of
from wiretrack.topology.network import Link, Network, Point
from wiretrack.topology.tree import Branch, tree_from, tree_lines

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from wiretrack.store.store import Registry
    from wiretrack.store.wiring import LandedEnd, Pole
    from wiretrack.topology.isolating import Supply

UNSWITCHED = ("PE", "FE", "PEN", "N", "M")  # what isn't followed when asking what is live
ARRAYS = ("array", "roof-array")


def network_of(registry: Registry, without: Collection[str] = ()) -> Network:
    """Return the wiring of the whole site, conductors of the functions `without` left out."""
    ends = [end for end in wiring.all_ends(registry) if end.function not in without]
    return _network((ends, wiring.all_poles(registry)))


def network_at_device(registry: Registry, enclosure: str, device: str) -> Network:
    """Return the wiring joined with a device, over whatever is open too, that may be live."""
    return _network(wiring.joined_with_device(registry, enclosure, device, UNSWITCHED))


def network_at_conductor(registry: Registry, tag: str, without: Collection[str]) -> Network:
    """Return the wiring joined with a conductor, over whatever is open too."""
    return _network(wiring.joined_with(registry, tag, None, without))


def network_of_circuit(registry: Registry, circuit: str, without: Collection[str]) -> Network:
    """Return the wiring of a circuit, and the devices that it leads to."""
    return _network(wiring.of_circuit(registry, circuit, without))


def network_around(registry: Registry, path: Sequence[dict[str, Any]]) -> Network:
    """Return the wiring that is joined with the first item of a traced path, and no more."""
    first = path[0]
    if "terminal" in first:
        found = wiring.joined_with(
            registry, None, wiring.Place(first["enclosure"], first["terminal"])
        )
    else:
        found = wiring.joined_with(registry, parse_tag(first["conductor"]), None)
    return _network(found)


def _network(found: wiring.Joined) -> Network:
    ends, poles = found
    return Network([*map(_conductor, ends), *map(_pole, poles)])


def supplies_in(registry: Registry, network: Network, named: Sequence[Point] = ()) -> list[Supply]:
    """Return what is under voltage in a network by the record, or may be; also what is `named`."""
    kinds = _kinds(registry, network)
    met = {link.circuit for link in network.links if link.what == "conductor"}
    return supplies_of(
        network,
        {code for code, kind in kinds.items() if kind in ARRAYS},
        {code for code, kind in kinds.items() if kind == "inverter"},
        {c.code: c.system for c in records.circuits(registry, met)},
        named,
    )


def boxes_in(registry: Registry, codes: Collection[str], kinds: Collection[str]) -> list[str]:
    """Return those of the enclosures `codes` that are of one of the `kinds`."""
    return [e.code for e in records.enclosures(registry, codes) if e.kind in kinds]


def _kinds(registry: Registry, network: Network) -> dict[str, str | None]:
    boxes = {point.enclosure for point in network.points}
    return {e.code: e.kind for e in records.enclosures(registry, boxes)}


def tree_of(registry: Registry, what: str) -> dict[str, Any]:
    """Return all that is joined with a conductor or terminal, as a tree from its source's side.

    Beside the tree as text (``lines``) there is the loop that it contains, if it does.
    """
    found = trace(registry, what)
    network = network_around(registry, found["path"])
    root = _root(registry, found["path"])
    top = tree_from(network, root)
    loop = [link.name for link in network.loop(root)]
    return {
        **found,
        "root": {"enclosure": root.enclosure, "terminal": root.terminal},
        "tree": _as_json(top),
        "lines": tree_lines(top),
        "loop": list(dict.fromkeys(loop)),
    }


def tree_picture(registry: Registry, what: str) -> str:
    """Return the tree as an SVG document, the path of `what` drawn broad."""
    found = trace(registry, what)
    top = tree_from(network_around(registry, found["path"]), _root(registry, found["path"]))
    lit = [str(item["conductor"]) for item in found["path"] if "conductor" in item]
    return tree_svg(top, f"What is joined with {what}", lit)


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
    network = network_at_device(registry, enclosure, device)
    kinds = _kinds(registry, network)
    named = [_named(registry, word) for word in sources]
    found = isolate(network, enclosure, device, supplies_in(registry, network, named))
    live = [_row(link) | _supply(supply) for link, supply in found.live]
    unknown = [_row(link) | {"why": why} for link, why in found.unknown]
    dead = [*map(_row, found.dead)]
    boxes = {enclosure, *(box for row in (*dead, *live, *unknown) for box in row["between"])}
    left = _abandoned_in(registry, boxes)
    met = {row["circuit"] for row in (*dead, *live, *unknown)}
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
    found = wiring.devices_called(registry, code, enclosure)
    if not found:
        raise NotFoundError("device with poles", word)
    if len(found) > 1:
        names = ", ".join(sorted("/".join(pair) for pair in found)[:6])
        raise BadInputError(f"'{word}' names {len(found)} devices. Choose one: {names}.")
    return found[0]


def _abandoned_in(registry: Registry, boxes: Collection[str]) -> list[str]:
    """Return the tags of the abandoned conductors that have an end in one of the enclosures."""
    found = records.conductors(registry, enclosures=boxes, abandoned=True)
    return sorted(format_tag(c.tag or "") for c in found)


def _conductor(end: LandedEnd) -> Link:
    tag = format_tag(end.tag)
    return Link(
        tag,
        Point(end.enclosure, end.terminal or f"{tag} {end.state or 'end'}"),
        Point(end.other_enclosure, end.other_terminal or f"{tag} {end.other_state or 'end'}, far"),
        circuit=end.circuit,
        function=end.function,
    )


def _pole(pole: Pole) -> Link:
    return Link(
        pole.device, Point(pole.here.enclosure, pole.here.terminal),
        Point(pole.other.enclosure, pole.other.terminal), "device", pole.kind, pole.closed,
        position=pole.position,
    )  # fmt: skip


def _root(registry: Registry, path: Sequence[dict[str, Any]]) -> Point:
    """Return the point where a path begins, at its source's side."""
    first = path[0]
    if "terminal" in first:
        return Point(first["enclosure"], first["terminal"])
    return _conductor(wiring.ends_of(registry, parse_tag(first["conductor"]))[0]).one


def _named(registry: Registry, word: str) -> Point:
    place = wiring.find_terminal(registry, word)
    return Point(place.enclosure, place.terminal)


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
    lines = [line for s in order for line in cautions("voltage", s, tuple(places))]
    lines += [line for s in order for line in cautions("continuity", s, tuple(places))]
    once = list(dict.fromkeys([*([INVERTER] if "inverter" in places else []), *lines]))
    return [*(line for line in once if line != lines[-1]), lines[-1]]
