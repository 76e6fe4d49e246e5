# SPDX-License-Identifier: MIT
"""Who changed what, when, and from what to what."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.quantity_text import in_own_unit, shown
from wiretrack.exchange.write import flat_row
from wiretrack.model.entities import Reading
from wiretrack.model.entity import subject_text
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import RECORDS, TABLE_OF
from wiretrack.model.tags import format_tag
from wiretrack.readings import kind_of
from wiretrack.store.changelog import NEW, Past, changes
from wiretrack.store.history import ids_called
from wiretrack.store.schema import NOTED_TABLES
from wiretrack.store.source import StoredSource

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from wiretrack.model.fields import Fact
    from wiretrack.store.changelog import Change, Owner
    from wiretrack.store.rows import Row
    from wiretrack.store.searching import Named
    from wiretrack.store.store import Registry

_NOUNS = {table: noun for noun, table in TABLE_OF.items()} | {"site": "site"}
_NOTES = {"notes": "note", "attachments": "attachment"}
_LABELS = ("label_prints", "placed_labels")
_TOLD = {*NOTED_TABLES, "procedures"}
_WORK = {"ringout": "ring-out of", "fault_search": "search on"}
_LOGGED = ("reading", "same", *_NOTES.values())
_NAMES = ("tag", "code")
_MOST_WORDS = 200  # of one value
Fields = dict[str, tuple[Any, Any]]


@dataclass(frozen=True, kw_only=True)
class Touched:
    """What a change did to one record, or which file it loaded.

    `fields` has the old and the new value of each, as a site file writes it, None where unknown.
    `file` is what it came with. `action` is ``added``, ``loaded``, ``taken back`` or the like.
    `change` is None where another program wrote it. `record` is an id; "" for a file.
    """

    change: str | None
    at: str
    by: str | None
    what: str
    code: str
    action: str
    fields: Fields
    why: str | None = field(default=None, metadata={"blank": None})
    on: str | None = field(default=None, metadata={"blank": None})
    undoes: str | None = field(default=None, metadata={"blank": None})
    file: str | None = field(default=None, metadata={"blank": None})
    record: str = field(default="", metadata={"json": None})

    @property
    def words(self) -> str:
        """What became of it, in a line: the fields that changed, or that it is new."""
        if self.what == "reading":
            kind, value = (self.fields[key][1] for key in ("kind", "value"))
            return f"{self.code}: {kind} {shown(str(value), kind_of(kind).unit)}"
        if self.what in _NOTES.values():
            text = next((f": {new}" for _, new in self.fields.values()), " taken back")
            return f"{self.what} on {self.code}{text}"
        if self.what == "label":
            return f"{self.code}: label {self.action}, {' and '.join(self.fields)}"
        if self.what == "same":
            return f"{self.code} {self.action}"
        if self.what == "file":
            counts = (f"{old or new} {name.replace('_', ' ')}" for name, (old, new) in
                      self.fields.items())  # fmt: skip
            action = "loaded" if self.action == "loaded" else "taken back"
            return f"{self.code} {action}: {', '.join(counts)}"
        if self.action == "changed":
            told = (f"{_plain(key)} {self._said(key, old)} → {self._said(key, new)}"
                    for key, (old, new) in self.fields.items())  # fmt: skip
            return f"{self.code}: {', '.join(told)}"
        if self.what in _WORK:
            return f"{_WORK[self.what]} {self.code} {self.action.replace('added', 'begun')}"
        name = self.what if self.what == "site" else f"{self.what.replace('_', ' ')} {self.code}"
        return f"{name} {self.action}{f' with {self.file}' if self.file else ''}"

    @property
    def in_full(self) -> str:
        """The same, with all that was known when it was added, or before it was removed."""
        if self.action not in ("added", "removed") or self.what in _LOGGED:
            return self.words
        known = ((key, old if new is None else new) for key, (old, new) in self.fields.items())
        told = [f"{_plain(key)} {self._said(key, v)}" for key, v in known if key not in _NAMES]
        return ": ".join(filter(None, (self.words, ", ".join(told))))

    def _said(self, key: str, value: Any) -> str:
        text = value_told(self.what, key, value)
        return text if len(text) <= _MOST_WORDS else f"{text[:_MOST_WORDS]} …"


def value_told(what: str, key: str, value: Any) -> str:
    """Return the value of a field of a kind of record for people, a length in the site's unit."""
    fact = _facts(what).get(key)
    if key.endswith("_at") and isinstance(value, str):
        return days.minute(value)
    bare = isinstance(value, (bool, float, int))  # a file's text has its unit
    if fact and fact.kind.is_length:
        value, bare = in_own_unit(fact.kind.told(value) if bare else value), False
    return fact.kind.told(value) if fact and bare else said(value)


def said(value: Any) -> str:
    """Return a field's value for people.

    >>> said(True), said(None), said(["W1", "W2"])
    ('yes', 'unknown', 'W1, W2')
    """
    if value is None:
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return " ".join(map(said, value.values()))
    if isinstance(value, list):
        pairs = ("-".join(map(str, v)) if isinstance(v, list) else said(v) for v in value)
        return ", ".join(pairs)
    return str(value)


