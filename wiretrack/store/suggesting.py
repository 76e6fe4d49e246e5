# SPDX-License-Identifier: MIT
"""Codes and tags that begin as somebody types them, read alone and at once."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

from wiretrack.model.tags import format_tag, normalise

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

MOST = 60  # of each kind
_AT_ONCE_S = 0.1
_FROM_TO = (
    "(SELECT group_concat(b.code, ' → ') FROM (SELECT e.code FROM ends AS n"
    " JOIN enclosures AS e ON e.id = n.enclosure_id WHERE n.conductor_id = c.id"
    " ORDER BY n.side) AS b)"
)
_CODED = "SELECT code, {} FROM {} WHERE code LIKE ? ESCAPE '\\' {} ORDER BY code LIMIT ?"
_IN_BOX = (
    "SELECT e.code || '/' || i.code AS place, {} FROM {} AS i"
    " JOIN enclosures AS e ON e.id = i.enclosure_id"
    " WHERE place LIKE ? ESCAPE '\\' ORDER BY place LIMIT ?"
)
# What begins so, and what it is, by kind.
_SQL = {
    "conductor": "SELECT c.tag, coalesce((SELECT group_concat(k.code, ', ')"
    " FROM conductor_circuits AS s JOIN circuits AS k ON k.id = s.circuit_id"
    f" WHERE s.conductor_id = c.id) || ' ', '') || coalesce(c.function, '') || ', ' || {_FROM_TO}"
    " FROM conductors AS c WHERE c.tag LIKE ? ESCAPE '\\' AND c.retired_at IS NULL"
    " ORDER BY c.tag LIMIT ?",
    "circuit": _CODED.format("title", "circuits", "AND retired_at IS NULL"),
    "enclosure": _CODED.format("coalesce(name, kind)", "enclosures", ""),
    "raceway": _CODED.format("type", "raceways", ""),
    "pull": _CODED.format("'pull'", "pulls", ""),
    "instrument": _CODED.format("coalesce(name, kind)", "instruments", ""),
    "device": _IN_BOX.format("i.kind", "devices"),
    "terminal": _IN_BOX.format("'terminal'", "terminals"),
}


def suggestions(path: Path, begun: str, kinds: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield what is called so and what it is; nothing where the registry can't be read at once."""
    if not path.is_file():
        return
    uri = f"{path.resolve().as_uri()}?mode=ro"
    with closing(sqlite3.connect(uri, uri=True, timeout=_AT_ONCE_S)) as db:
        for kind in kinds:
            typed = normalise(begun) if kind == "conductor" else begun
            like = "".join(f"\\{c}" if c in "\\%_" else c for c in typed) + "%"
            for word, meaning in db.execute(_SQL[kind], [like, MOST]):
                yield format_tag(word) if kind == "conductor" else word, meaning or kind
