# SPDX-License-Identifier: MIT
"""What is on each terminal of an enclosure, the empty ones too, and the ends on none."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Enclosure
from wiretrack.model.parts import Terminal
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.store.store import Registry


def terminals(registry: Registry, enclosure: str) -> list[dict[str, Any]]:
    """Return rows of ``terminal`` and its ``ends``, as the record orders them.

    The ends on no terminal are in a last row, whose terminal is `None`, if there are any.
    """
    code = resolve(registry, enclosure, ("enclosure",)).code
    names = [terminal.code for terminal in site_of(registry).at(Terminal, "enclosure", code)]
    return terminals_of(site_of(registry).one(Enclosure, code), names)


def terminals_of(box: Enclosure, names: Sequence[str]) -> list[dict[str, Any]]:
    """Return `terminals` of an enclosure whose terminals are called `names`."""
    on: defaultdict[str | None, list[dict[str, Any]]] = defaultdict(list)
    for end in box.ends:
        on[end.here.terminal].append(
            {
                "tag": str(end.conductor.tag),
                "circuit": end.conductor.circuit,
                "function": end.conductor.function,
                "state": end.here.state,
                "mark": end.here.mark,
                "other_enclosure": end.there.enclosure,
                "other_terminal": end.there.terminal,
            }
        )
    rows: list[dict[str, Any]] = [{"terminal": name, "ends": on[name]} for name in names]
    return rows + ([{"terminal": None, "ends": on[None]}] if on[None] else [])
