# SPDX-License-Identifier: MIT
"""The rows of each kind of entity, and the entity that a row is."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.entity import Subject
from wiretrack.model.fields import facts
from wiretrack.model.parts import Device, End, FarEnd, Instrument, Terminal
from wiretrack.model.tags import Tag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.model.entity import R
    from wiretrack.store.store import Registry

Row = dict[str, Any]
LISTED = "(SELECT value FROM json_each(?))"
IN_SERVICE = "c.retired_at IS NULL"  # c: conductors
CIRCUIT_IN_SERVICE = "k.retired_at IS NULL"  # k: circuits
# Each query begins with the entity's number in the order of the record; the aliases are those of
# the conditions that callers add.
_SELECT: dict[type, str] = {
    Enclosure: "SELECT e.rowid AS number, e.* FROM enclosures AS e",
    Terminal: "SELECT t.rowid AS number, t.id, e.code AS enclosure, t.code"
    " FROM terminals AS t JOIN enclosures AS e ON e.id = t.enclosure_id",
    Device: """
        SELECT d.rowid AS number, d.id, e.code AS enclosure, d.code, d.kind, d.closed, d.rating_a,
            d.termination_rating_c,
            (SELECT json_group_array(json_array(listed.one, listed.other)) FROM (
                SELECT a.code AS one, b.code AS other FROM poles AS p
                JOIN terminals AS a ON a.id = p.one_terminal_id
                JOIN terminals AS b ON b.id = p.other_terminal_id
                WHERE p.device_id = d.id ORDER BY p.position) AS listed) AS poles
        FROM devices AS d JOIN enclosures AS e ON e.id = d.enclosure_id""",
    Raceway: """
        SELECT r.rowid AS number, r.*, a.code AS from_enclosure, b.code AS to_enclosure
        FROM raceways AS r
        JOIN enclosures AS a ON a.id = r.from_enclosure_id
        JOIN enclosures AS b ON b.id = r.to_enclosure_id""",
    Circuit: "SELECT k.rowid AS number, k.* FROM circuits AS k",
    Pull: """
        SELECT p.rowid AS number, p.id, p.code,
            (SELECT json_group_array(listed.code) FROM (
                SELECT r.code FROM pull_raceways AS w JOIN raceways AS r ON r.id = w.raceway_id
                WHERE w.pull_id = p.id ORDER BY w.position) AS listed) AS path,
            (SELECT json_group_array(json_array(listed.code, listed.mark, listed.colour)) FROM (
                SELECT e.code, f.mark, f.colour FROM far_ends AS f
                JOIN enclosures AS e ON e.id = f.enclosure_id
                WHERE f.pull_id = p.id ORDER BY f.position) AS listed) AS far_ends
        FROM pulls AS p""",
    Conductor: """
        SELECT c.rowid AS number, c.*, p.code AS pull, o.tag AS follows,
            (SELECT json_group_array(listed.code) FROM (
                SELECT k.code FROM conductor_circuits AS s JOIN circuits AS k ON k.id = s.circuit_id
                WHERE s.conductor_id = c.id ORDER BY s.position) AS listed) AS circuits,
            fe.code AS f_enclosure, ft.code AS f_terminal, f.state AS f_state, f.mark AS f_mark,
            f.crossed_at AS f_crossed_at, f.reidentified AS f_reidentified,
            te.code AS t_enclosure, tt.code AS t_terminal, t.state AS t_state, t.mark AS t_mark,
            t.crossed_at AS t_crossed_at, t.reidentified AS t_reidentified
        FROM conductors AS c
        LEFT JOIN pulls AS p ON p.id = c.pull_id
        LEFT JOIN conductors AS o ON o.id = c.follows_id
        JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
        JOIN enclosures AS fe ON fe.id = f.enclosure_id
        LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
        JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
        JOIN enclosures AS te ON te.id = t.enclosure_id
        LEFT JOIN terminals AS tt ON tt.id = t.terminal_id""",
    Instrument: "SELECT i.rowid AS number, i.* FROM instruments AS i",
    Reading: """
        SELECT r.rowid AS number, r.id, r.kind,
            coalesce(c.tag, k.code, d.code) AS subject, r.value, r.number AS shown,
            r.unit, r.over_range, r.at, i.code AS instrument, r.leads_ohm, r.temp_c, r.cell_temp_c,
            r.against, r.test_voltage_v, r.after_s, r.by, r.note, r.supersedes,
            c.id IS NULL AS is_other, b.code AS box
        FROM readings AS r
        LEFT JOIN conductors AS c ON c.id = r.conductor_id
        LEFT JOIN circuits AS k ON k.id = r.circuit_id
        LEFT JOIN devices AS d ON d.id = r.device_id
        LEFT JOIN enclosures AS b ON b.id = d.enclosure_id
        LEFT JOIN instruments AS i ON i.id = r.instrument_id""",
}


def numbered(
    registry: Registry,
    of: type[R],
    where: str = "1",
    parameters: Sequence[Any] | dict[str, Any] = (),
    *,
    order: str = "number",
) -> Iterator[tuple[int, R]]:
    """Yield the entities of one kind that meet an SQL condition, each with its number."""
    for row in registry.each(f"{_SELECT[of]} WHERE {where} ORDER BY {order}", parameters):
        yield row["number"], _entity(of, row)


def _entity(of: type[R], row: Row) -> R:
    entity: type = of
    truths, others = _columns(entity)
    values = {
        key: bool(value) if key in truths and value is not None else value
        for key, value in row.items()
        if key not in others
    }
    made = _MADE.get(of)
    return of(**(made(values) if made else values))


@cache
def _columns(of: type) -> tuple[frozenset[str], frozenset[str]]:
    """Return the columns that are true or false, and those that are no value of an entity."""
    found = facts(of)
    truths = frozenset(fact.column for fact in found if fact.kind.is_truth)
    return truths, frozenset(
        {"number", "nr", "came", *(fact.column for fact in found if fact.refers)}
    )


def _device(values: Row) -> Row:
    return {**values, "poles": tuple(map(tuple, json.loads(values["poles"])))}


def _raceway(values: Row) -> Row:
    return {**values, "walls_m": tuple(json.loads(values["walls_m"]))}


def _pull(values: Row) -> Row:
    far = json.loads(values["far_ends"])
    ends = tuple(FarEnd(enclosure=box, mark=mark, colour=colour) for box, mark, colour in far)
    return {**values, "path": tuple(json.loads(values["path"])), "far_ends": ends}


def _conductor(values: Row) -> Row:
    values["circuits"] = tuple(json.loads(values["circuits"]))
    values["tag"], follows = Tag(values["tag"]), values["follows"]
    values["follows"] = follows and Tag(follows)
    for side, end in (("f", "from_end"), ("t", "to_end")):
        values[end] = End(
            enclosure=values.pop(f"{side}_enclosure"),
            terminal=values.pop(f"{side}_terminal"),
            state=values.pop(f"{side}_state"),
            mark=values.pop(f"{side}_mark"),
            crossed_at=values.pop(f"{side}_crossed_at"),
            reidentified=values.pop(f"{side}_reidentified"),
        )
    return values


def _reading(values: Row) -> Row:
    values["number"] = values.pop("shown")
    name, box = values["subject"], values.pop("box")
    if values.pop("is_other"):
        values["subject"] = Subject.of_device(box, name) if box is not None else Subject(name)
    return values


_MADE = {
    Device: _device,
    Raceway: _raceway,
    Pull: _pull,
    Conductor: _conductor,
    Reading: _reading,
}
