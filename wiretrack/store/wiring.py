# SPDX-License-Identifier: MIT
"""What is joined to what: the conductors and poles at a terminal, the routes of pulls."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.model.entity import Point
from wiretrack.store.records import IN_SERVICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from wiretrack.store.store import Registry


@dataclass(frozen=True)
class LandedEnd:
    """A conductor's end, and where the conductor's other end is (its terminal may be `None`)."""

    tag: str
    circuit: str
    function: str
    side: str
    enclosure: str
    terminal: str | None
    state: str | None
    other_enclosure: str
    other_terminal: str | None
    other_state: str | None


@dataclass(frozen=True)
class Pole:
    """One pole of a device, seen from one of its terminals."""

    device: str
    kind: str | None
    closed: bool | None
    position: int
    here: Point
    other: Point


_ENDS = """
    SELECT c.tag, k.code AS circuit, c.function, e.side, b.code AS enclosure,
        t.code AS terminal, e.state, ob.code AS other_enclosure, ot.code AS other_terminal,
        o.state AS other_state
    FROM ends AS e
    JOIN conductors AS c ON c.id = e.conductor_id
    JOIN circuits AS k ON k.id = c.circuit_id
    JOIN enclosures AS b ON b.id = e.enclosure_id
    LEFT JOIN terminals AS t ON t.id = e.terminal_id
    JOIN ends AS o ON o.conductor_id = c.id AND o.side <> e.side
    JOIN enclosures AS ob ON ob.id = o.enclosure_id
    LEFT JOIN terminals AS ot ON ot.id = o.terminal_id"""


def ends_of(registry: Registry, tag: str) -> tuple[LandedEnd, LandedEnd]:
    """Return the two ends of a conductor, retired or not, the "from" end first."""
    rows = registry.rows(f"{_ENDS} WHERE c.tag = ? ORDER BY e.side", [tag])
    if len(rows) != 2:
        raise NotFoundError("conductor", tag)
    return LandedEnd(**rows[0]), LandedEnd(**rows[1])


def ends_at(registry: Registry, place: Point) -> list[LandedEnd]:
    """Return the ends of conductors in service on a terminal."""
    rows = registry.rows(
        f"{_ENDS} WHERE {IN_SERVICE} AND b.code = ? AND t.code = ? ORDER BY c.rowid",
        [place.enclosure, place.terminal],
    )
    return [LandedEnd(**row) for row in rows]


def ends_in(registry: Registry, enclosure: str) -> list[LandedEnd]:
    """Return every end of a conductor in service in an enclosure, by terminal."""
    rows = registry.rows(
        f"{_ENDS} WHERE {IN_SERVICE} AND b.code = ? ORDER BY t.code IS NULL, t.code, c.rowid",
        [enclosure],
    )
    return [LandedEnd(**row) for row in rows]


def terminals_in(registry: Registry, enclosure: str) -> tuple[list[str], bool]:
    """Return an enclosure's terminals, and whether any is there for itself: a pole's, or bare."""
    rows = registry.rows(
        "SELECT t.code, EXISTS (SELECT 1 FROM poles AS p WHERE p.one_terminal_id = t.id)"
        " OR EXISTS (SELECT 1 FROM poles AS p WHERE p.other_terminal_id = t.id)"
        " OR NOT EXISTS (SELECT 1 FROM ends AS x WHERE x.terminal_id = t.id) AS listed"
        " FROM terminals AS t JOIN enclosures AS e ON e.id = t.enclosure_id"
        " WHERE e.code = ? ORDER BY t.rowid",
        [enclosure],
    )
    return [row["code"] for row in rows], any(row["listed"] for row in rows)


def poles_at(registry: Registry, place: Point) -> list[Pole]:
    """Return the poles of devices that have the terminal as one of their two."""
    rows = registry.rows(
        """SELECT d.code AS device, d.kind, d.closed, p.position,
            a.code AS one, b.code AS other, e.code AS enclosure
        FROM poles AS p
        JOIN devices AS d ON d.id = p.device_id
        JOIN terminals AS a ON a.id = p.one_terminal_id
        JOIN terminals AS b ON b.id = p.other_terminal_id
        JOIN enclosures AS e ON e.id = d.enclosure_id
        WHERE e.code = :enclosure AND :terminal IN (a.code, b.code)
        ORDER BY d.rowid, p.position""",
        {"enclosure": place.enclosure, "terminal": place.terminal},
    )
    return [_pole(row, place) for row in rows]


def find_terminal(registry: Registry, word: str) -> Point:
    """Return the terminal that `word` names: ``ENCLOSURE/TERMINAL``, or a code that is used once.

    Raises
    ------
    NotFoundError
        If there is none.
    BadInputError
        If several enclosures have a terminal of that code.
    """
    enclosure, slash, code = word.partition("/")
    if not slash:
        enclosure, code = "", word
    rows = registry.rows(
        "SELECT e.code AS enclosure, t.code AS terminal FROM terminals AS t"
        " JOIN enclosures AS e ON e.id = t.enclosure_id WHERE t.code = ? COLLATE NOCASE"
        + (" AND e.code = ? COLLATE NOCASE" if enclosure else ""),
        [code, *([enclosure] if enclosure else [])],
    )
    if not rows:
        raise NotFoundError("terminal", word)
    if len(rows) > 1:
        names = ", ".join(f"{row['enclosure']}/{row['terminal']}" for row in rows[:6])
        raise BadInputError(f"'{word}' names {len(rows)} terminals. Choose one: {names}.")
    return Point(**rows[0])


def joined_by_raceways(registry: Registry) -> list[tuple[str, str, str]]:
    """Return every raceway's code, and the enclosures it joins, as they were recorded."""
    rows = registry.rows(
        "SELECT r.code, a.code AS one, b.code AS other FROM raceways AS r"
        " JOIN enclosures AS a ON a.id = r.from_enclosure_id"
        " JOIN enclosures AS b ON b.id = r.to_enclosure_id ORDER BY r.rowid"
    )
    return [(row["code"], row["one"], row["other"]) for row in rows]


