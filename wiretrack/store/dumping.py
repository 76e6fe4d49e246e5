# SPDX-License-Identifier: MIT
"""The whole registry as a site document, and the logs of such a document into a registry."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.late import cached_property
from wiretrack.model.entities import Pull, Raceway
from wiretrack.model.source import TABLE_OF, TABLES, SiteDocument
from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.notes import record_id, with_contents
from wiretrack.store.searching import CODED
from wiretrack.store.source import StoredSource
from wiretrack.store.writing import insert, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from sqlite_utils import Database

    from wiretrack.store.store import Registry

    Row = Mapping[str, Any]


class Dump:
    """Everything that a registry holds, in the order in which it came.

    Each row is read when it is asked for, and none is kept: use it in ``registry.unchanging()``.
    """

    def __init__(self, registry: Registry) -> None:
        self._registry = registry
        self.site = StoredSource(registry).facts()

    def tables(self) -> Iterator[tuple[str, Iterable[Any]]]:
        """Yield each table with its records, in the order of files."""
        source = StoredSource(self._registry)
        for of, table in TABLES.items():
            yield table, map(itemgetter(1), source.every(of))
        for name in (*NOUNS, *_LOGS):
            rows = _logged(self._registry, name)
            yield name, with_contents(self._registry, rows) if name == "attachments" else rows


def _logged(registry: Registry, name: str) -> Iterator[Row]:
    if name in NOUNS:
        return procedures.dumped(registry, name)
    columns, *holding_json = _LOGS[name]
    return (unpacked(row, *holding_json) for row in registry.each(_select(name, columns)))


def logged(registry: Registry, name: str) -> dict[str, dict[str, Any]]:
    """Return the rows of a table that only a dump has, by their identifiers."""
    return {row["id"]: dict(row) for row in _logged(registry, name)}


def document(registry: Registry) -> SiteDocument:
    """Return everything that `registry` holds, in memory."""
    dump = Dump(registry)
    tables: dict[str, Any] = {name: tuple(rows) for name, rows in dump.tables()}
    rest = {name: tables.pop(name) for name in (*NOUNS, *_LOGS)}
    return SiteDocument(site=dump.site, rest=rest, **tables)


def load_logs(db: Database, rest: Mapping[str, Iterable[Row]], id_of: Callable[..., str]) -> None:
    """Add ring-outs, searches, labels and history, whose records are there by now.

    `id_of` finds the id of a record of a table by its code or tag.
    """
    for kind in NOUNS:
        procedures.load(db, kind, rest.get(kind, ()), id_of)
    for name, (columns, *holding_json) in _LOGS.items():
        rows = rest.get(name, ())
        if "of" in columns:
            rows = [{**row, "of": record_id(db, row["what"], row["of"])} for row in rows]
        insert(db, name, (_stored(row, columns, holding_json, id_of) for row in rows))


def _stored(
    row: Row, columns: Mapping[str, str], holding_json: Iterable[str], id_of: Callable[..., str]
) -> dict[str, Any]:
    found = {column: row.get(key) for key, column in columns.items()}
    for key in holding_json:
        found[key] = None if row.get(key) is None else packed(row[key])
    if "conductor_id" in found:
        found["conductor_id"] = id_of("conductors", row["tag"])
    return found


def _select(name: str, columns: Mapping[str, str]) -> str:
    """Return the query of a log's rows as a site file has them."""
    asked = ", ".join(
        _OF_OTHERS.get((key, column), f'l."{column}" AS "{key}"') for key, column in columns.items()
    )
    of = "WHERE l.what NOT IN ('site', 'reading')" if name == "same_records" else ""
    if columns.get("tag") == "conductor_id":
        of = "JOIN conductors AS c ON c.id = l.conductor_id"
    return f"SELECT {asked} FROM {name} AS l {of} ORDER BY l.rowid"


def _same(*names: str) -> dict[str, str]:
    return dict(zip(names, names, strict=True))


