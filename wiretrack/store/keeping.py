# SPDX-License-Identifier: MIT
"""What work adds to a registry: readings, landings, label prints and placed labels."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError
from wiretrack.store.identity import new_id, part_id
from wiretrack.store.loading import reading_row

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def now() -> str:
    """Return the time now, RFC 3339 in UTC to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


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


def add_label_prints(registry: Registry, prints: Iterable[Mapping[str, Any]]) -> None:
    """Note printed labels: rows with tag, end, form, stock, legend (a mapping) and file."""
    with registry.write() as db:
        for item in prints:
            row = {
                "id": new_id(),
                "conductor_id": id_of(registry, "conductors", item["tag"], "tag"),
                "side": item["end"],
                "form": item["form"],
                "stock": item["stock"],
                "legend": packed(item["legend"]),
                "file": item.get("file"),
                "at": now(),
            }
            insert(db, "label_prints", row)


def add_placed_labels(
    registry: Registry, rows: Iterable[Mapping[str, Any]], *, who: str | None = None
) -> None:
    """Note labels that are on their wires, inside the caller's write.

    Each row has tag and end, and one of `print_id` (which printed label it is), `legend` (what one
    written by hand says) and `takes_back` (the earlier row that holds no longer).
    """
    for row in rows:
        kept = {
            "id": new_id(),
            "conductor_id": id_of(registry, "conductors", row["tag"], "tag"),
            "side": row["end"],
            "print_id": row.get("print_id"),
            "legend": packed(row["legend"]) if "legend" in row else None,
            "takes_back": row.get("takes_back"),
            "at": datetime.now(UTC).isoformat(timespec="microseconds"),
            "by": who,
        }
        insert(registry.db, "placed_labels", kept)


def set_base_address(registry: Registry, address: str | None, *, who: str | None = None) -> None:
    """Set the address that labels lead to."""
    with registry.write(who) as db:
        db.execute("UPDATE site SET base_address = ?", [address])


def land_end(
    registry: Registry,
    tag: str,
    side: str,
    state: str | None,
    terminal: str | None = None,
    *,
    who: str | None = None,
) -> None:
    """Land an end on a terminal of its enclosure (made where it is new), cap it or set it loose."""
    with registry.write(who) as db:
        row = registry.row(
            "SELECT e.id, e.enclosure_id FROM ends AS e JOIN conductors AS c"
            " ON c.id = e.conductor_id WHERE c.tag = ? AND e.side = ?",
            [tag, side],
        )
        if row is None:
            raise NotFoundError("conductor", tag)
        terminal_id = _terminal(registry, row["enclosure_id"], terminal) if terminal else None
        db.execute(
            "UPDATE ends SET state = ?, terminal_id = ? WHERE id = ?",
            [state, terminal_id, row["id"]],
        )


def landing_before(registry: Registry, tag: str, side: str) -> tuple[str | None, str | None] | None:
    """Return the terminal and the state of an end before its last landing; None if there's none."""
    row = registry.row(
        "SELECT t.code AS terminal, json_extract(x.old, '$.state') AS state FROM conductors AS c"
        " JOIN ends AS e ON e.conductor_id = c.id AND e.side = ?"
        " JOIN changes AS x ON x.record = e.id AND x.what = 'ends' AND x.action = 'changed'"
        " LEFT JOIN terminals AS t ON t.id = json_extract(x.old, '$.terminal_id')"
        " WHERE c.tag = ? AND json_extract(x.old, '$.enclosure_id') = e.enclosure_id"
        " AND (json_extract(x.old, '$.terminal_id') IS NOT e.terminal_id"
        " OR json_extract(x.old, '$.state') IS NOT e.state) ORDER BY x.seq DESC LIMIT 1",
        [side, tag],
    )
    return (row["terminal"], row["state"]) if row else None


def _terminal(registry: Registry, enclosure_id: str, code: str) -> str:
    found = registry.row(
        "SELECT id FROM terminals WHERE enclosure_id = ? AND code = ?", [enclosure_id, code]
    )
    if found:
        return str(found["id"])
    row = {
        "id": part_id(enclosure_id, f"terminal:{code}"),
        "enclosure_id": enclosure_id,
        "code": code,
    }
    insert(registry.db, "terminals", row)
    return row["id"]


def insert(db: Any, table: str, row: Mapping[str, Any]) -> None:
    """Insert one row."""
    names = ", ".join(f'"{key}"' for key in row)
    holes = ", ".join(f":{key}" for key in row)
    db.execute(f"INSERT INTO {table} ({names}) VALUES ({holes})", dict(row))


def packed(value: object) -> str:
    """Return a value as the JSON text that a column holds."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
