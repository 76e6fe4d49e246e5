# SPDX-License-Identifier: MIT
"""The store as the source of a site: each look-up one query on an index."""

from __future__ import annotations

import json
from functools import cache
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack import manner
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.entity import Subject
from wiretrack.model.fields import facts
from wiretrack.model.parts import Device, End, FarEnd, Instrument, SiteFacts, Terminal
from wiretrack.model.site import Site
from wiretrack.model.source import TABLES
from wiretrack.model.tags import Tag
from wiretrack.store import label_log, notes
from wiretrack.store.schema import SOME_UNDECIDED

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from wiretrack.model.entity import Key, Knowledge, Noted, R
    from wiretrack.model.labels import EndLabel
    from wiretrack.model.source import SiteDocument
    from wiretrack.store.store import Registry

Row = dict[str, Any]
# Each query begins with the entity's number in the order of the record; the aliases are those of
# the conditions that callers add.
_ENDS = ", ".join(
    f"{end}{part}.{column} AS {end}_{name}"
    for end in "ft"
    for part, column, name in [
        ("e", "code", "enclosure"),
        ("t", "code", "terminal"),
        *(("", f.column, f.name) for f in facts(End) if not f.refers and f.name != "id"),
    ]
)
_SELECT: dict[type, str] = {
    Enclosure: "SELECT e.rowid AS nth, e.* FROM enclosures AS e",
    Terminal: "SELECT t.rowid AS nth, t.*, e.code AS enclosure"
    " FROM terminals AS t JOIN enclosures AS e ON e.id = t.enclosure_id",
    Device: """
        SELECT d.rowid AS nth, d.*, e.code AS enclosure,
            (SELECT json_group_array(json_array(listed.one, listed.other)) FROM (
                SELECT a.code AS one, b.code AS other FROM poles AS p
                JOIN terminals AS a ON a.id = p.one_terminal_id
                JOIN terminals AS b ON b.id = p.other_terminal_id
                WHERE p.device_id = d.id ORDER BY p.position) AS listed) AS poles
        FROM devices AS d JOIN enclosures AS e ON e.id = d.enclosure_id""",
    Raceway: """
        SELECT r.rowid AS nth, r.*, a.code AS from_enclosure, b.code AS to_enclosure
        FROM raceways AS r
        JOIN enclosures AS a ON a.id = r.from_enclosure_id
        JOIN enclosures AS b ON b.id = r.to_enclosure_id""",
    Circuit: "SELECT k.rowid AS nth, k.* FROM circuits AS k",
    Pull: """
        SELECT p.rowid AS nth, p.*,
            (SELECT json_group_array(listed.code) FROM (
                SELECT r.code FROM pull_raceways AS w JOIN raceways AS r ON r.id = w.raceway_id
                WHERE w.pull_id = p.id ORDER BY w.position) AS listed) AS path,
            (SELECT json_group_array(json_array(listed.code, listed.mark, listed.colour)) FROM (
                SELECT e.code, f.mark, f.colour FROM far_ends AS f
                JOIN enclosures AS e ON e.id = f.enclosure_id
                WHERE f.pull_id = p.id ORDER BY f.position) AS listed) AS far_ends
        FROM pulls AS p""",
    Conductor: f"""
        SELECT c.rowid AS nth, c.*, p.code AS pull, o.tag AS follows,
            (SELECT json_group_array(listed.code) FROM (
                SELECT k.code FROM conductor_circuits AS s JOIN circuits AS k ON k.id = s.circuit_id
                WHERE s.conductor_id = c.id ORDER BY s.position) AS listed) AS circuits,
            {_ENDS}
        FROM conductors AS c
        LEFT JOIN pulls AS p ON p.id = c.pull_id
        LEFT JOIN conductors AS o ON o.id = c.follows_id
        JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
        JOIN enclosures AS fe ON fe.id = f.enclosure_id
        LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
        JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
        JOIN enclosures AS te ON te.id = t.enclosure_id
        LEFT JOIN terminals AS tt ON tt.id = t.terminal_id""",
    Instrument: "SELECT i.rowid AS nth, i.* FROM instruments AS i",
    Reading: """
        SELECT r.rowid AS nth, r.*, coalesce(c.tag, k.code, d.code) AS subject,
            i.code AS instrument, c.id IS NULL AS is_other, b.code AS box
        FROM readings AS r
        LEFT JOIN conductors AS c ON c.id = r.conductor_id
        LEFT JOIN circuits AS k ON k.id = r.circuit_id
        LEFT JOIN devices AS d ON d.id = r.device_id
        LEFT JOIN enclosures AS b ON b.id = d.enclosure_id
        LEFT JOIN instruments AS i ON i.id = r.instrument_id""",
}


def _entities(of: type[R], rows: Iterable[Row]) -> Iterator[tuple[int, R]]:
    """Yield what rows of one query say, each with its number in the order of the record."""
    entity: type = of
    made, kept, truths = _MADE.get(of), list[str](), list[str]()
    for row in rows:
        if not kept:
            kept = [key for key in row if key not in _OF_THE_ROW and not key.endswith("_id")]
            truths = [key for key in kept if key in _truths(entity)]
        values = {key: row[key] for key in kept}
        for key in truths:
            if values[key] is not None:
                values[key] = bool(values[key])
        yield row["nth"], of(**(made(values) if made else values))


