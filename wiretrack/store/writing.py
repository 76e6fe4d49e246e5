# SPDX-License-Identifier: MIT
"""Identifiers, rows and what is packed into them: what every write of the store is made of.

An identifier is random for what people make, derived for what only exists within a parent. An end,
a pole, a terminal is the same thing in two copies of a registry exactly when its parent and its
place within the parent are the same; so its identifier follows from those two.
"""

from __future__ import annotations

import json
import os
from functools import cache
from itertools import chain
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, NotFoundError, SiteDiffersError
from wiretrack.model.entities import Raceway
from wiretrack.model.fields import facts
from wiretrack.store.rows import part_id, uuid_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from sqlite_utils import Database

    from wiretrack.model.parts import SiteFacts
    from wiretrack.store.store import Registry


def new_id() -> str:
    """Return a new identifier, unique wherever registries meet (RFC 9562, UUID version 4)."""
    return uuid_of(os.urandom(16).hex(), 4)


def terminal_id(db: Database, box_id: str, code: str) -> str:
    """Return the identifier of a new terminal; another one where a renamed one has its own."""
    found = part_id(box_id, f"terminal:{code}")
    taken = db.execute("SELECT 1 FROM terminals WHERE id = ?", [found]).fetchone()
    return new_id() if taken else found


def id_of(registry: Registry, table: str, key: str, column: str = "code") -> str:
    """Return the id of a record of `table`; `NotFoundError` if there is none."""
    row = registry.row(f"SELECT id FROM {table} WHERE {column} = ?", [key])
    if row is None:
        raise NotFoundError(table.removesuffix("s"), key)
    return str(row["id"])


_AT_ONCE = 1000  # rows a statement: at each, sqlite keeps a journal of its own for the triggers


def insert(db: Database, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
    """Insert `rows`, which all have the same keys, many at once."""
    found = [*rows]
    if found:
        names = [*found[0]]
        insert_values(db, table, names, [[row[name] for name in names] for row in found])


def insert_values(
    db: Database, table: str, names: Sequence[str], rows: Sequence[Sequence[Any]]
) -> None:
    """Insert rows that have a value for each of these columns, many at once."""
    columns, row = '", "'.join(names), f"({', '.join('?' * len(names))})"
    for start in range(0, len(rows), _AT_ONCE):
        several = rows[start : start + _AT_ONCE]
        db.conn.execute(
            f'INSERT INTO {table} ("{columns}") VALUES {", ".join([row] * len(several))}',
            [*chain.from_iterable(several)],
        )


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


# The tables of records, each after those that it names.
IN_ORDER = (
    "enclosures", "circuits", "instruments", "terminals", "devices", "raceways", "pulls",
    "conductors", "readings",
)  # fmt: skip
# Columns whose values lie in rows of their own, or need more than a code to be found.
ROWS_OF_THEIR_OWN = frozenset(
    ("circuits_id", "path_id", "terminal_id", "poles", "far_ends", "subject", "walls_m")
)


@cache
def own_columns(of: type) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    """Return the columns of a record's row but for what it refers to, and what reads their values.

    The id is the first one.
    """
    names = ("id", *(
        fact.name for fact in facts(of)
        if not (fact.refers or fact.kind.record or fact.name in ("id", *ROWS_OF_THEIR_OWN))
    ))  # fmt: skip
    values = attrgetter(*names)
    if of is not Raceway:
        return names, values
    return (*names, "walls_m"), lambda record: (*values(record), json.dumps(record.walls_m))


def own(record: Any) -> dict[str, Any]:
    """Return what the row of a record holds, but for what it refers to."""
    of: type = type(record)
    names, values = own_columns(of)
    return dict(zip(names, values(record), strict=True))


def merge_site(db: Database, site: SiteFacts) -> dict[str, Any]:
    """Take what isn't known of the site yet, and return it; what is known can't change here.

    Until the registry describes a place, its name may change, and its id follows the file's.
    """
    given = {key: value for key, value in own(site).items() if value is not None}
    cursor = db.execute("SELECT * FROM site WHERE one = 1")
    names = [column[0] for column in cursor.description]
    known = dict(zip(names, cursor.fetchone(), strict=True))
    empty = db.execute("SELECT NOT EXISTS (SELECT 1 FROM enclosures)").fetchone()[0]
    code = known["code"]
    if not empty and code and site.code and code != site.code:
        raise BadInputError(
            f"This registry is of site '{code}', the file is of site '{site.code}'."
            " Load it into a registry of its own."
        )
    if not empty:
        given.pop("id", None)
    free = ("id", "name") if empty else ("name",)
    other = {
        key: value
        for key, value in given.items()
        if known[key] not in (None, value) and key not in free
    }
    if other:
        raise SiteDiffersError(other, known)
    new = {key: value for key, value in given.items() if known[key] != value}
    if new:
        changed = ", ".join(f"{key} = :{key}" for key in new)
        db.execute(f"UPDATE site SET {changed}", new)
    return new


def add_site(registry: Registry, site: SiteFacts) -> None:
    """Write the one site row of a new registry, before any history begins."""
    with registry.write(noted=False, kind="new") as db:
        insert(db, "site", [{**own(site), "id": site.id or new_id()}])
