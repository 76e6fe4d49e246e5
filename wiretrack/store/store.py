# SPDX-License-Identifier: MIT
"""One open registry: where it lies, how it is opened and made, how writes are made whole."""

from __future__ import annotations

import os
import sqlite3
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from wiretrack import days, manner, state
from wiretrack.errors import BadInputError, Hint, RegistryError
from wiretrack.files import name_new_file, new_file_draft, remove_leftovers
from wiretrack.late import cached_property
from wiretrack.manner import Manner
from wiretrack.plain import few
from wiretrack.store.foreign import (
    NAME_IT,
    READ_ONLY_HINT,
    explain,
    guarded,
    schema_digest,
    strange_in,
)
from wiretrack.store.schema import (
    APPLICATION_ID,
    NOBODY_WRITES,
    SOME_UNDECIDED,
    VERSION,
    Connection,
    make,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from types import TracebackType

    from sqlite_utils import Database

    Row = dict[str, Any]
    Given = Sequence[Any] | dict[str, Any]

BUSY_TIMEOUT_S = 5.0
_MOST_OF_OTHERS = 2**22  # bytes of one value in somebody else's file
MAPPED_BYTES = 2**31 - 2**16


class Registry:
    """An open registry; a context manager that closes it and turns sqlite's errors into ours."""

    errors = sqlite3.Error

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, writable: bool = True
    ) -> None:
        self.path, self.connection, self.writable = path, connection, writable
        self.read_as: tuple[str, str] | None = None  # a tag as it was typed, and as it was read
        self.is_writing = False
        self.face = "python"  # by which this program is used: it stands in each entry of the log

    @cached_property
    def db(self) -> Database:
        """The database as sqlite-utils has it, for who writes; a look-up doesn't wait for that."""
        from sqlite_utils import Database

        return Database(self.connection, execute_plugins=False)

    def close(self) -> None:
        """Close the file."""
        manner.never_ask(self.manner)
        self.connection.close()

    def leave_to_parent(self) -> None:
        """Never be used again in this process, a fork, not even to be closed: sqlite bears none.

        Source: sqlite.org/howtocorrupt.html, 2.6.
        """
        self._parents = vars(self).pop("connection"), vars(self).pop("db", None)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.close()
        if isinstance(error, sqlite3.IntegrityError):
            raise BadInputError(
                f"The registry refuses it: {error}. Nothing was written."
            ) from error
        if isinstance(error, sqlite3.Error | UnicodeDecodeError):
            raise explain(self.path, error) from error
        if isinstance(error, UnicodeEncodeError):
            raise BadInputError(
                f"'{error.object}' holds bytes that are no text in UTF-8. Type it again."
            ) from error

    def manner(self) -> Manner:
        """Return how the site counts and speaks."""
        asked = "SELECT time_zone, units, rules FROM site WHERE one = 1"
        return Manner(*(self.connection.execute(asked).fetchone() or ()))

    def some_undecided(self) -> bool:
        """Return whether anything is undecided; what that is, `undecided` says."""
        return self.row(f"SELECT 1 WHERE {SOME_UNDECIDED}") is not None

    def signing_key(self) -> str:
        """Return the key that signs the sessions of the registry's pages: made once, never dumped.

        A registry that can't be written gets a key for this time only.
        """
        key = os.urandom(32).hex()
        if not self.writable:
            return key
        with self.write(noted=False) as db:
            db.execute("INSERT OR IGNORE INTO signing_key (one, key) VALUES (1, ?)", [key])
        return str(self.rows("SELECT key FROM signing_key")[0]["key"])

    def map_file(self) -> None:
        """Read the file as memory from now on, as far as sqlite allows (2 GB): fewer copies."""
        self.connection.execute(f"PRAGMA mmap_size = {MAPPED_BYTES}")

    @contextmanager
    def write(
        self,
        who: str | None = None,
        *,
        noted: bool = True,
        kind: str = "change",
        more: Mapping[str, Any] | None = None,
    ) -> Iterator[Database]:
        """Run a block as one durable change by `who`: all of it or nothing.

        `more` is what else is to be kept of it: ``why``, ``on`` which day, what it ``undoes``.

        With ``noted=False`` the history isn't written (the block brings its own, from a dump).
        Neither outlasts the change: what another program writes with SQL is noted, by nobody known.

        Within another one a block is a part of that change: they are written together, or not.
        """
        from wiretrack.store.log import Commit
        from wiretrack.store.replay import make_again
        from wiretrack.store.union import more_of

        if self.is_writing:
            yield self.db
            return
        if not self.writable:
            raise RegistryError(str(self.path), "can't be written", READ_ONLY_HINT)
        commit = self.commit = Commit(self.connection, self.path, self.face, days.utc_now(), more)
        self.db.execute("BEGIN IMMEDIATE")
        self.is_writing = True
        try:
            self.db.execute(
                "UPDATE writing SET who = ?, at = ?, change = ?, more = ?, noted = ?",
                [who, commit.at, commit.change, more_of(commit.more), int(noted)],
            )
            yield self.db
            self.commit.add(kind, who)
            self.commit.close()
            if self.commit.says_same:
                make_again(self.connection)
            self.db.execute(NOBODY_WRITES)
            self.db.execute("COMMIT")
        except BaseException:
            if self.db.conn.in_transaction:
                self.db.execute("ROLLBACK")
            self.commit.take_back()
            raise
        finally:
            self.is_writing = False

    @contextmanager
    def unchanging(self) -> Iterator[None]:
        """Run a block that sees the registry as it is at its start, whoever writes meanwhile."""
        self.connection.execute("BEGIN")
        try:
            yield
        finally:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")

    def rows(self, sql: str, parameters: Given = ()) -> list[Row]:
        """Return the rows of a query as dictionaries."""
        return list(self.each(sql, parameters))

    def each(self, sql: str, parameters: Given = ()) -> Iterator[Row]:
        """Yield the rows of a query as they are read."""
        cursor = self.connection.execute(sql, parameters)
        names = [column[0] for column in cursor.description]
        return (dict(zip(names, row, strict=True)) for row in cursor)

    def row(self, sql: str, parameters: Given = ()) -> Row | None:
        """Return the first row of a query, or `None`."""
        rows = self.rows(sql, parameters)
        return rows[0] if rows else None


