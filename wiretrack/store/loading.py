# SPDX-License-Identifier: MIT
"""Records into the registry: all that a site document holds, in one transaction."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, SiteDiffersError
from wiretrack.model.tags import make_tag
from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.identity import new_id, part_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from sqlite_utils import Database

    from wiretrack.model.entities import (
        Conductor,
        Device,
        Enclosure,
        End,
        Pull,
        Raceway,
        Reading,
        SiteDocument,
        SiteFacts,
        Terminal,
    )
    from wiretrack.store.store import Registry

Row = dict[str, Any]


def add_document(
    registry: Registry, document: SiteDocument, *, who: str | None = None,
    look: Callable[[], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Add all that `document` holds, or nothing; return what of the site's own data is new.

    `look` may refuse it once it is there.

    A document with a change history of its own (a dump) brings it along; otherwise the triggers
    note what is added.
    """
    own_history = "changes" in document.rest
    with registry.write(who, noted=not own_history) as db:
        new = _Loading(db).add(document)
        if look is not None:
            look()
        return new


def add_site(registry: Registry, site: SiteFacts) -> None:
    """Write the one site row of a new registry, before any history begins."""
    with registry.write(noted=False) as db:
        _insert(db, "site", [{**_plain(site), "id": site.id or new_id()}])


def add_conductor(db: Database, conductor: Conductor) -> str:
    """Add one conductor in the write that is under way; return its tag, made where it has none."""
    return _Loading(db).add_conductors([conductor])[0]


def add_enclosure(db: Database, enclosure: Enclosure) -> None:
    """Add one enclosure in the write that is under way."""
    _Loading(db).add_coded("enclosures", [enclosure])


def add_raceway(db: Database, raceway: Raceway) -> None:
    """Add one raceway in the write that is under way."""
    _Loading(db).add_raceways([raceway])


def reading_row(reading: Reading, conductor_id: str, instrument_id: str | None) -> Row:
    """Return the row that stores `reading`; its id is made where it has none."""
    row = _plain(reading, leave_out=("subject", "instrument", "id"))
    row.update(
        id=reading.id or new_id(),
        conductor_id=conductor_id,
        instrument_id=instrument_id,
        over_range=int(reading.over_range),
    )
    return row