def raceways_at(registry: Registry, boxes: Iterable[str]) -> list[tuple[str, str, str]]:
    """Return the raceways that end in one of the enclosures, as `joined_by_raceways` does."""
    rows = registry.rows(
        "WITH here (id) AS MATERIALIZED (SELECT id FROM enclosures WHERE code IN"
        " (SELECT value FROM json_each(?)))"
        " SELECT r.code, a.code AS one, b.code AS other FROM raceways AS r"
        " JOIN enclosures AS a ON a.id = r.from_enclosure_id"
        " JOIN enclosures AS b ON b.id = r.to_enclosure_id"
        " WHERE r.from_enclosure_id IN (SELECT id FROM here)"
        " OR r.to_enclosure_id IN (SELECT id FROM here) ORDER BY r.rowid",
        [json.dumps(list(boxes))],
    )
    return [(row["code"], row["one"], row["other"]) for row in rows]


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


def _pole(row: dict[str, object], place: Point) -> Pole:
    other = row["other"] if row["one"] == place.terminal else row["one"]
    return Pole(
        device=str(row["device"]),
        kind=str(row["kind"]) if row["kind"] else None,
        closed=None if row["closed"] is None else bool(row["closed"]),
        position=int(str(row["position"])),
        here=place,
        other=Point(place.enclosure, str(other)),
    )


def _pole_once(row: dict[str, Any]) -> Pole:
    """Return a pole as seen from the first of its terminals."""
    return _pole(row, Point(row["enclosure"], row["one"]))


def all_ends(registry: Registry) -> list[LandedEnd]:
    """Return the "from" end of every conductor in service, which knows the other end as well."""
    rows = registry.rows(f"{_ENDS} WHERE {IN_SERVICE} AND e.side = 'from' ORDER BY c.rowid")
    return [LandedEnd(**row) for row in rows]


def all_poles(registry: Registry) -> list[Pole]:
    """Return every pole once, seen from the first of its terminals."""
    return [_pole_once(row) for row in registry.rows(f"{_POLES} ORDER BY d.rowid, p.position")]


def joined_with(
    registry: Registry, tag: str | None, place: Point | None, without: Collection[str] = ()
) -> Joined:
    """Return what is joined with a conductor or terminal, over however many others.

    As `all_ends` and `all_poles` return it, in their order, but read from there on alone;
    conductors of the functions `without` lead nowhere. Devices lead on whether open or closed.
    """
    return _joined(registry, without, tag=tag, **place._asdict() if place else {})


def joined_with_device(
    registry: Registry, enclosure: str, device: str, without: Collection[str] = ()
) -> Joined:
    """Return what is joined with the poles of a device, as `joined_with` does."""
    return _joined(registry, without, enclosure=enclosure, device=device)


def of_circuit(registry: Registry, circuit: str, without: Collection[str] = ()) -> Joined:
    """Return a circuit's conductors in service, and the devices that they lead to.

    Conductors of other circuits lead nowhere, nor do those of the functions `without`.
    """
    where = {"circuit": circuit, "without": json.dumps(list(without))}
    ends = registry.rows(f"{_FROM_ENDS} AND k.code = :circuit ORDER BY c.rowid", where)
    poles = _poles_between(registry, registry.rows(_REACHED_IN_CIRCUIT, where))
    return [LandedEnd(**row) for row in ends], poles


