# SPDX-License-Identifier: MIT
"""The whole registry as a site document; loading that document gives an equal registry."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.model.document import SiteDocument
from wiretrack.model.source import TABLES
from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.source import StoredSource
from wiretrack.store.writing import unpacked

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.store.store import Registry


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
        for kind in NOUNS:
            yield kind, procedures.dumped(self._registry, kind)
        for name, (sql, *packed) in _LOGS.items():
            yield name, (unpacked(row, *packed) for row in self._registry.each(sql))


def document(registry: Registry) -> SiteDocument:
    """Return everything that `registry` holds, in memory."""
    dump = Dump(registry)
    tables: dict[str, Any] = {name: tuple(rows) for name, rows in dump.tables()}
    rest = {name: tables.pop(name) for name in (*NOUNS, *_LOGS)}
    return SiteDocument(site=dump.site, rest=rest, **tables)


_LABEL_PRINTS = """
    SELECT l.id, c.tag, l.side AS "end", l.form, l.stock, l.legend, l.file, l.at
    FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_PLACED_LABELS = """
    SELECT l.id, c.tag, l.side AS "end", l.print_id AS print, l.legend, l.takes_back, l.at, l.by
    FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_CHANGES = "SELECT id, at, by, what, record, action, old, new FROM changes ORDER BY seq"
# Each log as a table of the site file, and its columns that hold JSON.
_LOGS = {
    "label_prints": (_LABEL_PRINTS, "legend"),
    "placed_labels": (_PLACED_LABELS, "legend"),
    "changes": (_CHANGES, "old", "new"),
}
