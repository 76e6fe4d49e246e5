# SPDX-License-Identifier: MIT
"""Stored records by scope: those called so, those of a circuit, pull or enclosure, or all.

A scope is said by keywords, all of which hold; without any it is the whole site.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal, TypedDict

from wiretrack import days
from wiretrack.errors import NotFoundError
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Raceway, Reading
from wiretrack.model.parts import Device, FarEnd, Instrument, SiteFacts, Terminal
from wiretrack.store.rows import numbered
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence
    from typing import Unpack

    from wiretrack.model.entity import R
    from wiretrack.store.store import Registry

LISTED = "(SELECT value FROM json_each(?))"
IN_SERVICE = "c.retired_at IS NULL"  # c: conductors
CIRCUIT_IN_SERVICE = "k.retired_at IS NULL"  # k: circuits


class Scope(TypedDict, total=False):
    """Which conductors: those of these tags, of these circuits, in this pull and so on."""

    tags: Collection[str | None]
    circuits: Collection[str]
    circuit_of: str  # the tag of one conductor, for all of its circuits
    pull: str
    raceway: str
    enclosures: Collection[str]  # with an end in one of them
    follows: str  # the tag of the one that they are pieces of, or in the place of
    following: Literal[True]  # that follow any
    in_service: Literal[True]  # part of the work now
    in_place: Literal[True]  # in their raceways: in service, or abandoned
    abandoned: Literal[True]


class ReadingScope(Scope, total=False):
    """Which readings: those of these conductors, and what else must hold of them."""

    ids: Collection[str]
    superseding: str  # the id of the reading that they take back
    counted: Literal[True]  # that none takes back
    taken_back: Literal[True]  # that one does


_LATER = "EXISTS (SELECT 1 FROM readings AS x WHERE x.supersedes = r.id)"
_CONDITIONS = {
    "tags": f"c.tag IN {LISTED}",
    "circuits": "c.id IN (SELECT x.conductor_id FROM circuits AS k"
    f" JOIN conductor_circuits AS x ON x.circuit_id = k.id WHERE k.code IN {LISTED})",
    "circuit_of": "c.id IN (SELECT coalesce(x.conductor_id, o.id) FROM conductors AS o"
    " LEFT JOIN conductor_circuits AS y ON y.conductor_id = o.id"
    " LEFT JOIN conductor_circuits AS x ON x.circuit_id = y.circuit_id WHERE o.tag = ?)",
    "pull": "c.pull_id = (SELECT id FROM pulls WHERE code = ?)",
    "raceway": "c.pull_id IN (SELECT x.pull_id FROM pull_raceways AS x"
    " JOIN raceways AS w ON w.id = x.raceway_id WHERE w.code = ?)",
    "enclosures": "c.id IN (SELECT x.conductor_id FROM ends AS x"
    f" JOIN enclosures AS b ON b.id = x.enclosure_id WHERE b.code IN {LISTED})",
    "follows": "c.follows_id = (SELECT id FROM conductors WHERE tag = ?)",
    "following": "c.follows_id IS NOT NULL",
    "in_service": IN_SERVICE,
    "in_place": f"({IN_SERVICE} OR c.retired_because = 'abandoned')",
    "abandoned": "c.retired_because = 'abandoned'",
    "ids": f"r.id IN {LISTED}",
    "superseding": "r.supersedes = ?",
    "counted": f"NOT {_LATER}",
    "taken_back": _LATER,
}


def site(registry: Registry) -> SiteFacts:
    """Return the site's own data."""
    return site_of(registry).facts


def conductor(registry: Registry, tag: str) -> Conductor:
    """Return the conductor of that tag, retired or not."""
    return _one("conductor", tag, conductors(registry, tags=[tag]))


def conductors(registry: Registry, **scope: Unpack[Scope]) -> list[Conductor]:
    """Return the conductors of a scope in the order in which they came, retired ones too."""
    where, parameters = _where(scope)
    return _all(registry, Conductor, where, parameters)


def beside(registry: Registry, one: Conductor) -> list[Conductor]:
    """Return the conductors in service in the same pull as `one`, or between the same boxes."""
    boxes = {one.from_end.enclosure, one.to_end.enclosure}
    found = {
        c.tag: c
        for c in conductors(registry, enclosures=[min(boxes)], in_service=True)
        if {c.from_end.enclosure, c.to_end.enclosure} == boxes
    }
    if one.pull is not None:
        found |= {c.tag: c for c in conductors(registry, pull=one.pull, in_service=True)}
    return list(found.values())


def crossings(registry: Registry) -> dict[str, str]:
    """Return when each conductor that had an end found crossed was last found so, by tag."""
    rows = registry.rows(
        "SELECT c.tag, max(e.crossed_at) AS at FROM ends AS e JOIN conductors AS c"
        " ON c.id = e.conductor_id WHERE e.crossed_at IS NOT NULL GROUP BY c.tag"
    )
    return {row["tag"]: row["at"] for row in rows}


def reading(registry: Registry, record: str) -> Reading | None:
    """Return the reading of that id, `None` if there is none."""
    return next(iter(readings(registry, ids=[record])), None)


