# SPDX-License-Identifier: MIT
"""Rows and what is packed into them: what every write of the store is made of."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlite_utils import Database

    from wiretrack.store.store import Registry


def id_of(registry: Registry, table: str, key: str, column: str = "code") -> str:
    """Return the id of a record of `table`.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    row = registry.row(f"SELECT id FROM {table} WHERE {column} = ?", [key])
    if row is None:
        raise NotFoundError(table.removesuffix("s"), key)
    return str(row["id"])


def insert(db: Any, table: str, row: Mapping[str, Any]) -> None:
    """Insert one row."""
    names = ", ".join(f'"{key}"' for key in row)
    holes = ", ".join(f":{key}" for key in row)
    db.execute(f"INSERT INTO {table} ({names}) VALUES ({holes})", dict(row))


def insert_all(db: Database, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
    """Insert `rows`, which all have the same keys; the connection keeps the statement prepared."""
    iterator = iter(rows)
    first = next(iterator, None)
    if first is None:
        return
    names = ", ".join(f'"{key}"' for key in first)
    holes = ", ".join(f":{key}" for key in first)
    sql = f"INSERT INTO {table} ({names}) VALUES ({holes})"
    db.conn.execute(sql, first)
    db.conn.executemany(sql, iterator)


def packed(value: object) -> str:
    """Return a value as the JSON text that a column holds."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def unpacked(row: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    """Return the row without its unknowns, the JSON texts under `keys` as what they say."""
    return {
        key: json.loads(value) if key in keys else value
        for key, value in row.items()
        if value is not None
    }
