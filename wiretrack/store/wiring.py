# SPDX-License-Identifier: MIT
"""Terminals and devices that a word names, and where most raceways meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.model.entity import Point

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def find_terminal(registry: Registry, word: str) -> Point:
    """Return the terminal that `word` names: ``ENCLOSURE/TERMINAL``, or a code that is used once.

    Raises
    ------
    NotFoundError
        If there is none.
    BadInputError
        If several enclosures have a terminal of that code.
    """
    enclosure, slash, code = word.partition("/")
    if not slash:
        enclosure, code = "", word
    rows = registry.rows(
        "SELECT e.code AS enclosure, t.code AS terminal FROM terminals AS t"
        " JOIN enclosures AS e ON e.id = t.enclosure_id WHERE t.code = ? COLLATE NOCASE"
        + (" AND e.code = ? COLLATE NOCASE" if enclosure else ""),
        [code, *([enclosure] if enclosure else [])],
    )
    if not rows:
        raise NotFoundError("terminal", word)
    if len(rows) > 1:
        names = ", ".join(f"{row['enclosure']}/{row['terminal']}" for row in rows[:6])
        raise BadInputError(f"'{word}' names {len(rows)} terminals. Choose one: {names}.")
    return Point(**rows[0])


def hub(registry: Registry) -> str | None:
    """Return the enclosure where most raceways meet, of equals the first; `None` without any."""
    row = registry.row(
        "SELECT e.code FROM (SELECT from_enclosure_id AS id FROM raceways"
        " UNION ALL SELECT to_enclosure_id FROM raceways) AS r JOIN enclosures AS e USING (id)"
        " GROUP BY r.id ORDER BY count(*) DESC, e.rowid LIMIT 1"
    )
    return row["code"] if row else None


def enclosures_counted(registry: Registry) -> int:
    """Return how many enclosures there are."""
    return int(registry.rows("SELECT count(*) AS many FROM enclosures")[0]["many"])


def devices_called(registry: Registry, code: str, enclosure: str | None) -> list[tuple[str, str]]:
    """Return enclosure and code of the devices with poles of that code, in whatever case."""
    rows = registry.rows(
        "SELECT e.code AS enclosure, d.code AS device FROM devices AS d"
        " JOIN enclosures AS e ON e.id = d.enclosure_id WHERE d.code = ? COLLATE NOCASE"
        " AND EXISTS (SELECT 1 FROM poles AS p WHERE p.device_id = d.id)"
        + (" AND e.code = ? COLLATE NOCASE" if enclosure else ""),
        [code, *([enclosure] if enclosure else [])],
    )
    return [(row["enclosure"], row["device"]) for row in rows]
