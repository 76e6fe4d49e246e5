# SPDX-License-Identifier: MIT
"""The whole registry as a site document, and the logs of such a document into a registry."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.model.document import SiteDocument
from wiretrack.model.source import TABLES
from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.notes import record_id, with_contents
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
