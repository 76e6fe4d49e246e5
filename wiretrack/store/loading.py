# SPDX-License-Identifier: MIT
"""Records into the registry: all that a site document holds, in one transaction."""

from __future__ import annotations

import gc
import sqlite3
from collections import defaultdict
from contextlib import contextmanager
from dataclasses import replace
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint, RegistryError
from wiretrack.files import name_new_file, new_file_draft, remove_leftovers
from wiretrack.model.entity import Subject
from wiretrack.model.fields import facts
from wiretrack.model.tags import Tag, make_tag
from wiretrack.progress import steps
from wiretrack.store import writers
from wiretrack.store.dumping import load_logs
from wiretrack.store.history import SourceFile, note_load
from wiretrack.store.log import last_rows, rows_after
from wiretrack.store.notes import keep_contents
from wiretrack.store.replay import credit_loads
from wiretrack.store.rows import part_id
from wiretrack.store.searching import index_after, last_numbers
from wiretrack.store.sqlite_errors import explain
from wiretrack.store.store import make_registry
from wiretrack.store.writing import (
    ROWS_OF_THEIR_OWN,
    add_site,
    free_part_id,
    insert,
    merge_site,
    new_id,
    own,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from sqlite_utils import Database

    from wiretrack.model.document import SiteDocument
    from wiretrack.model.entities import Conductor, Enclosure, Pull, Raceway, Reading
    from wiretrack.model.parts import Device, End, SiteFacts
    from wiretrack.store.store import Registry

Row = dict[str, Any]
_OTHER_NAME = Hint("Choose another name with {db}.")


def create_registry(path: Path | str, site: SiteFacts | None = None) -> None:
    """Make a registry of `site` at `path`, whole or not at all; refuses to overwrite.

    Raises
    ------
    BadInputError
        If something is there already.
    RegistryError
        If it can't be written.
    """
    path = Path(path)
    if path.exists() or path.is_symlink():
        raise BadInputError(f"{path} exists already.", _OTHER_NAME)
    draft = new_file_draft(path)
    try:
        registry = make_registry(draft)
        if site is not None:
            add_site(registry, site)
        registry.close()
        name_new_file(draft, path)
        writers.move(draft, path)
    except FileExistsError:
        raise BadInputError(f"{path} exists already.", _OTHER_NAME) from None
    except sqlite3.Error as error:
        raise explain(path, error) from error
    except OSError as error:
        raise RegistryError(str(path), f"can't be made: {error.strerror}") from error
    finally:
        remove_leftovers(draft, Path(f"{draft}-wal"), Path(f"{draft}-shm"))


def add_document(
    registry: Registry, document: SiteDocument, *, who: str | None = None,
    look: Callable[[], None] | None = None, file: SourceFile | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Add all that `document` holds, or nothing; return what of the site's own data is new.

    `look` may refuse it once it is there. A load is one line of the history, that names the `file`.
    A document with a history of its own (a dump) brings that along instead.
    """
    own_history = "changes" in document.rest
    with registry.write(who, noted=not own_history) as db:
        new = merge_site(db, document.site)
        file, rows = file or SourceFile(""), registry.commit.gathered()
        rows += load_rows(db, document, file, noted=not own_history)
        if look is not None:
            look()
        close_load(registry, document, file, rows)
        return new


def close_load(
    registry: Registry, document: SiteDocument, file: SourceFile, rows: list[dict[str, Any]]
) -> None:
    """Keep what a document brought beside its rows, and add the entry of the load."""
    brought = keep_contents(registry, document.rest.get("attachments", ()))
    (who,) = registry.db.execute("SELECT who FROM writing").fetchone()
    registry.commit.add_load(who, file.files, rows, whole=not brought)


def load_rows(
    db: Database, document: SiteDocument, file: SourceFile, *, noted: bool
) -> list[dict[str, Any]]:
    """Add a document in the write under way as rows that the history has one line of, if `noted`.

    Return them as an entry of the log has them.
    """
    searched, before = last_numbers(db), last_rows(db.conn)
    db.execute("UPDATE writing SET noted = 2 * noted, gathered = 0, searched = 0")
    with much_is_made():
        Loading(db).add(document)
    if noted and last_rows(db.conn) != before:
        note_load(db, file, before)
    credit_loads(db)
    index_after(db, searched)
    db.execute("UPDATE writing SET noted = noted / 2, gathered = 1, searched = 1")
    with much_is_made():
        return rows_after(db.conn, before)


@contextmanager
def much_is_made() -> Iterator[None]:
    """Make many objects at once: python doesn't look through them, time and again, for circles."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def add_conductor(db: Database, conductor: Conductor) -> str:
    """Add one conductor in the write that is under way; return its tag, made where it has none."""
    loading = Loading(db)
    (tag,) = loading.add_conductors([conductor])
    loading.write()
    return tag


def add_coded(db: Database, table: str, record: Enclosure | Raceway) -> None:
    """Add one record that is known by a code in the write that is under way."""
    loading = Loading(db)
    loading.add_coded(table, [record])
    loading.write()


def reading_row(reading: Reading) -> Row:
    """Return the row that stores `reading`, but for what it refers to; it has an id by then."""
    return own(reading) | {"id": reading.id or new_id()}


_RECORDS_IN_ORDER = (
    "enclosures", "circuits", "instruments", "terminals", "devices", "raceways", "pulls",
    "conductors", "readings",
)  # fmt: skip


@cache
def _referring(of: type) -> list[tuple[str, str, str]]:
    """Return each attribute that names another record, its column, and the table of that."""
    return [
        (fact.name, fact.column, fact.refers)
        for fact in facts(of)
        if fact.refers and fact.column not in ROWS_OF_THEIR_OWN
    ]


class Loading:
    """One load under way: knows the ids of the codes it has met, and writes a table at a time."""

    # Each table after those that it points to.
    in_order = (
        "enclosures", "circuits", "instruments", "terminals", "devices", "poles", "raceways",
        "pulls", "pull_raceways", "far_ends", "conductors", "conductor_circuits", "ends",
        "readings",
    )  # fmt: skip

    def __init__(self, db: Database) -> None:
        self.db = db
        self._ids: dict[tuple[str, str], str] = {}
        self._rows: defaultdict[str, list[Row]] = defaultdict(list)
        self._boxes: set[str] = set()  # whose terminals are known
        self._now: tuple[str, str | None] = db.execute("SELECT at, who FROM writing").fetchone()

    def add(self, document: SiteDocument) -> None:
        """Add all the records of a document."""
        for table in _RECORDS_IN_ORDER:
            self.add_records(table, getattr(document, table))
        self.write()
        load_logs(self.db, document.rest, self.id_of)

    def add_records(self, table: str, records: Iterable[Any]) -> None:
        """Gather the rows of records of one table."""
        if table == "terminals":
            for terminal in records:
                self.terminal_id(terminal.enclosure, terminal.code, terminal.id)
        elif table == "devices":
            self._add_devices(records)
        elif table == "pulls":
            self._add_pulls(records)
        elif table == "conductors":
            self.add_conductors(records)
        elif table == "readings":
            self._rows[table] += map(self._reading, steps([*records], "readings"))
        else:
            self.add_coded(table, records)

    def write(self) -> None:
        """Write the rows that were gathered."""
        for table in self.in_order:
            insert(self.db, table, self._rows.pop(table, ()))

    def id_of(self, table: str, code: str) -> str:
        """Return the id of the record of `table` called `code`; it is known to exist."""
        key = (table, code)
        if key not in self._ids:
            column = "tag" if table == "conductors" else "code"
            row = self.db.execute(f"SELECT id FROM {table} WHERE {column} = ?", [code]).fetchone()
            if row is None:
                raise BadInputError(f"No record of {table} is called '{code}'. Nothing was loaded.")
            self._ids[key] = row[0]
        return self._ids[key]

    def add_coded(self, table: str, records: Iterable[Any]) -> None:
        """Add records that are known by a code."""
        self._rows[table] += [self._row(table, record) for record in records]

    def _row(self, table: str, record: Any) -> Row:
        """Return the row of a record of `table`, with the ids of what it refers to."""
        row = own(record) | {"id": record.id or new_id()}
        kind: type = type(record)
        for name, column, of in _referring(kind):
            code = getattr(record, name)
            row[column] = self.id_of(of, code) if code else None
        if hasattr(record, "code"):
            self._ids[table, record.code] = row["id"]
        return row

    def terminal_id(self, enclosure: str, code: str, given: str | None = None) -> str:
        """Return the id of a terminal; it is made, the one `given` perhaps, if there is none."""
        enclosure_id = self.id_of("enclosures", enclosure)
        if enclosure_id not in self._boxes:
            self._boxes.add(enclosure_id)
            sql = "SELECT code, id FROM terminals WHERE enclosure_id = ?"
            for known, found in self.db.execute(sql, [enclosure_id]):
                self._ids[enclosure_id, known] = found
        key = (enclosure_id, code)
        if key not in self._ids:
            part = f"terminal:{code}"
            if given is None and self._had_terminals:
                given = free_part_id(self.db, "terminals", enclosure_id, part)
            self._ids[key] = made = given or part_id(enclosure_id, part)
            row = {"id": made, "enclosure_id": enclosure_id, "code": code}
            self._rows["terminals"].append(row)
        return self._ids[key]

    @cached_property
    def _had_terminals(self) -> bool:
        """Whether a terminal that was renamed may bear the id that a new one would get."""
        return bool(self.db.execute("SELECT EXISTS (SELECT 1 FROM terminals)").fetchone()[0])

    def _add_devices(self, devices: Iterable[Device]) -> None:
        for device in devices:
            row = self._row("devices", device)
            self._ids["devices", f"{device.enclosure}/{device.code}"] = row["id"]
            self._rows["devices"].append(row)
            self._rows["poles"] += self._poles(device, row["id"])

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

    def _add_pulls(self, pulls: Iterable[Pull]) -> None:
        for pull in pulls:
            row = self._row("pulls", pull)
            self._rows["pulls"].append(row)
            self._rows["pull_raceways"] += [
                {
                    "id": part_id(row["id"], f"raceway:{position}"),
                    "pull_id": row["id"],
                    "position": position,
                    "raceway_id": self.id_of("raceways", code),
                }
                for position, code in enumerate(pull.path, 1)
            ]
            self._rows["far_ends"] += self._far_ends(pull, row["id"])

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
        given = [c if c.tag and c.id else self._named(c) for c in conductors]
        self._ids |= {("conductors", c.tag): c.id or "" for c in given}
        for conductor in steps(given, "conductors"):
            row = self._row("conductors", conductor)
            self._rows["conductors"].append(row)
            self._rows["conductor_circuits"] += self._served(row["id"], conductor)
            self._rows["ends"] += (
                self._end(row["id"], "from", conductor.from_end),
                self._end(row["id"], "to", conductor.to_end),
            )
        return [c.tag.plain for c in given]

    def _named(self, conductor: Conductor) -> Conductor:
        """Return a conductor with an id and a tag; those made here are taken from now on."""
        tag = conductor.tag or self._unused_tag()
        self._ids["conductors", tag] = made = conductor.id or new_id()
        return replace(conductor, id=made, tag=tag)

    def _served(self, conductor_id: str, conductor: Conductor) -> list[Row]:
        return [
            {
                "id": part_id(conductor_id, f"circuit:{position}"),
                "conductor_id": conductor_id,
                "circuit_id": self.id_of("circuits", code),
                "position": position,
            }
            for position, code in enumerate(conductor.circuits, 1)
        ]

    def _unused_tag(self) -> Tag:
        while True:
            tag = make_tag()
            taken = self.db.execute("SELECT 1 FROM conductors WHERE tag = ?", [tag]).fetchone()
            if taken is None and ("conductors", tag) not in self._ids:
                return tag

    def _end(self, conductor_id: str, side: str, end: End) -> Row:
        terminal_id = self.terminal_id(end.enclosure, end.terminal) if end.terminal else None
        return {
            **own(end),
            "id": part_id(conductor_id, f"end:{side}"),
            "conductor_id": conductor_id,
            "side": side,
            "enclosure_id": self.id_of("enclosures", end.enclosure),
            "terminal_id": terminal_id,
            "state": end.state or ("landed" if terminal_id else None),
        }

    def _subject(self, subject: str) -> Row:
        if not isinstance(subject, Subject):
            return {"conductor_id": self.id_of("conductors", subject)}
        if subject.device is None:
            return {"circuit_id": self.id_of("circuits", str(subject))}
        key = ("devices", str(subject))
        if key not in self._ids:
            box, code = subject.device
            sql = "SELECT id FROM devices WHERE enclosure_id = ? AND code = ?"
            found = self.db.execute(sql, [self.id_of("enclosures", box), code]).fetchone()
            if found is None:
                raise BadInputError(f"No device is called '{subject}'. Nothing was loaded.")
            self._ids[key] = found[0]
        return {"device_id": self._ids[key]}

    def _reading(self, reading: Reading) -> Row:
        none = dict.fromkeys(("conductor_id", "device_id", "circuit_id"))
        row = {**self._row("readings", reading), **none, **self._subject(reading.subject)}
        if row["entered_at"] is None:
            row["entered_at"], row["entered_by"] = self._now
        return row
