# SPDX-License-Identifier: MIT
"""How records were before a write under way, or one that is over."""

from __future__ import annotations

import json
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.store.fold import LISTS
from wiretrack.store.operations import SITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.store.operations import Owner

Row = dict[str, Any]
Gathered = tuple[str, str, str, str | None, str | None]  # table, id, action, row before, row after


class Tables(Protocol):
    """The tables of records."""

    def rows(self, owner: Owner) -> list[Row]:
        """Return the rows of a record or list."""

    def true_name(self, table: str, row: Row) -> Row:
        """Return a row with its record's true name."""


class Before:
    """How records were before a write under way: the tables without what it `gathered`."""

    def __init__(
        self, tables: Tables, gathered: Sequence[Gathered] = (), *, is_over: bool = False
    ) -> None:
        self._tables, self._gathered = tables, gathered
        self.is_over = is_over  # then the tables are past what the write says

    @cached_property
    def _touched(self) -> dict[Owner, list[tuple[str, Row | None, Row | None]]]:
        """The rows gathered, by the record or list that they are of: id, row before, row after."""
        found: dict[Owner, list[tuple[str, Row | None, Row | None]]] = {}
        for table, each, _, *rows in self._gathered:
            old, new = (json.loads(row or "null") for row in rows)
            record = (old or new)[LISTS[table][1]] if table in LISTS else each
            owner = SITE if table == SITE[0] else (table, record)
            found.setdefault(owner, []).append((each, old, new))
        return found

    def rows(self, owner: Owner) -> list[Row]:
        """Return the rows of a record or list, with the true names of records."""
        found = {row["id"]: row for row in self._tables.rows(owner)}
        for each, before, after in reversed(self._touched.get(owner, ())):
            found.pop(after["id"] if after else each, None)
            if before:
                found[before["id"]] = before
        return [self._tables.true_name(owner[0], row) for row in found.values()]

    def row(self, table: str, record: str) -> Row | None:
        """Return the row of a list that a write under way touched."""
        for what, each, _, old, new in self._gathered:
            if (what, each) == (table, record):
                found: Row = json.loads(old or new or "{}")
                return found
        return None
