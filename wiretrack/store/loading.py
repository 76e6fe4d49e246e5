# SPDX-License-Identifier: MIT
"""Records into the registry: all that a site document holds, in one transaction."""

from __future__ import annotations

import gc
from collections import defaultdict
from contextlib import contextmanager
from functools import cache
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.late import cached_property
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.entity import Subject
from wiretrack.model.fields import facts
from wiretrack.model.parts import Device, End, Instrument, Terminal
from wiretrack.model.tags import make_tag
from wiretrack.progress import steps
from wiretrack.store import writers
from wiretrack.store.dumping import load_logs
from wiretrack.store.history import SourceFile, note_load
from wiretrack.store.log import last_rows, lines_after
from wiretrack.store.notes import keep_contents
from wiretrack.store.replay import credit_loads
from wiretrack.store.rows import part_id
from wiretrack.store.searching import index_after, last_numbers
from wiretrack.store.store import make_registry, new_registry_file
from wiretrack.store.writing import (
    IN_ORDER,
    ROWS_OF_THEIR_OWN,
    add_site,
    insert_values,
    new_id,
    own_columns,
    terminal_id,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from sqlite_utils import Database

    from wiretrack.model.parts import SiteFacts
    from wiretrack.model.source import SiteDocument
    from wiretrack.model.tags import Tag
    from wiretrack.store.store import Registry

Values = list[Any]  # of a row, in the order of its columns
_CACHE_KB = 2**18  # of a file's pages that a load holds at most, so that each is written once


def create_registry(path: Path | str, site: SiteFacts | None = None) -> None:
    """Make a registry of `site` at `path`, whole or not at all; refuses to overwrite."""
    path = Path(path)
    with new_registry_file(path, Hint("Choose another name with {db}.")) as draft:
        registry = make_registry(draft)
        if site is not None:
            add_site(registry, site)
        registry.close()
    writers.move(draft, path)


def close_load(
    registry: Registry, document: SiteDocument, file: SourceFile, lines: list[str]
) -> None:
    """Keep what a document brought beside its rows, and add the entry of the load."""
    brought = keep_contents(registry, document.rest.get("attachments", ()))
    (who,) = registry.db.execute("SELECT who FROM writing").fetchone()
    registry.commit.add_load(who, file.files, lines, whole=not brought)


def load_rows(db: Database, document: SiteDocument, file: SourceFile, *, noted: bool) -> list[str]:
    """Add a document in the write under way as rows that the history has one line of, if `noted`.

    Return them as an entry of the log has them, a line of JSON each.
    """
    searched, before = last_numbers(db), last_rows(db.conn)
    db.execute("UPDATE writing SET noted = 2 * noted, gathered = 0, searched = 0")
    with much_is_made(), _much_is_held(db):
        Loading(db).add(document)
        if noted and last_rows(db.conn) != before:
            note_load(db, file, before)
        credit_loads(db)
        index_after(db, searched)
        db.execute("UPDATE writing SET noted = noted / 2, gathered = 1, searched = 1")
        return lines_after(db.conn, before)


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


@contextmanager
def _much_is_held(db: Database) -> Iterator[None]:
    """Hold more of the file's pages in memory than usual, up to `_CACHE_KB`."""
    (usual,) = db.execute("PRAGMA cache_size").fetchone()
    db.execute(f"PRAGMA cache_size = -{_CACHE_KB}")
    try:
        yield
    finally:
        db.execute(f"PRAGMA cache_size = {usual}")


def add_conductor(db: Database, conductor: Conductor) -> str:
    """Add one conductor in the write that is under way; return its tag, made where it has none."""
    loading = Loading(db)
    (tag,) = loading.add_conductors([conductor])
    loading.write()
    return tag


def add_coded(db: Database, table: str, record: Enclosure | Raceway) -> None:
    """Add one record that is known by a code in the write that is under way."""
    loading = Loading(db)
    loading.add_records(table, [record])
    loading.write()


@cache
def _referring(of: type) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (fact.name, fact.column, fact.refers)
        for fact in facts(of)
        if fact.refers and fact.column not in ROWS_OF_THEIR_OWN
    )


@cache
def columns() -> dict[str, tuple[str, ...]]:
    """Return the columns of the rows of each table, each table after those that it points to."""

    def own(of: type, *more: str) -> tuple[str, ...]:
        return *own_columns(of)[0], *(column for _, column, _ in _referring(of)), *more

    return {
        "enclosures": own(Enclosure),
        "circuits": own(Circuit),
        "instruments": own(Instrument),
        "terminals": own(Terminal),
        "devices": own(Device),
        "poles": ("id", "device_id", "position", "one_terminal_id", "other_terminal_id"),
        "raceways": own(Raceway),
        "pulls": own(Pull),
        "pull_raceways": ("id", "pull_id", "position", "raceway_id"),
        "far_ends": ("id", "pull_id", "position", "enclosure_id", "mark", "colour"),
        "conductors": own(Conductor),
        "conductor_circuits": ("id", "conductor_id", "position", "circuit_id"),
        "ends": (*own(End), "terminal_id", "conductor_id", "side"),
        "readings": own(Reading, "conductor_id", "device_id", "circuit_id"),
    }


