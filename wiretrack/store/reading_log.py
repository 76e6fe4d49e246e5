# SPDX-License-Identifier: MIT
"""The log of readings; nothing in it is ever changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.store.loading import reading_row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlite_utils import Database

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def add_reading(registry: Registry, reading: Reading, *, who: str | None = None) -> str:
    """Store a reading durably and return its id.

    Raises
    ------
    NotFoundError
        If its conductor or its instrument isn't recorded.
    """
    with registry.write(who) as db:
        return _add(db, reading)


def add_readings(registry: Registry, several: Sequence[Reading]) -> list[str | Exception]:
    """Store readings in one durable change; return each one's id, or why it can't be stored.

    One that can't be stored takes no other with it.
    """
    if len(several) == 1:
        try:
            return [add_reading(registry, several[0])]
        except (NotFoundError, registry.errors) as error:
            return [error]
    found: list[str | Exception] = []
    with registry.write() as db:
        for reading in several:
            db.execute("SAVEPOINT one_reading")
            try:
                found.append(_add(db, reading))
            except (NotFoundError, registry.errors) as error:
                db.execute("ROLLBACK TO one_reading")
                found.append(error)
            db.execute("RELEASE one_reading")
    return found


def _add(db: Database, reading: Reading) -> str:
    row = reading_row(reading)
    names = ", ".join(f'"{name}"' for name in row)
    values = ", ".join(f":{name}" for name in row)
    added = db.execute(
        f"INSERT INTO readings ({names}, conductor_id, instrument_id)"
        f" SELECT {values}, c.id, i.id FROM conductors AS c"
        " LEFT JOIN instruments AS i ON i.code = :instrument"
        " WHERE c.tag = :subject AND (:instrument IS NULL OR i.id IS NOT NULL)",
        {**row, "subject": reading.subject, "instrument": reading.instrument},
    )
    if added.rowcount != 1:
        raise NotFoundError("conductor or instrument", f"{reading.subject} {reading.instrument}")
    return str(row["id"])
