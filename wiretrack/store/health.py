# SPDX-License-Identifier: MIT
"""Proving a registry whole, and copying it while it is in use: a copy is proved, too.

The user's state folder remembers when and where the registry at a path was last copied.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

from wiretrack import days, state
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.model.tags import format_tag, is_plain_tag, looks_like_tag, parse_tag
from wiretrack.readings import BY_NAME
from wiretrack.store.foreign import our_schema
from wiretrack.store.proof import Problem, prove
from wiretrack.store.schema import IN_SERVICE
from wiretrack.store.store import Registry, is_registry, new_registry_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


SEARCH = "search"
# As people look words up: whole, or by how they begin. Two and three letters have an index each.
_LOOKED_UP = (("term", ""), *((f"substr(term, 1, {letters})", "*") for letters in (4, 3, 2)))
_FOUND = "SELECT rowid FROM search WHERE search MATCH ?"
_MOST = 100  # records that the search doesn't find, that are named
_OF_TWO_COPIES = (", which is retired", " follows it")
# What must hold beyond the database's own constraints: the question that finds what breaks it,
# and the words for each row found.
_INVARIANTS = (
    (
        "SELECT c.tag FROM conductors AS c WHERE"
        " (SELECT count(*) FROM ends AS e WHERE e.conductor_id = c.id) <> 2",
        "conductor {} has not two ends",
        "conductors",
    ),
    (
        "SELECT c.tag FROM ends AS e JOIN conductors AS c ON c.id = e.conductor_id"
        " JOIN terminals AS t ON t.id = e.terminal_id WHERE t.enclosure_id <> e.enclosure_id",
        "conductor {} is landed on a terminal of another enclosure",
        "ends",
    ),
    (
        f"SELECT c.tag, k.code FROM conductors AS c JOIN conductor_circuits AS s"
        " ON s.conductor_id = c.id JOIN circuits AS k ON k.id = s.circuit_id"
        f" WHERE {IN_SERVICE} AND k.retired_at IS NOT NULL",
        "conductor {} is in use in circuit {}, which is retired",
        "conductor_circuits",
    ),
    (
        "SELECT c.tag, n.tag AS next FROM conductors AS c JOIN conductors AS n"
        f" ON n.follows_id = c.id WHERE {IN_SERVICE}",
        "conductor {} is in use, though {} follows it",
        "conductors",
    ),
    (
        "SELECT c.tag, l.side FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id"
        " LEFT JOIN label_prints AS p ON p.id = l.print_id"
        " LEFT JOIN placed_labels AS o ON o.id = l.takes_back"
        " WHERE coalesce(p.conductor_id, o.conductor_id, l.conductor_id) <> l.conductor_id"
        " OR coalesce(p.side, o.side, l.side) <> l.side OR o.takes_back IS NOT NULL",
        "the label on conductor {}, {} end, is noted as the one of another end",
        "placed_labels",
    ),
    *(
        (
            f"SELECT n.id, n.what FROM {table} AS n WHERE NOT EXISTS"
            " (SELECT 1 FROM named AS m WHERE m.id = n.record AND m.what = n.what)",
            "{} is of a {} that isn't there",
            table,
        )
        for table in ("notes", "attachments")
    ),
    (
        "SELECT count(*) FROM search_due HAVING count(*) > 0",
        "another program changed {} of the records that the search reads; the next change made here"
        " puts that right",
        SEARCH,
    ),
    (
        "SELECT DISTINCT iif(g.kind = 'ringouts', 'ring-out', 'fault search'), a.procedure_id"
        " FROM procedure_answers AS a JOIN procedures AS g ON g.id = a.procedure_id"
        " LEFT JOIN procedure_answers AS b"
        " ON b.id = a.follows AND b.procedure_id = a.procedure_id"
        " WHERE a.seq <> coalesce(b.seq, 0) + 1",
        "{} {} lacks an answer in its sequence",
        "procedure_answers",
    ),
)


def problems(registry: Registry) -> list[Problem]:
    """Return what is wrong with a registry: its records, its log, and the records by the log."""
    found = [*prove(registry)]
    for look in (_database, _broken, _kinds, _tags, _search):
        try:
            found += look(registry)
        except Exception as error:  # whatever damage makes of a value
            found.append(Problem(f"it can't be read: {error}", "database"))
    return found


def _database(registry: Registry) -> Iterator[Problem]:
    for row in registry.rows("PRAGMA integrity_check"):
        if row["integrity_check"] != "ok":
            yield Problem(row["integrity_check"], "database")
    for row in registry.rows("PRAGMA foreign_key_check"):
        table, parent = row["table"], row["parent"]
        yield Problem(
            f"it points to a record of {parent} that isn't there", f"{table} row {row['rowid']}"
        )


def invariants(registry: Registry) -> Iterator[Problem]:
    """Yield what in the records goes against what must hold beyond the database's constraints."""
    for sql, words, table in _INVARIANTS:
        for row in registry.rows(sql):
            names = tuple(map(str, row.values()))
            if table == SEARCH:
                yield Problem(words.format(*names), table)
            else:
                yield Problem(words.format(*names), f"{table} {names[0]}", names[:1])


