# SPDX-License-Identifier: MIT
"""What is in service: the conductors and circuits that are part of the work now.

Whatever walks the wiring (plans, punch list, due labels, paths) asks here; what looks one record
up by its tag or code finds retired ones too, by way of `dumping`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.store import dumping

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entities import Circuit, Conductor
    from wiretrack.store.store import Registry

IN_SERVICE = "c.retired_at IS NULL"  # c: conductors
CIRCUIT_IN_SERVICE = "k.retired_at IS NULL"  # k: circuits
_IN_PLACE = f"({IN_SERVICE} OR c.retired_because = 'abandoned')"


def conductors(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Conductor]:
    """Return the conductors in service that meet the SQL condition `where`, as in `dumping`."""
    return dumping.conductors(registry, f"{IN_SERVICE} AND ({where})", parameters)


def conductors_in_place(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Conductor]:
    """Return the conductors that lie in their raceways: those in service and abandoned ones."""
    return dumping.conductors(registry, f"{_IN_PLACE} AND ({where})", parameters)


def circuits(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Circuit]:
    """Return the circuits in service that meet the SQL condition `where`."""
    return dumping.circuits(registry, f"retired_at IS NULL AND ({where})", parameters)


def functions_of(registry: Registry, circuit: str) -> set[str]:
    """Return the functions of the conductors of a circuit that are in service."""
    rows = registry.rows(
        "SELECT DISTINCT c.function FROM conductors AS c JOIN circuits AS k ON k.id = c.circuit_id"
        f" WHERE k.code = ? AND {IN_SERVICE}",
        [circuit],
    )
    return {row["function"] for row in rows}


def successors(registry: Registry, tag: str) -> list[str]:
    """Return the tags of those that follow a conductor at once: its pieces, or its substitute."""
    rows = registry.rows(
        "SELECT n.tag FROM conductors AS n JOIN conductors AS o ON o.id = n.follows_id"
        " WHERE o.tag = ? ORDER BY n.rowid",
        [tag],
    )
    return [row["tag"] for row in rows]


def predecessors(registry: Registry, tag: str) -> list[str]:
    """Return the tags of those that a conductor came from, one after another, the latest first."""
    rows = registry.rows(
        "WITH RECURSIVE back (id, tag, follows_id, far) AS ("
        " SELECT id, tag, follows_id, 0 FROM conductors WHERE tag = ?"
        " UNION SELECT o.id, o.tag, o.follows_id, back.far + 1 FROM conductors AS o"
        " JOIN back ON o.id = back.follows_id)"
        " SELECT tag FROM back WHERE far > 0 ORDER BY far",
        [tag],
    )
    return [row["tag"] for row in rows]
