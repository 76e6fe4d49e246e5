# SPDX-License-Identifier: MIT
"""Long lists, a part at a time, each of which costs what it shows; codes and tags that begin so."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, TypeVar

from wiretrack.late import dataclass
from wiretrack.model.tags import format_tag, normalise
from wiretrack.store.schema import CIRCUIT_IN_SERVICE, IN_SERVICE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

AT_ONCE = 100
T = TypeVar("T", "ListedCircuit", "ListedPull")


@dataclass(frozen=True, kw_only=True)
class ListedCircuit:
    """A circuit in a list: its number there, and how many conductors it has, retired ones too."""

    number: int
    code: str
    title: str | None
    system: str | None
    conductors: int


@dataclass(frozen=True, kw_only=True)
class ListedPull:
    """A pull in a list: the boxes that it ends in, its conductors in use, those identified.

    With it, whether it was begun to be rung out, and whether that is finished.
    """

    number: int
    code: str
    boxes: tuple[str, ...]
    conductors: int
    identified: int
    begun: bool
    finished: bool


def circuit_list(registry: Registry, after: int = 0) -> tuple[list[ListedCircuit], int | None]:
    """Return the circuits in use that come next, and what `after` the next part begins with."""
    return _part(circuits_after(registry, after, AT_ONCE + 1))


def pull_list(registry: Registry, after: int = 0) -> tuple[list[ListedPull], int | None]:
    """Return the pulls that come next, and what `after` the next part begins with."""
    rows = registry.rows(
        "SELECT rowid AS number, code FROM pulls WHERE rowid > ? ORDER BY rowid LIMIT ?",
        [after, AT_ONCE + 1],
    )
    return _part([_pull(registry, row["number"], row["code"]) for row in rows])


def _part(found: list[T]) -> tuple[list[T], int | None]:
    shown = found[:AT_ONCE]
    return shown, shown[-1].number if len(found) > AT_ONCE else None


def circuits_after(registry: Registry, number: int, most: int) -> list[ListedCircuit]:
    """Return the `most` circuits in use that come after a number."""
    rows = registry.rows(
        "SELECT k.rowid AS number, k.code, k.title, k.system, (SELECT count(*)"
        " FROM conductor_circuits AS s WHERE s.circuit_id = k.id) AS conductors FROM circuits AS k"
        f" WHERE k.rowid > ? AND {CIRCUIT_IN_SERVICE} ORDER BY k.rowid LIMIT ?",
        [number, most],
    )
    return [ListedCircuit(**row) for row in rows]


def _pull(registry: Registry, number: int, code: str) -> ListedPull:
    from wiretrack.procedure import RINGOUT
    from wiretrack.store.procedures import begun

    ends = registry.rows(_ENDS, [number])
    stored = begun(registry, RINGOUT, pull=code)
    there = [row for row in ends if row["side"] == "to"]
    return ListedPull(
        number=number,
        code=code,
        boxes=tuple(dict.fromkeys(row["code"] for row in ends)),
        conductors=sum(row["ends"] for row in there),
        identified=sum(row["identified"] for row in there),
        begun=stored is not None,
        finished=stored is not None and stored[1],
    )


_ENDS = f"""
    SELECT b.code, e.side, count(*) AS ends,
        sum(e.terminal_id IS NOT NULL OR e.mark IS NOT NULL) AS identified
    FROM pulls AS p JOIN conductors AS c ON c.pull_id = p.id
    JOIN ends AS e ON e.conductor_id = c.id
    JOIN enclosures AS b ON b.id = e.enclosure_id
    WHERE p.rowid = ? AND {IN_SERVICE}
    GROUP BY b.code, e.side ORDER BY e.side, min(e.rowid)"""


def landed_in(registry: Registry, enclosure: str) -> list[str]:
    """Return the terminals of an enclosure that ends of conductors in use are on, by name."""
    rows = registry.rows(
        "SELECT DISTINCT t.code FROM enclosures AS b JOIN terminals AS t ON t.enclosure_id = b.id"
        " JOIN ends AS e ON e.terminal_id = t.id JOIN conductors AS c ON c.id = e.conductor_id"
        f" WHERE b.code = ? AND {IN_SERVICE} ORDER BY t.code",
        [enclosure],
    )
    return [row["code"] for row in rows]


def hub(registry: Registry) -> str | None:
    """Return the enclosure where most raceways meet, of equals the first; `None` without any."""
    row = registry.row(
        "SELECT e.code FROM (SELECT from_enclosure_id AS id FROM raceways"
        " UNION ALL SELECT to_enclosure_id FROM raceways) AS r JOIN enclosures AS e USING (id)"
        " GROUP BY r.id ORDER BY count(*) DESC, e.rowid LIMIT 1"
    )
    return row["code"] if row else None


def enclosures_counted(registry: Registry) -> int:
    """Return how many enclosures there are."""
    return int(registry.rows("SELECT count(*) AS many FROM enclosures")[0]["many"])


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
