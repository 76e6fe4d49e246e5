# SPDX-License-Identifier: MIT
"""What work adds to a registry: readings, ring-outs and their answers, ends, label prints."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError
from wiretrack.registry.identity import new_id, part_id
from wiretrack.registry.loading import reading_row

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.records import Reading
    from wiretrack.registry.store import Registry


@dataclass(frozen=True)
class Ringout:
    """A ring-out as stored: what was asked and answered so far, in order."""

    id: str
    pull: str
    near: str
    far: str
    settings: dict[str, Any]
    at: str
    result: dict[str, Any] | None
    answers: tuple[tuple[dict[str, Any], dict[str, Any]], ...]


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
    conductor_id = id_of(registry, "conductors", reading.subject, "tag")
    instrument = reading.instrument
    instrument_id = id_of(registry, "instruments", instrument) if instrument else None
    row = reading_row(reading, conductor_id, instrument_id)
    with registry.write(who) as db:
        _insert(db, "readings", row)
    return str(row["id"])


def start_ringout(
    registry: Registry, pull: str, near: str, far: str, settings: Mapping[str, Any]
) -> Ringout:
    """Begin a ring-out and return it."""
    row = {
        "id": new_id(),
        "pull_id": id_of(registry, "pulls", pull),
        "near_id": id_of(registry, "enclosures", near),
        "far_id": id_of(registry, "enclosures", far),
        "settings": _packed(settings),
        "at": now(),
    }
    with registry.write() as db:
        _insert(db, "ringouts", row)
    return Ringout(row["id"], pull, near, far, dict(settings), row["at"], None, ())


def latest_ringout(
    registry: Registry, pull: str, near: str | None = None, far: str | None = None
) -> Ringout | None:
    """Return the latest ring-out of a pull (between two boxes, where given), with its answers."""
    row = registry.row(
        "SELECT g.id, p.code AS pull, n.code AS near, f.code AS far, g.settings, g.at, g.result"
        " FROM ringouts AS g JOIN pulls AS p ON p.id = g.pull_id"
        " JOIN enclosures AS n ON n.id = g.near_id JOIN enclosures AS f ON f.id = g.far_id"
        " WHERE p.code = :pull AND coalesce(:near, n.code) = n.code"
        " AND coalesce(:far, f.code) = f.code ORDER BY g.rowid DESC LIMIT 1",
        {"pull": pull, "near": near, "far": far},
    )
    if row is None:
        return None
    answers = registry.rows(
        "SELECT a.step, coalesce(n.answer, a.answer) AS answer FROM ringout_answers AS a"
        " LEFT JOIN ringout_answers AS n ON n.supersedes = a.id"
        " WHERE a.ringout_id = ? AND a.supersedes IS NULL ORDER BY a.seq",
        [row["id"]],
    )
    row["settings"] = json.loads(row["settings"])
    row["result"] = json.loads(row["result"]) if row["result"] else None
    pairs = tuple((json.loads(a["step"]), json.loads(a["answer"])) for a in answers)
    return Ringout(**row, answers=pairs)


def add_answer(
    registry: Registry, ringout_id: str, step: Mapping[str, Any], answer: Mapping[str, Any]
) -> None:
    """Store what was asked and answered, durably, before anything else is asked."""
    with registry.write() as db:
        row = {
            "id": new_id(),
            "ringout_id": ringout_id,
            "step": _packed(step),
            "answer": _packed(answer),
            "at": now(),
        }
        seq = "(SELECT coalesce(max(seq), 0) + 1 FROM ringout_answers WHERE ringout_id = ?)"
        db.execute(
            "INSERT INTO ringout_answers (id, ringout_id, step, answer, at, seq)"
            f" VALUES (?, ?, ?, ?, ?, {seq})",
            [*row.values(), ringout_id],
        )


def finish_ringout(
    registry: Registry, ringout: Ringout, result: Mapping[str, Any], *, who: str | None = None
) -> None:
    """Store the result and write each match's end mark to the conductor's end at the far box."""
    with registry.write(who) as db:
        db.execute("UPDATE ringouts SET result = ? WHERE id = ?", [_packed(result), ringout.id])
        for match in result["matches"]:
            db.execute(
                "UPDATE ends SET mark = ?, state = coalesce(state, 'loose')"
                " WHERE conductor_id = (SELECT id FROM conductors WHERE tag = ?)"
                " AND enclosure_id = (SELECT id FROM enclosures WHERE code = ?)",
                [match["far"], match["near"], ringout.far],
            )


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
                "legend": _packed(item["legend"]),
                "file": item.get("file"),
                "at": now(),
            }
            _insert(db, "label_prints", row)


def set_base_address(registry: Registry, address: str | None, *, who: str | None = None) -> None:
    """Set the address that labels lead to."""
    with registry.write(who) as db:
        db.execute("UPDATE site SET base_address = ?", [address])


def land_end(
    registry: Registry,
    tag: str,
    side: str,
    state: str,
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
    _insert(registry.db, "terminals", row)
    return row["id"]


def _insert(db: Any, table: str, row: Mapping[str, Any]) -> None:
    names = ", ".join(f'"{key}"' for key in row)
    holes = ", ".join(f":{key}" for key in row)
    db.execute(f"INSERT INTO {table} ({names}) VALUES ({holes})", dict(row))


def _packed(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