_OF_OTHERS = {
    ("tag", "conductor_id"): "c.tag",
    ("of", "record"): "(SELECT m.code FROM named AS m WHERE m.id = l.record) AS of",
}
_OF_ANYTHING = {"id": "id", "what": "what", "of": "record", "at": "at", "by": "by"}
_OF_AN_END = {"id": "id", "tag": "conductor_id", "end": "side"}
# Each log: its columns by their keys in a site file, and those that hold JSON.
_LOGS: dict[str, tuple[dict[str, str], *tuple[str, ...]]] = {
    "label_prints": ({**_OF_AN_END, **_same("form", "stock", "legend", "file", "at")}, "legend"),
    "placed_labels": (
        {**_OF_AN_END, "print": "print_id", **_same("legend", "takes_back", "at", "by")},
        "legend",
    ),
    "notes": ({**_OF_ANYTHING, **_same("text", "takes_back")},),
    "attachments": ({**_OF_ANYTHING, **_same("name", "type", "sha256")},),
    "same_records": (
        _same("id", "what", "record", "other", "tag", "other_tag", "takes_back", "at", "by"),
    ),
    "changes": (
        _same("id", "change", "more", "at", "by", "what", "record", "action", "old", "new"),
        "more",
        "old",
        "new",
    ),
}


_TABLES = TABLE_OF | {
    "ringout": "procedures",
    "fault_search": "procedures",
    "label_print": "label_prints",
    "placed_label": "placed_labels",
    "remark": "notes",
    "attachment": "attachments",
    "same_record": "same_records",
    "change": "changes",
}


class RegistryKnown(StoredSource):
    """Answers, from one registry, whether a code, a tag or an id exists, and what is there."""

    @cached_property
    def _none(self) -> set[str]:
        return {
            what
            for what, table in _TABLES.items()
            if self._registry.row(f"SELECT 1 FROM {table} LIMIT 1") is None
        }

    def has_none(self, of: type) -> bool:
        """Return whether there is no record of a kind."""
        return of.__name__.lower() in self._none

    def logged(self, table: str) -> Mapping[str, dict[str, Any]]:
        """Return the rows of a table that only a dump has, by their identifiers."""
        return logged(self._registry, table)

    def has(self, what: str, key: str | tuple[str, str]) -> bool:
        """Return whether there is such a record, as `Known.has` says."""
        if what in self._none:
            return False
        keys = (key,) if isinstance(key, str) else key
        return self._registry.row(_HAS[what], keys) is not None

    def raceway_ends(self, code: str) -> tuple[str, str] | None:
        """Return the codes of the two enclosures that a raceway joins."""
        found = self.find(Raceway, "code", [code])
        return next(((raceway.from_enclosure, raceway.to_enclosure) for _, raceway in found), None)

    def pull_path(self, code: str) -> tuple[str, ...] | None:
        """Return the raceways of a pull, first one first."""
        return next((pull.path for _, pull in self.find(Pull, "code", [code])), None)

    def cores(self, cable: str) -> Iterable[tuple[str, str | None, str | None]]:
        """Return tag, core and pull of each conductor in use that is a core of the cable."""
        rows = self._registry.rows(
            "SELECT c.tag, c.core, p.code AS pull FROM conductors AS c"
            " LEFT JOIN pulls AS p ON p.id = c.pull_id"
            " WHERE c.cable = ? AND c.retired_at IS NULL ORDER BY c.nr",
            [cable],
        )
        return [(row["tag"], row["core"], row["pull"]) for row in rows]

    def is_retired(self, what: str, code: str) -> bool:
        """Return whether the circuit of that code, or the conductor of that tag, is retired."""
        retired = f"{_HAS[what]} AND retired_at IS NOT NULL"
        return self._registry.row(retired, [code]) is not None

    def codes(self, what: str) -> Iterable[str]:
        """Return every code of that kind, for proposals."""
        return [row["code"] for row in self._registry.rows(f"SELECT code FROM {CODED[what]}")]


_HAS = {what: f"SELECT 1 FROM {table} WHERE code = ?" for what, table in CODED.items()} | {
    "conductor": "SELECT 1 FROM conductors WHERE tag = ?",
    "file": "SELECT 1 FROM files WHERE sha256 = ?",
    **{f"{what} id": f"SELECT 1 FROM {table} WHERE id = ?" for what, table in _TABLES.items()},
    **{
        what: f"SELECT 1 FROM {what}s AS x JOIN enclosures AS e ON e.id = x.enclosure_id"
        " WHERE e.code = ? AND x.code = ?"
        for what in ("terminal", "device")
    },
}