_OF_THE_ROW = ("nth", "nr", "came")


@cache
def _truths(of: type) -> frozenset[str]:
    return frozenset(fact.column for fact in facts(of) if fact.kind.is_truth)


def _pull(values: Row) -> Row:
    far = json.loads(values["far_ends"])
    ends = tuple(FarEnd(enclosure=box, mark=mark, colour=colour) for box, mark, colour in far)
    return {**values, "path": tuple(json.loads(values["path"])), "far_ends": ends}


def _conductor(values: Row) -> Row:
    values["circuits"] = tuple(json.loads(values["circuits"]))
    values["tag"], follows = Tag(values["tag"]), values["follows"]
    values["follows"] = follows and Tag(follows)
    for side, end in (("f_", "from_end"), ("t_", "to_end")):
        own = [key for key in values if key.startswith(side)]
        values[end] = End(**{key[2:]: values.pop(key) for key in own})
    return values


def _reading(values: Row) -> Row:
    name, box = values["subject"], values.pop("box")
    if values.pop("is_other"):
        values["subject"] = Subject.of_device(box, name) if box is not None else Subject(name)
    return values


_MADE = {
    Device: lambda values: values | {"poles": tuple(map(tuple, json.loads(values["poles"])))},
    Raceway: lambda values: values | {"walls_m": tuple(json.loads(values["walls_m"]))},
    Pull: _pull,
    Conductor: _conductor,
    Reading: _reading,
}


_KEYS = "(SELECT value FROM json_each(:keys))"
_BOXES = f"(SELECT id FROM enclosures WHERE code IN {_KEYS})"
_TERMINALS = (
    "(SELECT t.id FROM json_each(:keys) AS i"
    " CROSS JOIN enclosures AS e ON e.code = i.value ->> 0"
    " CROSS JOIN terminals AS t ON t.enclosure_id = e.id AND t.code = i.value ->> 1)"
)
_DEVICES = (
    "(SELECT d.id FROM json_each(:keys) AS i"
    " CROSS JOIN enclosures AS e ON e.code = i.value ->> 0"
    " CROSS JOIN devices AS d ON d.enclosure_id = e.id AND d.code = i.value ->> 1)"
)
_POLES = (
    f"(SELECT device_id FROM poles WHERE one_terminal_id IN {_TERMINALS}"
    f" UNION SELECT device_id FROM poles WHERE other_terminal_id IN {_TERMINALS})"
)
# What each relation of `model.source.KEYS` is in SQL; the aliases are those of `_SELECT`.
_WHERE: dict[tuple[type, str], str] = {
    (Enclosure, "code"): f"e.code IN {_KEYS}",
    (Enclosure, "kind"): f"e.kind IN {_KEYS}",
    (Terminal, "place"): f"t.id IN {_TERMINALS}",
    (Terminal, "enclosure"): f"t.enclosure_id IN {_BOXES}",
    (Device, "place"): f"d.id IN {_DEVICES}",
    (Device, "enclosure"): f"d.enclosure_id IN {_BOXES}",
    (Device, "terminal"): f"d.id IN {_POLES}",
    (Raceway, "code"): f"r.code IN {_KEYS}",
    (Raceway, "enclosure"): f"r.from_enclosure_id IN {_BOXES} OR r.to_enclosure_id IN {_BOXES}",
    (Circuit, "code"): f"k.code IN {_KEYS}",
    (Pull, "code"): f"p.code IN {_KEYS}",
    (Pull, "raceway"): "p.id IN (SELECT x.pull_id FROM raceways AS r JOIN pull_raceways AS x"
    f" ON x.raceway_id = r.id WHERE r.code IN {_KEYS})",
    (Conductor, "tag"): f"c.tag IN {_KEYS}",
    (Conductor, "circuit"): "c.id IN (SELECT x.conductor_id FROM circuits AS k"
    f" JOIN conductor_circuits AS x ON x.circuit_id = k.id WHERE k.code IN {_KEYS})",
    (Conductor, "pull"): f"c.pull_id IN (SELECT id FROM pulls WHERE code IN {_KEYS})",
    (Conductor, "enclosure"): "c.id IN (SELECT conductor_id FROM ends WHERE enclosure_id IN"
    f" {_BOXES})",
    (Conductor, "terminal"): "c.id IN (SELECT conductor_id FROM ends WHERE terminal_id IN"
    f" {_TERMINALS})",
    (Conductor, "follows"): f"c.follows_id IN (SELECT id FROM conductors WHERE tag IN {_KEYS})",
    (Instrument, "code"): f"i.code IN {_KEYS}",
    (Reading, "id"): f"r.id IN {_KEYS}",
    (Reading, "subject"): f"r.conductor_id IN (SELECT id FROM conductors WHERE tag IN {_KEYS})",
    (Reading, "device"): f"r.device_id IN {_DEVICES}",
    (Reading, "circuit"): f"r.circuit_id IN (SELECT id FROM circuits WHERE code IN {_KEYS})",
    (Reading, "supersedes"): f"r.supersedes IN {_KEYS}",
    # Beside those, what is read together with a conductor.
    (Circuit, "conductor"): "k.id IN (SELECT x.circuit_id FROM conductors AS c"
    f" JOIN conductor_circuits AS x ON x.conductor_id = c.id WHERE c.tag IN {_KEYS})",
    (Enclosure, "conductor"): "e.id IN (SELECT x.enclosure_id FROM conductors AS c"
    f" JOIN ends AS x ON x.conductor_id = c.id WHERE c.tag IN {_KEYS})",
} | {(of, "id"): f"{sql.split()[1][0]}.id IN {_KEYS}" for of, sql in _SELECT.items()}