def _plain(key: str) -> str:
    return key.replace("_", " ").replace(".", " ")


@cache
def _facts(what: str) -> Mapping[str, Fact]:
    of = RECORDS.get(TABLE_OF.get(what, what))
    return {fact.key: fact for fact in flat_facts(of)} if of else {}


_State = tuple[str, Mapping[str, Any]]  # a record's name, and its fields as a site file writes them
_NOT_THERE: _State = ("", {})


def history(
    registry: Registry, what: str | Named | None = None, *, since: str | None = None,
    limit: int | None = None,
) -> list[Touched]:  # fmt: skip
    """Return what was changed, newest first: of all, or of what a word names and its parts.

    `since` is a day, counted where the site is; `limit` is the most that is returned.
    `NotFoundError` or `TagError` if nothing is or was called so; `BadInputError` if `since` is no
    day.
    """
    day = None if since is None else days.typed_day(since).isoformat()
    found: list[Touched] = []
    with registry.unchanging():
        teller = Teller(registry, None if what is None else ids_called(registry, what))
        for change in changes(registry):
            if day is not None and days.day(change.at) < day:
                break
            found += teller.told(change)
            if limit is not None and len(found) >= limit:
                break
    return found[:limit]


def by_record(registry: Registry) -> dict[str, list[Touched]]:
    """Return what became of each record that stands, by its id, the oldest first.

    What came with a file begins with that. Of readings, labels and notes nothing is said; under ""
    is what became of files.
    """
    found: defaultdict[str, list[Touched]] = defaultdict(list)
    brought = dict[str, Touched]()
    teller = Teller(registry)
    for change in changes(registry):
        told = change.kind == NEW or any(row["table"] in _TOLD for row in change.rows)
        for touched in teller.told(change) if told else ():
            if touched.what not in (*_LOGGED, "label"):
                found[touched.record].append(touched)
        for row in change.rows if change.file is not None else ():
            if row.get("added") and row["table"] in _NOUNS and row["table"] != "site":
                brought.setdefault(row["id"], _brought(change, row))
    for record, touched in brought.items():
        if all(each.action != "added" for each in found[record]):
            found[record].append(touched)
    return {record: each[::-1] for record, each in found.items()}


def _brought(change: Change, row: Row) -> Touched:
    known = row["added"]
    name = format_tag(known["tag"]) if "tag" in known else str(known.get("code", ""))
    return _made(change, _NOUNS[row["table"]], name, "added", {}, row["id"])


