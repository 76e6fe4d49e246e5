# SPDX-License-Identifier: MIT
"""Enclosures and the raceways between them as an indented tree: no line crosses another.

A raceway that closes a loop is a row of its own that names the enclosure it leads back to.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.model.wiring import box_point

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.wiring import Network


@dataclass(frozen=True)
class Row:
    """An enclosure and the raceway that leads to it, or a raceway back to one that is above.

    `parent` is the number of the row that it hangs on; `None` at the start of a tree.
    """

    enclosure: str
    depth: int = 0
    raceway: str | None = None
    parent: int | None = None
    is_back: bool = False


def rows_of(codes: Sequence[str], network: Network, first: str | None = None) -> list[Row]:
    """Return a row for each enclosure and one for each raceway that closes a loop.

    A tree begins at the enclosure where most raceways meet, the first tree at `first` if that is
    given; each enclosure hangs on the one that leads to it from there through fewest raceways.
    Those without a raceway come last.
    """
    starts = sorted(codes, key=lambda code: (code != first, -len(network.at(box_point(code)))))
    rows, at, drawn = list[Row](), dict[str, int](), set[str]()
    for start in starts:
        if start in at:
            continue
        below = _below(start, network)
        waiting: list[tuple[str, str | None, str | None]] = [(start, None, None)]
        while waiting:
            code, way, above = waiting.pop()
            parent = None if above is None else at[above]
            depth = 0 if parent is None else rows[parent].depth + 1
            at[code] = len(rows)
            rows.append(Row(code, depth, way, parent))
            drawn |= {way} if way else set()
            tree = {p for _, p in below[code]}
            for link in network.at(box_point(code)):
                there, back = link.beyond(box_point(code)).enclosure, link.name
                if there in at and back not in drawn and back not in tree:
                    rows.append(Row(there, depth + 1, back, at[code], is_back=True))
                    drawn.add(back)
            ways = sorted(below[code], key=lambda way: bool(below[way[0]]))  # short ones first
            waiting += [(there, p, code) for there, p in reversed(ways)]
    return rows


def _below(start: str, network: Network) -> dict[str, list[tuple[str, str]]]:
    """Return what hangs on each enclosure reached from one, through fewest raceways."""
    below: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for there, step in network.came_from(box_point(start)).items():
        if step is not None:
            below[step[0].enclosure].append((there.enclosure, step[1].name))
    return below