class _Loading:
    """One load under way: knows the ids of the codes it has met."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self._ids: dict[tuple[str, str], str] = {}

    def add(self, document: SiteDocument) -> dict[str, Any]:
        """Add all that a document holds, each table after those that it points to."""
        new = self._merge_site(document.site)
        for table in ("enclosures", "circuits", "instruments"):
            self.add_coded(table, getattr(document, table))
        self._add_terminals(document.terminals)
        self._add_devices(document.devices)
        self.add_raceways(document.raceways)
        self._add_pulls(document.pulls)
        self.add_conductors(document.conductors)
        _insert(self.db, "readings", map(self._reading, document.readings))
        self._add_rest(document.rest)
        return new

    def id_of(self, table: str, code: str, column: str = "code") -> str:
        """Return the id of the record of `table` called `code`; it is known to exist."""
        key = (table, code)
        if key not in self._ids:
            row = self.db.execute(f"SELECT id FROM {table} WHERE {column} = ?", [code]).fetchone()
            if row is None:
                raise BadInputError(f"No record of {table} is called '{code}'. Nothing was loaded.")
            self._ids[key] = row[0]
        return self._ids[key]

    def _merge_site(self, site: SiteFacts) -> dict[str, Any]:
        """Take what isn't known of the site yet, and return it; what is known can't change here.

        Until the registry describes a place, its name may change, and its id follows the file's.
        """
        given = {key: value for key, value in _plain(site).items() if value is not None}
        cursor = self.db.execute("SELECT * FROM site WHERE one = 1")
        names = [column[0] for column in cursor.description]
        known = dict(zip(names, cursor.fetchone(), strict=True))
        empty = self.db.execute("SELECT NOT EXISTS (SELECT 1 FROM enclosures)").fetchone()[0]
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
            self.db.execute(f"UPDATE site SET {changed}", new)
        return new

    def add_coded(self, table: str, records: Iterable[Any]) -> None:
        """Add records that are known by a code alone."""
        rows = [self._with_id(table, record, _plain(record)) for record in records]
        _insert(self.db, table, rows)

    def _with_id(self, table: str, record: Any, row: Row) -> Row:
        row["id"] = record.id or new_id()
        self._ids[table, record.code] = row["id"]
        return row

    def _add_terminals(self, terminals: Iterable[Terminal]) -> None:
        for terminal in terminals:
            self.terminal_id(terminal.enclosure, terminal.code)

    def terminal_id(self, enclosure: str, code: str) -> str:
        """Return the id of a terminal, made now if the enclosure has none of that code."""
        enclosure_id = self.id_of("enclosures", enclosure)
        key = (f"terminals/{enclosure_id}", code)
        if key not in self._ids:
            made = part_id(enclosure_id, f"terminal:{code}")
            found = self.db.execute(
                "SELECT id FROM terminals WHERE enclosure_id = ? AND code = ?", [enclosure_id, code]
            ).fetchone()
            if found is None:
                row = {"id": made, "enclosure_id": enclosure_id, "code": code}
                _insert(self.db, "terminals", [row])
            self._ids[key] = found[0] if found else made
        return self._ids[key]

    def _add_devices(self, devices: Iterable[Device]) -> None:
        for device in devices:
            row = _plain(device, leave_out=("enclosure", "poles"))
            row["enclosure_id"] = self.id_of("enclosures", device.enclosure)
            row["id"] = device.id or new_id()
            _insert(self.db, "devices", [row])
            _insert(self.db, "poles", self._poles(device, row["id"]))

    def _poles(self, device: Device, device_id: str) -> list[Row]:
        def terminal(name: str) -> str:
            full = name if ":" in name else f"{device.code}:{name}"
            return self.terminal_id(device.enclosure, full)

        return [
            {
                "id": part_id(device_id, f"pole:{position}"),
                "device_id": device_id,
                "position": position,
                "one_terminal_id": terminal(one),
                "other_terminal_id": terminal(other),
            }
            for position, (one, other) in enumerate(device.poles, 1)
        ]

    def add_raceways(self, raceways: Iterable[Raceway]) -> None:
        """Add raceways between enclosures that are there."""
        rows = []
        for raceway in raceways:
            row = _plain(raceway, leave_out=("from_enclosure", "to_enclosure", "walls_m"))
            row["from_enclosure_id"] = self.id_of("enclosures", raceway.from_enclosure)
            row["to_enclosure_id"] = self.id_of("enclosures", raceway.to_enclosure)
            row["walls_m"] = json.dumps(list(raceway.walls_m))
            rows.append(self._with_id("raceways", raceway, row))
        _insert(self.db, "raceways", rows)

    def _add_pulls(self, pulls: Iterable[Pull]) -> None:
        for pull in pulls:
            row = self._with_id("pulls", pull, {"code": pull.code})
            _insert(self.db, "pulls", [row])
            path = [
                {
                    "id": part_id(row["id"], f"raceway:{position}"),
                    "pull_id": row["id"],
                    "position": position,
                    "raceway_id": self.id_of("raceways", code),
                }
                for position, code in enumerate(pull.path, 1)
            ]
            _insert(self.db, "pull_raceways", path)
            _insert(self.db, "far_ends", self._far_ends(pull, row["id"]))

    def _far_ends(self, pull: Pull, pull_id: str) -> list[Row]:
        return [
            {
                "id": part_id(pull_id, f"far:{end.enclosure}:{end.mark}"),
                "pull_id": pull_id,
                "enclosure_id": self.id_of("enclosures", end.enclosure),
                "position": position,
                "mark": end.mark,
                "colour": end.colour,
            }
            for position, end in enumerate(pull.far_ends, 1)
        ]

    def add_conductors(self, conductors: Iterable[Conductor]) -> list[str]:
        """Add conductors and the terminals they are on; return their tags."""
        rows, ends = [], []
        given = [(conductor, self._conductor(conductor)) for conductor in conductors]
        for conductor, row in given:
            followed = conductor.follows
            row["follows_id"] = self.id_of("conductors", followed, "tag") if followed else None
            rows.append(row)
            ends.append(self._end(row["id"], "from", conductor.from_end))
            ends.append(self._end(row["id"], "to", conductor.to_end))
        _insert(self.db, "conductors", rows)
        _insert(self.db, "ends", ends)
        return [row["tag"] for row in rows]

    def _conductor(self, conductor: Conductor) -> Row:
        row = _plain(conductor, leave_out=("circuit", "pull", "follows", "from_end", "to_end"))
        row["id"] = conductor.id or new_id()
        row["tag"] = conductor.tag or self._unused_tag()
        row["circuit_id"] = self.id_of("circuits", conductor.circuit)
        row["pull_id"] = self.id_of("pulls", conductor.pull) if conductor.pull else None
        self._ids["conductors", row["tag"]] = row["id"]
        return row

    def _unused_tag(self) -> str:
        while True:
            tag = make_tag()
            taken = self.db.execute("SELECT 1 FROM conductors WHERE tag = ?", [tag]).fetchone()
            if taken is None and ("conductors", tag) not in self._ids:
                return tag

    def _end(self, conductor_id: str, side: str, end: End) -> Row:
        terminal_id = self.terminal_id(end.enclosure, end.terminal) if end.terminal else None
        return {
            "id": part_id(conductor_id, f"end:{side}"),
            "conductor_id": conductor_id,
            "side": side,
            "enclosure_id": self.id_of("enclosures", end.enclosure),
            "terminal_id": terminal_id,
            "state": end.state or ("landed" if terminal_id else None),
            "mark": end.mark,
            "crossed_at": end.crossed_at,
            "reidentified": end.reidentified,
        }

    def _reading(self, reading: Reading) -> Row:
        conductor_id = self.id_of("conductors", reading.subject, "tag")
        instrument_id = reading.instrument and self.id_of("instruments", reading.instrument)
        return reading_row(reading, conductor_id, instrument_id)

    def _add_rest(self, rest: Mapping[str, Iterable[Mapping[str, Any]]]) -> None:
        for kind in NOUNS:
            procedures.load(self.db, kind, rest.get(kind, ()), self.id_of)
        _insert(self.db, "label_prints", map(self._label_print, rest.get("label_prints", ())))
        _insert(self.db, "placed_labels", map(self._placed_label, rest.get("placed_labels", ())))
        _insert(self.db, "changes", map(_change, rest.get("changes", ())))

    def _label_print(self, label: Mapping[str, Any]) -> Row:
        return {
            "id": label["id"],
            "conductor_id": self.id_of("conductors", label["tag"], "tag"),
            "side": label["end"],
            "form": label["form"],
            "stock": label["stock"],
            "legend": _as_json(label["legend"]),
            "file": label.get("file"),
            "at": label["at"],
        }

    def _placed_label(self, label: Mapping[str, Any]) -> Row:
        return {
            "id": label["id"],
            "conductor_id": self.id_of("conductors", label["tag"], "tag"),
            "side": label["end"],
            "print_id": label.get("print"),
            "legend": _as_json(label.get("legend")),
            "takes_back": label.get("takes_back"),
            "at": label["at"],
            "by": label.get("by"),
        }


def _change(change: Mapping[str, Any]) -> Row:
    row = {key: change.get(key) for key in ("id", "at", "by", "what", "record", "action")}
    return {**row, "old": _as_json(change.get("old")), "new": _as_json(change.get("new"))}


def _as_json(value: object) -> str | None:
    if value is None:
        return None
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _plain(record: Any, leave_out: tuple[str, ...] = ()) -> Row:
    """Return a record's fields as a row; truth values become the integers that SQLite keeps."""
    row = {f.name: getattr(record, f.name) for f in fields(record) if f.name not in leave_out}
    return {key: int(value) if isinstance(value, bool) else value for key, value in row.items()}


def _insert(db: Database, table: str, rows: Iterable[Row]) -> None:
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
