# SPDX-License-Identifier: MIT
"""The drawings that a binder has for itself: QR symbols and what is joined."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.labels.symbol import make_symbol, symbol_choices
from wiretrack.late import dataclass
from wiretrack.model.path import tree_from
from wiretrack.model.wiring import Network
from wiretrack.render.binder.render import code_svg
from wiretrack.render.tree import tree_svg

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from wiretrack.model.entity import Point
    from wiretrack.model.wiring import Link

MOST_LINKS, MOST_TREES = 60, 40  # more of either can't be read on any page


@dataclass(frozen=True)
class Code:
    """The text of a label's code, and its drawing."""

    payload: str = ""
    svg: str = ""


def code_drawn(make: Callable[[str, str | None], str], of: str, address: str | None) -> Code:
    """Return the text and the drawing of the code of a label, or of a card.

    `make` is what makes its text: `make_payload` of a tag, `make_box_payload` of a box's code.
    """
    for leading_to in (address, None):
        with suppress(BadInputError):  # an address that can't be one says nothing
            payload = make(of, leading_to)
            for version, level in symbol_choices(payload)[:1]:
                return Code(payload, code_svg(make_symbol(payload, version, level), payload))
    return Code()


def circuit_trees(network: Network, own: Sequence[Link], code: str) -> tuple[list[str], int]:
    """Return a drawing of each part of a circuit that hangs together, and how many aren't drawn.

    Each holds the circuit's `own` conductors, and the poles at their ends; of one that nothing is
    joined to there is nothing to draw.
    """
    points = dict.fromkeys(point for link in own for point in (link.one, link.other))
    poles = {
        id(link): link for point in points for link in network.at(point) if link.what == "device"
    }
    part = Network([*own, *poles.values()])
    drawings, left_out = list[str](), 0
    for links, root in _components(part):
        if len(links) < 2:
            continue
        if len(links) > MOST_LINKS or len(drawings) >= MOST_TREES:
            left_out += 1
        else:
            drawings.append(tree_svg(tree_from(Network(links), root), f"{code} from {root}"))
    return drawings, left_out


def _components(network: Network) -> Iterator[tuple[list[Link], Point]]:
    """Yield the links that hang together, with the open ones at their edge, and where to begin."""
    seen = set[int]()
    for first in network.links:
        if id(first) in seen or first.what == "device":
            continue
        reached = network.reached([first.one])
        links = {id(link): link for point in reached for link in network.at(point)}
        seen.update(key for key, link in links.items() if not link.is_open)
        yield list(links.values()), _source(network, first.one)


def _source(network: Network, start: Point) -> Point:
    """Return the point to draw from: back from a "from" end while one closed way leads back."""
    here, came = start, set[int]()
    while True:
        back = [link for link in _leading_to(network, here) if id(link) not in came]
        if len(back) != 1:
            return here
        came.add(id(back[0]))
        here = back[0].beyond(here)


def _leading_to(network: Network, here: Point) -> Iterable[Link]:
    return (
        link
        for link in network.at(here)
        if not link.is_open and (link.what == "device" or (link.other == here and link.one != here))
    )