def _broken(registry: Registry) -> Iterator[Problem]:
    """Yield what breaks an invariant; of several writers, not what no one of them broke.

    A copy may retire a circuit while another adds a conductor to it. The proof by the log names
    what somebody else changed.
    """
    (writers,) = registry.rows("SELECT count(DISTINCT writer) AS n FROM log")
    for problem in invariants(registry):
        if writers["n"] < 2 or not any(words in problem.what for words in _OF_TWO_COPIES):
            yield problem


def _kinds(registry: Registry) -> Iterator[Problem]:
    for row in registry.rows("SELECT kind, unit, min(id) AS id FROM readings GROUP BY kind, unit"):
        if row["kind"] not in BY_NAME or row["unit"] != BY_NAME[row["kind"]].unit:
            yield Problem(
                f"the reading is of kind {row['kind']}, in {row['unit']}, which isn't known here",
                f"readings {row['id']}",
            )


def _tags(registry: Registry) -> Iterator[Problem]:
    for row in registry.rows("SELECT tag FROM conductors"):
        with suppress(ValueError):
            if looks_like_tag(row["tag"]) and parse_tag(row["tag"]) == row["tag"]:
                continue
        yield Problem("the conductor has no valid tag", f"conductors {row['tag']}")


def _search(registry: Registry) -> Iterator[Problem]:
    sql = "SELECT what, code FROM search_texts WHERE kind = ? AND nr = ?"
    lost: dict[tuple[str, str], str] = {}
    for word, doc in _unfound(registry.connection):
        (row,) = registry.connection.execute(sql, [doc % 8, doc // 8])
        what, code = map(str, row)
        lost.setdefault((what, format_tag(code) if is_plain_tag(code) else code), word)
        if len(lost) == _MOST:
            break
    for (what, name), word in lost.items():
        yield Problem(f"it no longer finds the {what} {name} by the word {word}", SEARCH, (name,))


def _unfound(db: sqlite3.Connection) -> Iterator[tuple[str, int]]:
    """Yield each word, or beginning of one, and the place in the index that it doesn't lead to.

    An index made anew says which records carry it. What the old one has too much needs no look:
    whoever looks reads a record's words as they are now.
    """
    with closing(sqlite3.connect(":memory:")) as anew:
        anew.execute(our_schema()["table", SEARCH])
        anew.execute("CREATE VIRTUAL TABLE words USING fts5vocab(search, 'instance')")
        texts = db.execute(
            "SELECT 8 * nr + kind, text FROM search_texts"
            " WHERE record NOT IN (SELECT record FROM search_due)"
        )
        anew.executemany("INSERT INTO search (rowid, text) VALUES (?, ?)", texts)
        for part, ending in _LOOKED_UP:
            rows = anew.execute(f"SELECT {part} AS word, doc FROM words ORDER BY word")
            for word, carrying in groupby(rows, itemgetter(0)):
                query = f'"{word}"{ending}'
                found = {doc for (doc,) in db.execute(_FOUND, [query])}
                yield from ((word, doc) for doc in sorted({doc for _, doc in carrying} - found))


def count_readings(registry: Registry) -> int | None:
    """Return the number of readings stored, `None` where they can't be read."""
    try:
        row = registry.row("SELECT count(*) AS n FROM readings")
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    return int(row["n"]) if row else 0


_USE = "backups"
_SECOND = range(2, 1000)  # copies of one day


@dataclass(frozen=True)
class Backup:
    """A copy: its file, how large it is, what the registry had wrong already, which copies went."""

    file: str
    bytes: int
    problems: tuple[Problem, ...]
    removed: tuple[str, ...]


def backup(registry: Registry, target: Path, *, keep: int | None = None) -> Backup:
    """Copy the registry, while it is in use, to a new file: proved and whole, or not at all.

    With `keep` the file's name gets the day, and only so many copies of that name stay.
    `BadInputError` if the file exists, or its folder doesn't; `RegistryError` if the copy can't be
    written, or isn't what was copied.
    """
    if not target.parent.is_dir():
        raise BadInputError(f"The folder {target.parent} does not exist. Make it first.")
    place = target if keep is None else _of_today(target)
    with new_registry_file(place) as draft:
        draft.touch(0o600)
        _copy(registry, draft)
        found = _proved(registry, draft)
    state.keep(_USE, registry.path, {"at": days.utc_now(), "file": str(place.resolve())})
    gone = () if keep is None or found else _removed(target, keep)
    return Backup(str(place), place.stat().st_size, found, gone)


def _copy(registry: Registry, draft: Path) -> None:
    with closing(sqlite3.connect(draft)) as copy:
        with copy:
            registry.connection.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
    with draft.open("rb") as file:
        os.fsync(file.fileno())


def _proved(registry: Registry, draft: Path) -> tuple[Problem, ...]:
    """Return what is wrong with a copy as it is with the registry; refuse one that has more."""
    uri = f"{draft.resolve().as_uri()}?mode=ro&immutable=1"
    with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as db:
        found = problems(Registry(draft, db, writable=False))
    more = set(found) - set(problems(registry)) if found else None
    if more:
        raise RegistryError(
            str(draft), f"is no true copy: {next(iter(more))}", "See to the disk, then try again."
        )
    return tuple(found)


def _of_today(target: Path) -> Path:
    """Return the name of a copy of today; a second one of a day has a number."""
    today = days.today().isoformat()
    names = (f"{target.stem}-{today}{n}{target.suffix}" for n in ("", *(f".{i}" for i in _SECOND)))
    return next(
        (place for name in names if not (place := target.with_name(name)).exists()),
        target.with_name(f"{target.stem}-{today}{target.suffix}"),
    )


def _removed(target: Path, keep: int) -> tuple[str, ...]:
    wanted = re.compile(
        rf"{re.escape(target.stem)}-(\d{{4}}-\d\d-\d\d)(?:\.(\d+))?{re.escape(target.suffix)}"
    )
    found = sorted(
        (match[1], int(match[2] or 1), file)
        for file in target.parent.iterdir()
        if (match := wanted.fullmatch(file.name)) and is_registry(file)
    )
    gone = tuple(str(file) for _, _, file in found[: max(0, len(found) - keep)])
    for file in gone:
        with suppress(OSError):
            os.unlink(file)
    return gone


@dataclass(frozen=True)
class Last:
    """The last copy of a registry that is known here: when, and in which file."""

    at: str
    file: str


@dataclass(frozen=True)
class Uncopied:
    """How many readings were entered since the last copy of a registry that is known here."""

    readings: int
    last: Last | None


def uncopied(registry: Registry) -> Uncopied:
    """Return what the last copy lacks."""
    kept = state.kept(_USE, registry.path) or {}
    last = Last(kept["at"], kept["file"]) if {"at", "file"} <= kept.keys() else None
    sql = "SELECT count(*) AS n FROM readings WHERE ? IS NULL OR entered_at > ?"
    row = registry.row(sql, [last and last.at] * 2)
    return Uncopied(int(row["n"]) if row else 0, last)
