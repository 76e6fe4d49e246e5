# SPDX-License-Identifier: MIT
"""What a change of the work writes, as a part of a write that is under way where not said else."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.store.loading import add_coded
from wiretrack.store.rows import part_id
from wiretrack.store.writing import id_of, insert, terminal_id

if TYPE_CHECKING:
    from wiretrack.model.entities import Raceway
    from wiretrack.store.store import Registry


def set_base_address(registry: Registry, address: str | None, *, who: str | None = None) -> None:
    """Set the address that labels lead to, as a write of its own."""
    with registry.write(who) as db:
        db.execute("UPDATE site SET base_address = ?", [address])


def land_end(
    registry: Registry,
    tag: str,
    side: str,
    state: str | None,
    terminal: str | None = None,
    *,
    who: str | None = None,
) -> None:
    """Land an end on a terminal of its enclosure, cap it or set it loose, as a write of its own.

    A terminal that is new there is made.
    """
    with registry.write(who) as db:
        row = registry.row(
            "SELECT e.id, e.enclosure_id FROM ends AS e JOIN conductors AS c"
            " ON c.id = e.conductor_id WHERE c.tag = ? AND e.side = ?",
            [tag, side],
        )
        if row is None:
            raise NotFoundError("conductor", tag)
        terminal_id = _terminal(registry, row["enclosure_id"], terminal) if terminal else None
        db.execute(
            "UPDATE ends SET state = ?, terminal_id = ? WHERE id = ?",
            [state, terminal_id, row["id"]],
        )


def _terminal(registry: Registry, enclosure_id: str, code: str) -> str:
    found = registry.row(
        "SELECT id FROM terminals WHERE enclosure_id = ? AND code = ?", [enclosure_id, code]
    )
    if found:
        return str(found["id"])
    made = terminal_id(registry.db, enclosure_id, code)
    insert(registry.db, "terminals", [{"id": made, "enclosure_id": enclosure_id, "code": code}])
    return made


def retire_conductor(registry: Registry, tag: str, at: str | None, because: str | None) -> None:
    """Note that a conductor is no longer part of the work, or with `None` that it is again."""
    registry.db.execute(
        "UPDATE conductors SET retired_at = ?, retired_because = ? WHERE tag = ?",
        [at, because, tag],
    )


def retire_circuit(registry: Registry, code: str, at: str | None) -> None:
    """Note that a circuit is no longer part of the work, or with `None` that it is again."""
    sql = "UPDATE circuits SET retired_at = ?1 WHERE code = ?2 AND retired_at IS NOT ?1"
    registry.db.execute(sql, [at, code])


def divide_raceway(registry: Registry, code: str, first: Raceway, second: Raceway) -> list[str]:
    """Make two raceways of one: it becomes `first`, `second` is new; every pull goes through both.

    Return the codes of those pulls.
    """
    raceway_id = id_of(registry, "raceways", code)
    starts = first.from_enclosure
    paths = _paths_through(registry, raceway_id)
    registry.db.execute(
        "UPDATE raceways SET code = ?, to_enclosure_id = ?, length_m = ?, bends_deg = ?,"
        " walls_m = ? WHERE id = ?",
        [
            first.code, id_of(registry, "enclosures", first.to_enclosure), first.length_m,
            first.bends_deg, json.dumps(list(first.walls_m)), raceway_id,
        ],
    )  # fmt: skip
    add_coded(registry.db, "raceways", second)
    second_id = id_of(registry, "raceways", second.code)
    for pull_id, path in paths.items():
        boxes = visited([(one, other) for _, one, other in path])
        ids: list[str] = []
        for at, (each, *_) in enumerate(path):
            pair = [raceway_id, second_id]
            forwards = not boxes or boxes[at] == starts
            ids += (pair if forwards else pair[::-1]) if each == raceway_id else [each]
        _set_path(registry, pull_id, [each for each, *_ in path], ids)
    holes = ", ".join("?" * len(paths))
    rows = registry.rows(f"SELECT code FROM pulls WHERE id IN ({holes}) ORDER BY rowid", [*paths])
    return [row["code"] for row in rows]


def exchange_ends(
    registry: Registry, tags: tuple[str, str], box: str, at: str, *, marks: bool
) -> None:
    """Exchange the terminals and states (with `marks`, the end marks too) of two ends in a box."""
    sql = (
        "SELECT e.id, e.terminal_id, e.state, e.mark FROM ends AS e"
        " JOIN conductors AS c ON c.id = e.conductor_id JOIN enclosures AS b"
        " ON b.id = e.enclosure_id WHERE c.tag = ? AND b.code = ?"
    )
    one, other = (registry.rows(sql, [tag, box])[0] for tag in tags)
    for here, there in ((one, other), (other, one)):
        registry.db.execute(
            "UPDATE ends SET terminal_id = ?, state = ?, mark = ?, crossed_at = ? WHERE id = ?",
            [
                there["terminal_id"], there["state"], (there if marks else here)["mark"], at,
                here["id"],
            ],
        )  # fmt: skip


def visited(raceways: list[tuple[str, str]]) -> list[str]:
    """Return the boxes that raceways laid end to end visit; nothing if they don't follow.

    >>> visited([("A", "B"), ("C", "B")])
    ['A', 'B', 'C']
    """
    for start in raceways[0] if raceways else ():
        boxes = [start]
        for one, other in raceways:
            if boxes[-1] in (one, other):
                boxes.append(other if boxes[-1] == one else one)
        if len(boxes) == len(raceways) + 1:
            return boxes
    return []


def _paths_through(registry: Registry, raceway_id: str) -> dict[str, list[tuple[str, str, str]]]:
    """Return each pull that goes through a raceway: its raceways with the boxes they join."""
    rows = registry.rows(
        "SELECT x.pull_id, r.id, a.code AS one, b.code AS other FROM pull_raceways AS x"
        " JOIN raceways AS r ON r.id = x.raceway_id"
        " JOIN enclosures AS a ON a.id = r.from_enclosure_id"
        " JOIN enclosures AS b ON b.id = r.to_enclosure_id"
        " WHERE x.pull_id IN (SELECT pull_id FROM pull_raceways WHERE raceway_id = ?)"
        " ORDER BY x.pull_id, x.position",
        [raceway_id],
    )
    paths: dict[str, list[tuple[str, str, str]]] = {}
    for row in rows:
        paths.setdefault(row["pull_id"], []).append((row["id"], row["one"], row["other"]))
    return paths


def _set_path(registry: Registry, pull_id: str, before: list[str], now: list[str]) -> None:
    """Write the raceways of a pull, in order; there are no fewer than before."""
    for position, raceway_id in enumerate(now, 1):
        if position > len(before):
            row = {
                "id": part_id(pull_id, f"raceway:{position}"),
                "pull_id": pull_id,
                "position": position,
                "raceway_id": raceway_id,
            }
            insert(registry.db, "pull_raceways", [row])
        elif raceway_id != before[position - 1]:
            registry.db.execute(
                "UPDATE pull_raceways SET raceway_id = ? WHERE pull_id = ? AND position = ?",
                [raceway_id, pull_id, position],
            )
