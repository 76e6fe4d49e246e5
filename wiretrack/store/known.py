# SPDX-License-Identifier: MIT
"""What a registry already holds, as the reader of site files asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.store.dumping import logged
from wiretrack.store.source import StoredSource

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from wiretrack.model.parts import SiteFacts
    from wiretrack.store.store import Registry

_CODED = {
    "enclosure": "enclosures",
    "raceway": "raceways",
    "circuit": "circuits",
    "pull": "pulls",
    "instrument": "instruments",
}
_TABLES = {
    **_CODED,
    "terminal": "terminals",
    "device": "devices",
    "conductor": "conductors",
    "reading": "readings",
    "ringout": "procedures",
    "fault_search": "procedures",
    "label_print": "label_prints",
    "placed_label": "placed_labels",
    "remark": "notes",
    "attachment": "attachments",
    "change": "changes",
}


class RegistryKnown:
    """Answers, from one registry, whether a code, a tag or an id exists, and what is there."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""
        return StoredSource(self._registry).facts()

    def find(self, of: type[Any], by: str, keys: Collection[Any]) -> Iterable[tuple[int, Any]]:
        """Return the records that stand in a relation to one of the keys."""
        return StoredSource(self._registry).find(of, by, keys)

    def logged(self, table: str) -> Mapping[str, dict[str, Any]]:
        """Return the rows of a table that only a dump has, by their identifiers."""
        return logged(self._registry, table)

    def has(self, what: str, code: str) -> bool:
        """Return whether the `what` called `code` exists."""
        return self._any(f"SELECT 1 FROM {_CODED[what]} WHERE code = ?", code)

    def has_terminal(self, enclosure: str, code: str) -> bool:
        """Return whether the enclosure has a terminal of that code."""
        return self._any(_IN_ENCLOSURE.format(table="terminals"), enclosure, code)

    def has_device(self, enclosure: str, code: str) -> bool:
        """Return whether the enclosure has a device of that code."""
        return self._any(_IN_ENCLOSURE.format(table="devices"), enclosure, code)

    def raceway_ends(self, code: str) -> tuple[str, str] | None:
        """Return the codes of the two enclosures that a raceway joins."""
        row = self._registry.row(
            "SELECT a.code AS one, b.code AS other FROM raceways AS r"
            " JOIN enclosures AS a ON a.id = r.from_enclosure_id"
            " JOIN enclosures AS b ON b.id = r.to_enclosure_id WHERE r.code = ?",
            [code],
        )
        return (row["one"], row["other"]) if row else None

    def pull_path(self, code: str) -> tuple[str, ...] | None:
        """Return the raceways of a pull, first one first."""
        if not self.has("pull", code):
            return None
        rows = self._registry.rows(
            "SELECT r.code FROM pulls AS p JOIN pull_raceways AS x ON x.pull_id = p.id"
            " JOIN raceways AS r ON r.id = x.raceway_id WHERE p.code = ? ORDER BY x.position",
            [code],
        )
        return tuple(row["code"] for row in rows)

    def has_tag(self, tag: str) -> bool:
        """Return whether a conductor carries the tag (seven characters)."""
        return self._any("SELECT 1 FROM conductors WHERE tag = ?", tag)

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
        column = "tag" if what == "conductor" else "code"
        return self._any(
            f"SELECT 1 FROM {_TABLES[what]} WHERE {column} = ? AND retired_at IS NOT NULL", code
        )

    def has_id(self, what: str, record_id: str) -> bool:
        """Return whether a record of that kind has the id."""
        return self._any(f"SELECT 1 FROM {_TABLES[what]} WHERE id = ?", record_id)

    def has_file(self, sha256: str) -> bool:
        """Return whether the content of this SHA-256 is kept."""
        return self._any("SELECT 1 FROM files WHERE sha256 = ?", sha256)

    def codes(self, what: str) -> Iterable[str]:
        """Return every code of that kind, for proposals."""
        return [row["code"] for row in self._registry.rows(f"SELECT code FROM {_CODED[what]}")]

    def _any(self, sql: str, *parameters: str) -> bool:
        return self._registry.row(sql, parameters) is not None


_IN_ENCLOSURE = (
    "SELECT 1 FROM {table} AS x JOIN enclosures AS e ON e.id = x.enclosure_id"
    " WHERE e.code = ? AND x.code = ?"
)