def open_registry(path: Path | str, face: str = "python", *, as_found: bool = False) -> Registry:
    """Open the registry at `path`; the log notes by which face it was written to.

    What comes from elsewhere may hold triggers or views of somebody else, which would run. It is
    refused, or taken `as_found` by who names what is wrong with it. `RegistryError` if it is
    missing, not a registry, damaged, locked, made by another version, or holds what isn't ours.
    """
    path = Path(path)
    if not path.exists():
        raise RegistryError(str(path), "does not exist", Hint(job="new"))
    if not path.is_file():
        raise RegistryError(str(path), "is not a file", NAME_IT)
    try:
        registry = _opened(path)
        _look_for_strange_parts(registry, as_found)
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise explain(path, error) from error
    registry.face = face
    return registry


def _look_for_strange_parts(registry: Registry, as_found: bool) -> None:
    """Let nothing of a file run that isn't ours; what was looked through once is known again."""
    db, path = registry.connection, registry.path
    schema = schema_digest(db)
    if state.kept(_SCHEMAS, path) != schema:
        strange = strange_in(db)
        if strange and as_found:
            guarded(db)
            return
        if strange:
            db.close()
            raise RegistryError(
                str(path),
                f"holds what isn't wiretrack's: {few(strange, 1)}",
                Hint("Take that out with the program that put it in.", job="verify"),
            )
        state.keep(_SCHEMAS, path, schema)
    db.execute("PRAGMA trusted_schema = ON")  # our own triggers may call what they need


_SCHEMAS = "schemas"


def is_registry(path: Path) -> bool:
    """Return whether a file says that it is a registry; it isn't opened for that.

    The application's number stands at byte 68 of a database file (sqlite.org/fileformat2.html,
    1.3.17).
    """
    try:
        with path.open("rb") as file:
            head = file.read(72)
    except OSError:
        return False
    return head[:16] == b"SQLite format 3\0" and head[68:] == APPLICATION_ID.to_bytes(4, "big")