class Loading:
    """One load under way: knows the ids of the codes it has met, and writes a table at a time."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self._ids: dict[tuple[str, str], str] = {}
        self._rows: defaultdict[str, list[Values]] = defaultdict(list)
        self._boxes: set[str] = set()  # whose terminals are known
        self._now: tuple[str, str | None] = db.execute("SELECT at, who FROM writing").fetchone()
        self._tag, self._state, self._at, self._by = (
            columns()[table].index(name)
            for table, name in (
                ("conductors", "tag"), ("ends", "state"), ("readings", "entered_at"),
                ("readings", "entered_by"),
            )
        )  # fmt: skip

    def add(self, document: SiteDocument) -> None:
        """Add all the records of a document."""
        for table in IN_ORDER:
            self.add_records(table, getattr(document, table))
        self.write()
        load_logs(self.db, document.rest, self.id_of)

    def add_records(self, table: str, records: Sequence[Any]) -> None:
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
            self._rows[table] += map(self._reading, steps(records, "readings"))
        else:
            self._rows[table] += map(self._row, repeat(table), records)

    def write(self) -> None:
        """Write the rows that were gathered."""
        for table, names in columns().items():
            insert_values(self.db, table, names, self._rows.pop(table, []))

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

    def _row(self, table: str, record: Any, given: str | None = None) -> Values:
        """Return the row of a record of `table`, with the ids of what it refers to."""
        of: type = type(record)
        row: Values = [*own_columns(of)[1](record)]
        row[0] = given or row[0] or new_id()
        for name, _, to in _referring(of):
            code = getattr(record, name)
            row.append(self.id_of(to, code) if code else None)
        if table != "devices" and hasattr(record, "code"):  # a device is known with its box
            self._ids[table, record.code] = row[0]
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
            if given is None and self._had_terminals:
                given = terminal_id(self.db, enclosure_id, code)
            self._ids[key] = made = given or part_id(enclosure_id, f"terminal:{code}")
            self._rows["terminals"].append([made, code, enclosure_id])
        return self._ids[key]

    @cached_property
    def _had_terminals(self) -> bool:
        """Whether a terminal that was renamed may bear the id that a new one would get."""
        return bool(self.db.execute("SELECT EXISTS (SELECT 1 FROM terminals)").fetchone()[0])

    def _add_devices(self, devices: Iterable[Device]) -> None:
        for device in devices:
            row = self._row("devices", device)
            self._ids["devices", f"{device.enclosure}/{device.code}"] = row[0]
            self._rows["devices"].append(row)
            for position, pole in enumerate(device.poles, 1):
                full = (name if ":" in name else f"{device.code}:{name}" for name in pole)
                ends = [self.terminal_id(device.enclosure, name) for name in full]
                made = part_id(row[0], f"pole:{position}")
                self._rows["poles"].append([made, row[0], position, *ends])

    def _add_pulls(self, pulls: Iterable[Pull]) -> None:
        for pull in pulls:
            row = self._row("pulls", pull)
            self._rows["pulls"].append(row)
            self._add_list("pull_raceways", row[0], "raceway", pull.path)
            for position, end in enumerate(pull.far_ends, 1):
                made = part_id(row[0], f"far:{end.enclosure}:{end.mark}")
                box = self.id_of("enclosures", end.enclosure)
                self._rows["far_ends"].append([made, row[0], position, box, end.mark, end.colour])

    def _add_list(self, table: str, of: str, what: str, codes: Iterable[str]) -> None:
        """Gather the rows of a list of what a record names, in their order."""
        rows = self._rows[table]
        for position, code in enumerate(codes, 1):
            made = part_id(of, f"{what}:{position}")
            rows.append([made, of, position, self.id_of(f"{what}s", code)])

    def add_conductors(self, conductors: Sequence[Conductor]) -> list[str]:
        """Add conductors and the terminals they are on; return their tags."""
        made = [c.id or new_id() for c in conductors]
        self._ids |= {("conductors", c.tag): m for c, m in zip(conductors, made, strict=True)}
        tags = [(c.tag or self._unused_tag()).plain for c in conductors]
        rows, ends = self._rows["conductors"], self._rows["ends"]
        for number, conductor in enumerate(steps(conductors, "conductors")):
            row = self._row("conductors", conductor, of := made[number])
            row[self._tag] = tags[number]
            rows.append(row)
            self._add_list("conductor_circuits", of, "circuit", conductor.circuits)
            ends.append(self._end(of, "from", conductor.from_end))
            ends.append(self._end(of, "to", conductor.to_end))
        return tags

    def _unused_tag(self) -> Tag:
        while True:
            tag = make_tag()
            taken = self.db.execute("SELECT 1 FROM conductors WHERE tag = ?", [tag]).fetchone()
            if taken is None and ("conductors", tag) not in self._ids:
                self._ids["conductors", tag] = ""
                return tag

    def _end(self, conductor_id: str, side: str, end: End) -> Values:
        terminal = self.terminal_id(end.enclosure, end.terminal) if end.terminal else None
        row = self._row("ends", end, part_id(conductor_id, f"end:{side}"))
        row[self._state] = end.state or ("landed" if terminal else None)
        return [*row, terminal, conductor_id, side]

    def _subject(self, subject: str) -> tuple[str | None, str | None, str | None]:
        if not isinstance(subject, Subject):
            return self.id_of("conductors", subject), None, None
        if subject.device is None:
            return None, None, self.id_of("circuits", str(subject))
        key = ("devices", str(subject))
        if key not in self._ids:
            box, code = subject.device
            sql = "SELECT id FROM devices WHERE enclosure_id = ? AND code = ?"
            found = self.db.execute(sql, [self.id_of("enclosures", box), code]).fetchone()
            if found is None:
                raise BadInputError(f"No device is called '{subject}'. Nothing was loaded.")
            self._ids[key] = found[0]
        return None, self._ids[key], None

    def _reading(self, reading: Reading) -> Values:
        row = [*self._row("readings", reading), *self._subject(reading.subject)]
        if reading.entered_at is None:
            row[self._at], row[self._by] = self._now
        return row