class StoredSource:
    """The records of an open registry."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""
        row = self._registry.row("SELECT * FROM site WHERE one = 1") or {}
        row.pop("one", None)
        return SiteFacts(**row)

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> Iterable[tuple[int, R]]:
        """Return the records that stand in a relation to one of the keys, as a `Source` does."""
        return self._numbered(of, f"WHERE {_WHERE[of, by]}", {"keys": json.dumps(list(keys))})

    def every(self, of: type[R]) -> Iterable[tuple[int, R]]:
        """Return all records of a kind, each with its number in the order of the record."""
        return self._numbered(of, "", {})

    def _numbered(self, of: type[R], where: str, given: Row) -> Iterator[tuple[int, R]]:
        return _entities(of, self._registry.each(f"{_SELECT[of]} {where} ORDER BY nth", given))

    def everything(self) -> SiteDocument:
        """Return all records, without the logs that only a dump has."""
        from wiretrack.model.source import SiteDocument

        tables: dict[str, Any] = {
            table: tuple(map(itemgetter(1), self.every(of))) for of, table in TABLES.items()
        }
        return SiteDocument(site=self.facts(), **tables)

    def labels(self, tags: Collection[str]) -> Mapping[tuple[str, str], EndLabel]:
        """Return what the logs of labels hold of the ends of conductors, by tag and side."""
        return label_log.labels(self._registry, tags)

    def noted(self, records: Collection[str]) -> Mapping[str, Noted]:
        """Return what is noted of records, and attached to them, by their ids."""
        return notes.noted(self._registry, records)

    def undecided(self) -> Mapping[str, Sequence[str]]:
        """Return what is undecided of tags, circuits and devices, in words, where it counts."""
        if not self._registry.some_undecided():
            return {}
        from wiretrack.store.undecided import resting

        found = resting(self._registry)
        return {of: [each.told for each in them if each.matters] for of, them in found.items()}


def read_together(registry: Registry, site: Site, tag: Tag, instrument: str | None) -> None:
    """Read into a site, in one query, what a reading of a conductor rests on.

    That is the conductor, its circuits and boxes, the instrument, how the site counts and speaks,
    and whether all is decided.
    """
    asked: list[tuple[type[Any], str, str | None]] = [
        (Conductor, "tag", tag), (Circuit, "conductor", tag), (Enclosure, "conductor", tag),
        (Instrument, "code", instrument),
    ]  # fmt: skip
    names = [_names(registry, of) for of, *_ in asked]
    most = max(map(len, names))
    arms = [
        f"SELECT {arm}, q.*{', NULL' * (most - len(names[arm]))} FROM"
        f" ({_SELECT[of]} WHERE {_WHERE[of, by]}) AS q".replace(":keys", f":keys{arm}")
        for arm, (of, by, _) in enumerate(asked)
    ]
    arms.append(
        f"SELECT {len(asked)}, time_zone, units, rules, {SOME_UNDECIDED}{', NULL' * (most - 4)}"
        " FROM site WHERE one = 1"
    )
    keys = {f"keys{arm}": json.dumps([key]) for arm, (*_, key) in enumerate(asked)}
    for arm, *values in registry.connection.execute(" UNION ALL ".join(arms), keys):
        if arm < len(asked):
            of, row = asked[arm][0], dict(zip(names[arm], values, strict=False))
            list(site.adopt(of, _entities(of, [row])))
        else:
            manner.use(manner.Manner(*values[:3]))
            if not values[3]:
                site.undecided = {}


_NAMES: dict[type, list[str]] = {}


def _names(registry: Registry, of: type) -> list[str]:
    """Return the names of what `_SELECT` reads of a kind; every registry has the same."""
    if of not in _NAMES:
        found = registry.connection.execute(f"{_SELECT[of]} LIMIT 0")
        _NAMES[of] = [column[0] for column in found.description]
    return _NAMES[of]


def site_of(registry: Registry) -> Site:
    """Return the site that a registry describes, as it is now."""
    return Site(StoredSource(registry), judge_of)


def judge_of(site: Site) -> Knowledge:
    """Return what follows from the record of a site."""
    from wiretrack.readings.judging import Judge  # what only looks a record up needn't load it

    return Judge(site)
