# SPDX-License-Identifier: MIT
"""The log of readings; nothing in it is ever changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.model.entity import Subject
from wiretrack.store.writing import new_id, own

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlite_utils import Database

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry

# The row of what a reading is of.
_SUBJECTS = {
    "conductor": "(SELECT id FROM conductors WHERE tag = :code) AS s",
    "circuit": "(SELECT id FROM circuits WHERE code = :code) AS s",
    "device": "(SELECT d.id FROM devices AS d JOIN enclosures AS b ON b.id = d.enclosure_id"
    " WHERE b.code = :box AND d.code = :code) AS s",
}


def add_reading(registry: Registry, reading: Reading, *, who: str | None = None) -> str:
    """Store a reading durably and return its id."""
    with registry.write(who) as db:
        return _add(db, reading)


def add_readings(
    registry: Registry, several: Sequence[tuple[Reading, str | None]]
) -> list[str | Exception]:
    """Store readings in one durable write, each as an entry of whoever enters it.

    Return each one's id, or why it can't be stored; such a one takes no other with it.
    """
    if len(several) == 1:
        try:
            return [add_reading(registry, several[0][0], who=several[0][1])]
        except (NotFoundError, registry.errors) as error:
            return [error]
    found: list[str | Exception] = []
    with registry.write() as db:
        for reading, who in several:
            db.execute("SAVEPOINT one_reading")
            db.execute("UPDATE writing SET who = ?", [who])
            try:
                found.append(_add(db, reading))
            except (NotFoundError, registry.errors) as error:
                db.execute("ROLLBACK TO one_reading")
                found.append(error)
            db.execute("RELEASE one_reading")
            registry.commit.add("change", who)
    return found


def _add(db: Database, reading: Reading) -> str:
    row = own(reading) | {"id": reading.id or new_id()}
    del row["entered_at"], row["entered_by"]
    names = ", ".join(f'"{name}"' for name in row)
    values = ", ".join(f":{name}" for name in row)
    subject, what, box, code = reading.subject, "conductor", None, reading.subject
    if isinstance(subject, Subject):
        what = "device" if subject.device else "circuit"
        box, code = subject.device or (None, code)
    added = db.execute(
        f"INSERT INTO readings ({names}, {what}_id, instrument_id, entered_at, entered_by)"
        f" SELECT {values}, s.id, i.id, w.at, w.who FROM {_SUBJECTS[what]}"
        " JOIN writing AS w LEFT JOIN instruments AS i ON i.code = :instrument"
        " WHERE :instrument IS NULL OR i.id IS NOT NULL",
        {**row, "box": box, "code": code, "instrument": reading.instrument},
    )
    if added.rowcount != 1:
        raise NotFoundError(f"{what} or instrument", f"{subject} {reading.instrument}")
    return str(row["id"])