def devices_called(registry: Registry, code: str, enclosure: str | None) -> list[tuple[str, str]]:
    """Return enclosure and code of the devices with poles of that code, in whatever case."""
    rows = registry.rows(
        "SELECT e.code AS enclosure, d.code AS device FROM devices AS d"
        " JOIN enclosures AS e ON e.id = d.enclosure_id WHERE d.code = ? COLLATE NOCASE"
        " AND EXISTS (SELECT 1 FROM poles AS p WHERE p.device_id = d.id)"
        + (" AND e.code = ? COLLATE NOCASE" if enclosure else ""),
        [code, *([enclosure] if enclosure else [])],
    )
    return [(row["enclosure"], row["device"]) for row in rows]


def _joined(registry: Registry, without: Collection[str], **start: str | None) -> Joined:
    """Return what `joined_with` does; each of the three queries reads from what is reached alone.

    One query for them all would have sqlite walk twice, and over every end of the site.
    """
    nowhere = dict.fromkeys(("tag", "enclosure", "terminal", "device"))
    where = {**nowhere, **start, "without": json.dumps(list(without))}
    reached = registry.rows(_REACHED, where)
    ends = registry.rows(
        f"{_FROM_ENDS} AND (c.tag = :tag OR c.id IN (SELECT x.conductor_id"
        " FROM json_each(:reached) AS i CROSS JOIN ends AS x ON x.terminal_id = i.value))"
        " ORDER BY c.rowid",
        {"tag": where["tag"], "without": where["without"], "reached": _ids(reached)},
    )
    return [LandedEnd(**row) for row in ends], _poles_between(registry, reached)


def _poles_between(registry: Registry, reached: list[dict[str, Any]]) -> list[Pole]:
    """Return the poles between terminals, each of which has both or none among them."""
    rows = registry.rows(
        f"{_POLES} WHERE p.one_terminal_id IN (SELECT value FROM json_each(?))"
        " ORDER BY d.rowid, p.position",
        [_ids(reached)],
    )
    return [_pole_once(row) for row in rows]


def _ids(reached: list[dict[str, Any]]) -> str:
    return json.dumps([row["id"] for row in reached])


Joined = tuple[list[LandedEnd], list[Pole]]
_POLES = """
    SELECT d.code AS device, d.kind, d.closed, p.position,
        a.code AS one, b.code AS other, e.code AS enclosure
    FROM poles AS p
    JOIN devices AS d ON d.id = p.device_id
    JOIN terminals AS a ON a.id = p.one_terminal_id
    JOIN terminals AS b ON b.id = p.other_terminal_id
    JOIN enclosures AS e ON e.id = d.enclosure_id"""
_FOLLOWED = "c.function NOT IN (SELECT value FROM json_each(:without))"
_FROM_ENDS = f"{_ENDS} WHERE {IN_SERVICE} AND e.side = 'from' AND {_FOLLOWED}"
_THROUGH_POLES = """
        SELECT p.other_terminal_id FROM reached JOIN poles AS p ON p.one_terminal_id = reached.id
        UNION
        SELECT p.one_terminal_id FROM reached JOIN poles AS p ON p.other_terminal_id = reached.id"""
_REACHED = f"""
    WITH RECURSIVE reached (id) AS (
        SELECT t.id FROM terminals AS t JOIN enclosures AS b ON b.id = t.enclosure_id
        WHERE b.code = :enclosure AND t.code = :terminal
        UNION
        SELECT p.one_terminal_id FROM poles AS p JOIN devices AS d ON d.id = p.device_id
        JOIN enclosures AS b ON b.id = d.enclosure_id
        WHERE b.code = :enclosure AND d.code = :device
        UNION
        SELECT e.terminal_id FROM ends AS e JOIN conductors AS c ON c.id = e.conductor_id
        WHERE c.tag = :tag AND e.terminal_id IS NOT NULL
        UNION
        SELECT o.terminal_id FROM reached
        JOIN ends AS e ON e.terminal_id = reached.id
        JOIN conductors AS c ON c.id = e.conductor_id AND {IN_SERVICE} AND {_FOLLOWED}
        JOIN ends AS o ON o.conductor_id = c.id AND o.side <> e.side
        WHERE o.terminal_id IS NOT NULL
        UNION {_THROUGH_POLES}
    ) SELECT id FROM reached"""
_REACHED_IN_CIRCUIT = f"""
    WITH RECURSIVE reached (id) AS (
        SELECT e.terminal_id FROM circuits AS k
        JOIN conductors AS c ON c.circuit_id = k.id AND {IN_SERVICE} AND {_FOLLOWED}
        JOIN ends AS e ON e.conductor_id = c.id
        WHERE k.code = :circuit AND e.terminal_id IS NOT NULL
        UNION {_THROUGH_POLES}
    ) SELECT id FROM reached"""