def open_other(path: Path) -> Registry:
    """Open somebody else's registry to read its log, whatever else is in it."""
    if not path.is_file():
        why = "is not a file" if path.exists() else "does not exist"
        raise RegistryError(str(path), why, Hint("Name a copy.", job="backup"))
    in_use = path.with_name(f"{path.name}-wal").exists()
    try:
        db = _connect(path, "mode=ro" if in_use else "mode=ro&immutable=1")
        db.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _MOST_OF_OTHERS)
        db.execute("PRAGMA trusted_schema = OFF")
        db.execute("PRAGMA query_only = ON")
        _look_at(path, db)
        found = db.execute("SELECT type FROM sqlite_master WHERE name = 'log'").fetchall()
        if found != [("table",)]:
            raise RegistryError(str(path), "has no log", NAME_IT)
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise explain(path, error) from error
    return Registry(path, db, writable=False)


@contextmanager
def new_registry_file(path: Path, hint: Hint | str = "Name a new file.") -> Iterator[Path]:
    """Give a draft to make, which gets the name `path` when the block ends; else nothing is left.

    `BadInputError` with the `hint` if something is there already; `RegistryError` if the medium
    refuses.
    """
    if path.exists() or path.is_symlink():
        raise BadInputError(f"{path} exists already.", hint)
    draft = new_file_draft(path)
    try:
        yield draft
        name_new_file(draft, path)
    except FileExistsError:
        raise BadInputError(f"{path} exists already.", hint) from None
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise explain(path, error) from error
    except OSError as error:
        raise RegistryError(str(path), f"can't be written: {error.strerror}") from error
    finally:
        remove_leftovers(draft, *(Path(f"{draft}-{end}") for end in ("journal", "wal", "shm")))


def make_registry(path: Path) -> Registry:
    """Make a file with the tables of a registry, and nothing in them; return it, open.

    It is for its owner alone to read and write.
    """
    path.touch(0o600)
    registry = Registry(path, _connect(path, "rwc"))
    _set_up(registry.connection)
    make(registry.connection)
    return registry


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    uri = f"{path.resolve().as_uri()}?{mode if '=' in mode else 'mode=' + mode}"
    return Connection(
        uri, uri=True, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False
    )


def _set_up(db: sqlite3.Connection) -> None:
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA foreign_keys = ON")


def _opened(path: Path) -> Registry:
    """Open for writing, or for reading alone where the medium takes no writes."""
    db, writable = _connect(path, "rw"), True
    try:
        db.execute("PRAGMA trusted_schema = OFF")
        _look_at(path, db)
        if os.access(path, os.W_OK):
            _set_up(db)
        else:
            writable = False
    except sqlite3.OperationalError as error:
        db.close()
        if (error.sqlite_errorcode & 0xFF) not in _ONLY_READABLE:
            raise
        db, writable = _readable(path), False
        _look_at(path, db)
    return Registry(path, db, writable=writable)


_ONLY_READABLE = (
    sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR,
)  # fmt: skip


def _readable(path: Path) -> sqlite3.Connection:
    """Return a connection that needs no write: the medium takes none, or has no space left.

    What is in the write-ahead log is read too. That needs the file alone (sqlite.org/wal.html, 6).
    """
    wal = path.with_name(f"{path.name}-wal")
    if not (wal.exists() and wal.stat().st_size and os.access(path, os.W_OK)):
        return _connect(path, "mode=ro&immutable=1")
    db = _connect(path, "rw")
    db.execute("PRAGMA locking_mode = EXCLUSIVE")
    return db


def _look_at(path: Path, db: sqlite3.Connection) -> None:
    """Refuse what isn't a registry, or is one of a newer wiretrack."""
    if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise RegistryError(str(path), "is not a registry", NAME_IT)
    if _version(db) > VERSION:
        raise RegistryError(
            str(path),
            f"was made by a newer wiretrack (format {_version(db)}; this one knows {VERSION})",
            "Install the newer version.",
        )
    if _version(db) < VERSION:
        raise RegistryError(
            str(path),
            f"was made by an older wiretrack (format {_version(db)}; this one needs {VERSION})",
            Hint("Write it as a site file with that version, then load the file.", job="load"),
        )


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])