def readings(registry: Registry, **scope: Unpack[ReadingScope]) -> list[Reading]:
    """Return the readings of a scope in the order of their moments, superseded ones too.

    The order doesn't depend on what offset from UTC each was written with. Those of the future
    come first: they are dated wrongly, and the last one is the one that counts.
    """
    where, parameters = _where(scope)
    found = _all(registry, Reading, where, parameters, order="julianday(r.at), r.rowid")
    return sorted(found, key=lambda reading: not days.in_future(reading.at))


def circuit(registry: Registry, code: str) -> Circuit:
    """Return the circuit of that code, retired or not."""
    return _one("circuit", code, circuits(registry, [code]))


def served(registry: Registry, one: Conductor) -> Circuit:
    """Return the circuit that a conductor serves, or what several have in common."""
    return together(circuits(registry, one.circuits))


def circuits(
    registry: Registry,
    codes: Collection[str] | None = None,
    *,
    system: str | None = None,
    in_service: bool = False,
) -> list[Circuit]:
    """Return the circuits of these codes, or all; of one system, and in service, if so wanted."""
    conditions = ["1", *([CIRCUIT_IN_SERVICE] if in_service else [])]
    parameters = []
    if codes is not None:
        conditions.append(f"k.code IN {LISTED}")
        parameters.append(json.dumps(list(codes)))
    if system is not None:
        conditions.append("k.system = ?")
        parameters.append(system)
    where = " AND ".join(conditions)
    return _all(registry, Circuit, where, parameters)


def enclosure(registry: Registry, code: str) -> Enclosure:
    """Return the enclosure of that code."""
    return _one("enclosure", code, enclosures(registry, [code]))


def enclosures(registry: Registry, codes: Collection[str] | None = None) -> list[Enclosure]:
    """Return the enclosures of these codes, or all."""
    return _coded(registry, Enclosure, "e.code", codes)


def terminals(registry: Registry, enclosure: str) -> list[Terminal]:
    """Return the terminals of an enclosure."""
    return _all(registry, Terminal, "e.code = ?", [enclosure])


def devices(registry: Registry, enclosure: str) -> list[Device]:
    """Return the devices of an enclosure, with their poles."""
    return _all(registry, Device, "e.code = ?", [enclosure])


def raceway(registry: Registry, code: str) -> Raceway:
    """Return the raceway of that code."""
    return _one("raceway", code, raceways(registry, [code]))


def raceways(
    registry: Registry,
    codes: Collection[str] | None = None,
    *,
    pulls: Collection[str] | None = None,
    at: str | None = None,
) -> list[Raceway]:
    """Return the raceways of these codes, of these pulls' paths or at an enclosure, or all."""
    asked = {
        f"r.code IN {LISTED}": codes,
        "r.id IN (SELECT x.raceway_id FROM pull_raceways AS x JOIN pulls AS p ON p.id = x.pull_id"
        f" WHERE p.code IN {LISTED})": pulls,
        f"r.from_enclosure_id IN {_CALLED} OR r.to_enclosure_id IN {_CALLED}": at and [at],
    }
    said = {condition: json.dumps(list(few)) for condition, few in asked.items() if few is not None}
    where = " AND ".join(f"({condition})" for condition in said) or "1"
    parameters = [said[condition] for condition in said for _ in range(condition.count("?"))]
    return _all(registry, Raceway, where, parameters)


def far_ends(registry: Registry, pull: str, enclosure: str) -> list[FarEnd]:
    """Return the ends of a pull that were seen at a box before they were identified."""
    rows = registry.rows(
        "SELECT e.code AS enclosure, f.mark, f.colour FROM far_ends AS f"
        " JOIN pulls AS p ON p.id = f.pull_id JOIN enclosures AS e ON e.id = f.enclosure_id"
        " WHERE p.code = ? AND e.code = ? ORDER BY f.position",
        [pull, enclosure],
    )
    return [FarEnd(**row) for row in rows]


def instrument(registry: Registry, code: str) -> Instrument:
    """Return the instrument of that code."""
    return _one("instrument", code, instruments(registry, [code]))


def instruments(registry: Registry, codes: Collection[str] | None = None) -> list[Instrument]:
    """Return the instruments of these codes, or all."""
    return _coded(registry, Instrument, "i.code", codes)


_CALLED = f"(SELECT id FROM enclosures WHERE code IN {LISTED})"


def _where(scope: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return the SQL condition of a scope, and its parameters."""
    parameters = [
        value if isinstance(value, str) else json.dumps(list(value))
        for value in scope.values()
        if value is not True
    ]
    return " AND ".join(_CONDITIONS[name] for name in scope) or "1", parameters


def _all(
    registry: Registry,
    of: type[R],
    where: str = "1",
    parameters: Sequence[Any] = (),
    order: str = "number",
) -> list[R]:
    found = numbered(registry, of, where, parameters, order=order)
    return list(site_of(registry).adopt(of, found))


def _coded(registry: Registry, of: type[R], column: str, codes: Iterable[str] | None) -> list[R]:
    if codes is None:
        return _all(registry, of)
    return _all(registry, of, f"{column} IN {LISTED}", [json.dumps(list(codes))])


def _one(kind: str, code: str, found: list[R]) -> R:
    if not found:
        raise NotFoundError(kind, code)
    return found[0]
