# SPDX-License-Identifier: MIT
"""What a registry already holds, as the reader of site files asks for it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Pull, Raceway
from wiretrack.store.dumping import logged
from wiretrack.store.source import StoredSource

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

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
    "same_record": "same_records",
    "change": "changes",
}


class RegistryKnown(StoredSource):
    """Answers, from one registry, whether a code, a tag or an id exists, and what is there."""

    @cached_property
    def _none(self) -> set[str]:
        """The kinds of which there is none, which needn't be asked for one by one."""
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
        return [row["code"] for row in self._registry.rows(f"SELECT code FROM {_CODED[what]}")]


_HAS = {what: f"SELECT 1 FROM {table} WHERE code = ?" for what, table in _CODED.items()} | {
    "conductor": "SELECT 1 FROM conductors WHERE tag = ?",
    "file": "SELECT 1 FROM files WHERE sha256 = ?",
    **{f"{what} id": f"SELECT 1 FROM {table} WHERE id = ?" for what, table in _TABLES.items()},
    **{
        what: f"SELECT 1 FROM {what}s AS x JOIN enclosures AS e ON e.id = x.enclosure_id"
        " WHERE e.code = ? AND x.code = ?"
        for what in ("terminal", "device")
    },
}
