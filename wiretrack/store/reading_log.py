# SPDX-License-Identifier: MIT
"""The log of readings; nothing in it is ever changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.store.loading import reading_row
from wiretrack.store.writing import id_of, insert

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def add_reading(registry: Registry, reading: Reading, *, who: str | None = None) -> str:
    """Store a reading durably and return its id."""
    with registry.write(who):
        return _add_one(registry, reading)


def add_readings(registry: Registry, several: Sequence[Reading]) -> list[str | Exception]:
    """Store readings in one durable change; return each one's id, or why it can't be stored.

    One that can't be stored takes no other with it.
    """
    found: list[str | Exception] = []
    with registry.write() as db:
        for reading in several:
            db.execute("SAVEPOINT one_reading")
            try:
                found.append(_add_one(registry, reading))
            except (NotFoundError, registry.errors) as error:
                db.execute("ROLLBACK TO one_reading")
                found.append(error)
            db.execute("RELEASE one_reading")
    return found


def _add_one(registry: Registry, reading: Reading) -> str:
    conductor_id = id_of(registry, "conductors", reading.subject, "tag")
    instrument = reading.instrument
    instrument_id = id_of(registry, "instruments", instrument) if instrument else None
    row = reading_row(reading, conductor_id, instrument_id)
    insert(registry.db, "readings", row)
    return str(row["id"])