class Teller:
    """Tells change after change, newest first; `ids` are those of what is asked about."""

    def __init__(self, registry: Registry, ids: Collection[str] | None = None) -> None:
        self._past, self._ids = Past(registry), ids
        self._stored = StoredSource(registry)
        self._later: list[Row] = []  # which are taken back once there is an earlier change

    def told(self, change: Change) -> list[Touched]:
        """Return what a change did, each record once."""
        if change.kind == NEW:
            return [*_new(change, self._ids)]
        self._past.back(self._later)
        self._later = []
        if self._ids is None and change.file is not None and change.file.only_adds:
            self._later = [] if change.file.is_dump else change.rows
            return [_file(change)]
        return self._told(change)

    def _told(self, change: Change) -> list[Touched]:
        """Return what a change did, record by record, and take it back in memory."""
        past, rows = self._past, change.rows
        if change.file is None:
            past.forward(rows)
        owners = past.owners(rows)
        if change.file is not None:  # what came with it is told only where it is asked about
            asked = self._ids or ()
            owners = {o: done for o, done in owners.items() if o[1] in asked or done == "changed"}
        ids = None if self._ids is None else past.with_parts(self._ids)
        logs = [*self._procedures(change, ids), *self._notes(change, ids), *self._logs(change, ids)]
        now = self._records(owners)
        if change.file is not None:  # of much that it brought little was there before
            rows = [] if change.file.is_dump else rows
            self._later = [row for row in rows if past.owner(row) not in owners]
            rows = [row for row in rows if past.owner(row) in owners]
        past.back(rows)
        before = self._records(owners)
        if ids is not None:
            ids |= past.with_parts(self._ids or ())
        told = []
        for owner, action in owners.items():
            (once, old), (name, new) = (each.get(owner, _NOT_THERE) for each in (before, now))
            fields = {
                key: (old.get(key), new.get(key))
                for key in dict.fromkeys((*old, *new))
                if key != "id" and old.get(key) != new.get(key)
            }
            if fields and (ids is None or owner[1] in ids):
                what = _NOUNS[owner[0]]
                told.append(_made(change, what, name or once, action, fields, owner[1]))
        told.sort(key=lambda each: each.what == "terminal")
        file = [] if change.file is None or ids is not None else [_file(change)]
        return [*file, *told, *logs]

    def _records(self, owners: Iterable[Owner]) -> dict[Owner, _State]:
        found: dict[Owner, _State] = {}
        for table in dict.fromkeys(table for table, _ in owners):
            ids = [record for own, record in owners if own == table]
            if table == "site":
                facts = self._past.source.facts()
                found |= {("site", record): ("site", flat_row(facts)) for record in ids}
            elif table in _NOUNS:
                kind: type[Any] = RECORDS[table]
                for _, entity in self._past.source.find(kind, "id", ids):
                    found[table, entity.id] = (_name(entity), flat_row(entity))
        return found

    def _logs(self, change: Change, ids: Collection[str] | None) -> Iterator[Touched]:
        """Yield the readings taken and the labels printed or put on, but not those of a load."""
        if change.file is not None:
            return
        asked = [r for r in change.rows if r.get("added") and (ids is None or _subject(r) in ids)]
        read = [row["id"] for row in asked if row["table"] == "readings"]
        for _, reading in self._stored.find(Reading, "id", read):
            fields = {key: (None, v) for key, v in flat_row(reading).items() if key != "subject"}
            yield _made(change, "reading", subject_text(reading.subject), "added", fields)
        labels: dict[tuple[str, str], Fields] = {}
        for row in asked:
            if row["table"] in _LABELS:
                printed = row["table"] == "label_prints"
                placed = "taken back" if "takes_back" in row["added"] else "placed"
                action = "printed" if printed else placed
                ends = (action, None) if action == "taken back" else (None, action)
                labels.setdefault((_subject(row), action), {})[row["added"]["side"]] = ends
        for (conductor, action), fields in labels.items():
            tag = self._past.text("conductors", conductor, "tag")
            yield _made(change, "label", format_tag(tag or ""), action, fields)

    def _notes(self, change: Change, ids: Collection[str] | None) -> Iterator[Touched]:
        """Yield the notes and files kept with a record, and those that hold no longer."""
        for row in change.rows if change.file is None else ():
            if row["table"] in _NOTES and (ids is None or _subject(row) in ids):
                known = row["added"]
                code = self._past.text("named", known["record"], "code") or known["what"]
                name = format_tag(code) if known["what"] == "conductor" else code
                key = next((key for key in ("text", "name") if key in known), None)
                action = "added" if key else "taken back"
                fields: Fields = {key: (None, known[key])} if key else {}
                yield _made(change, _NOTES[row["table"]], name, action, fields)
        said = (row for row in change.rows if row["table"] == "same_records")
        same = [row["added"]["what"] for row in said if ids is None or _subject(row) in ids]
        if same and change.file is None:
            told = ", ".join(f"{n} {of}{'s'[: n > 1]}" for of, n in Counter(same).items())
            action = ("parted again", "said to be the same")["record" in change.rows[0]["added"]]
            yield _made(change, "same", told, action, {})

    def _procedures(self, change: Change, ids: Collection[str] | None) -> Iterator[Touched]:
        for row in change.rows if change.file is None else ():
            known = row.get("added", {}) if row["table"] == "procedures" else {}
            if known and (ids is None or _subject(row) in ids):
                ringout = "pull_id" in known
                table = "pulls" if ringout else "circuits"
                code = self._past.text(table, _subject(row), "code") or ""
                what = "ringout" if ringout else "fault_search"
                yield _made(change, what, code, "added", {}, _subject(row))


def _subject(row: Row) -> str:
    """Return the id of what a row of a log is of."""
    columns = ("conductor_id", "device_id", "circuit_id", "pull_id", "record")
    return next((row["added"][c] for c in columns if c in row["added"]), "")


def _name(record: Any) -> str:
    if hasattr(record, "tag"):
        return format_tag(record.tag)
    box = getattr(record, "enclosure", None)
    return f"{box}/{record.code}" if box else str(record.code)


def _new(change: Change, ids: Collection[str] | None) -> Iterator[Touched]:
    for row in change.rows:
        if row["table"] == "site" and (ids is None or row["id"] in ids):
            known = {key: value for key, value in row["added"].items() if key != "one"}
            written = flat_row(SiteFacts(**known))
            fields = {key: (None, value) for key, value in written.items()}
            yield _made(change, "site", "site", "added", fields, row["id"])


def _file(change: Change) -> Touched:
    assert change.file is not None
    counts = change.file.counts or Counter(row["table"] for row in change.rows)
    loaded = change.file.action == "loaded"
    fields = {table: (None, n) if loaded else (n, None) for table, n in counts.items()}
    return _made(change, "file", change.file.name, change.file.action, fields)


def _made(
    change: Change, what: str, code: str, action: str, fields: Fields, record: str = ""
) -> Touched:
    return Touched(
        change=change.id, at=change.at, by=change.by, what=what, code=code, action=action,
        fields=fields, record=record, why=change.why, on=change.on, undoes=change.undoes,
        file=change.file.name if change.file and what != "file" else None,
    )  # fmt: skip
