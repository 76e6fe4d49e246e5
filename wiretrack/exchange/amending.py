# SPDX-License-Identifier: MIT
"""A file over records that are there: which of its rows are of them, and what those change.

A row is of the record that has its identifier, or else its code or tag; what it leaves out stays as
it is. What hangs on a changed record is checked with it, and what follows it is changed with it, as
rows that are not of the file.
"""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.errors import TagError
from wiretrack.exchange import likeness
from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.codes import NOUNS
from wiretrack.exchange.decode import read_drafts
from wiretrack.exchange.known import INSIDE, AllButThese, Renames, key_of, name_of
from wiretrack.exchange.places import Faults, articled, shown
from wiretrack.exchange.raw import RawSite
from wiretrack.exchange.rest import REST
from wiretrack.exchange.write import poles_as_written, row_of
from wiretrack.late import dataclass
from wiretrack.model import kinds, tags
from wiretrack.model.entities import Circuit, Conductor, Pull, Raceway, Reading
from wiretrack.model.entity import Point
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import SiteFacts, Terminal
from wiretrack.model.source import NAMED_BY, TABLES

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from wiretrack.exchange.decode import Draft, Drafts
    from wiretrack.exchange.known import Known
    from wiretrack.exchange.places import Path
    from wiretrack.model.entity import Key
    from wiretrack.model.source import SiteDocument

Row = dict[str, Any]
At = tuple[str, int]  # a row: its table and number
Pair = tuple[Any, Any]  # old and new


class Held(Protocol):
    """The records that are there."""

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""

    def has_none(self, of: type[Any]) -> bool:
        """Return whether there is no record of a kind."""

    def find(self, of: type[Any], by: str, keys: Collection[Any]) -> Iterable[tuple[int, Any]]:
        """Return the records that stand in a relation of `KEYS` to one of the keys."""

    def logged(self, table: str) -> Mapping[str, Row]:
        """Return the rows of a table that only a dump has, by their identifiers."""


@dataclass(frozen=True)
class Changed:
    """A record that a file changes: of which table, what it becomes, and its fields that differ.

    `fields` has old and new value by the field's key, written as in a site file. `carried` says
    that it isn't in the file, but follows what is.
    """

    table: str
    before: Any
    record: Any
    fields: dict[str, Pair]
    carried: bool = False

    @property
    def what(self) -> str:
        """What sort of record it is."""
        return NOUNS.get(self.table, "site")

    @property
    def name(self) -> str:
        """How it was called."""
        return name_of(self.before)


@dataclass
class Amending:
    """The rows of a file that are of records `there`, by their place in it.

    Without `update` none of them may say anything else than the record. Where they may `clear`
    fields, null makes one unknown. `context` are rows that
    were put behind those of the file to be checked with them, `carried` such that change too.
    """

    held: Held
    raw: RawSite
    update: bool = False
    clear: bool = False
    there: dict[At, Any] = field(default_factory=dict)
    context: set[At] = field(default_factory=set)
    carried: set[At] = field(default_factory=set)
    renames: Renames = field(default_factory=Renames)
    fields: dict[At, dict[str, Pair]] = field(default_factory=dict)
    logs: set[At] = field(default_factory=set)

    def begin(self) -> None:
        """Find the rows that are of records there, and fill up what they leave out."""
        for of, table in TABLES.items():
            found = self.raw.data.get(table)
            rows = found if isinstance(found, list) else []
            self._match(of, table, rows)
            for at in [at for at in self.there if at[0] == table]:
                self._complete(at)
        if self.update and isinstance(self.raw.data.get("site", {}), dict):
            facts = self.there["site", 0] = self.held.facts()
            row = self._filled(facts, self.raw.data.get("site", {}))
            self.raw.data["site"] = row | {"id": facts.id}
        for at in [at for at in self.there if at[0] == "devices"]:
            self._carry_device(at)
        self._add_context()
        for at in self.context | self.carried:
            name = f"{NOUNS[at[0]]} {name_of(self.there[at])} in the registry"
            self.raw.faults.elsewhere[at] = name

    def _match(self, of: type, table: str, rows: list[Any]) -> None:
        ids: dict[str, list[int]] = {}
        keys: dict[Key, list[int]] = {}
        for number, row in enumerate(() if self.held.has_none(of) else rows):
            if not isinstance(row, dict):
                continue
            if isinstance(row.get("id"), str):
                ids.setdefault(row["id"].lower(), []).append(number)
            key = self._key(of, row)
            if key is not None:
                keys.setdefault(key, []).append(number)
        for _, record in self.held.find(of, "id", [*ids]) if ids else ():
            self.there |= {(table, number): record for number in ids[record.id]}
        for _, record in self.held.find(of, NAMED_BY[of], [*keys]) if keys else ():
            for number in keys[key_of(record)]:
                self.there.setdefault((table, number), record)

    def _key(self, of: type, row: Row) -> Key | None:
        """Return what names the record of a row, as it is called there."""
        if of is Conductor:
            try:
                return tags.parse_tag(row["tag"])
            except (KeyError, TypeError, AttributeError, TagError):
                return None
        code, box = row.get("code"), row.get("enclosure")
        if not isinstance(code, str):
            return None
        if of not in INSIDE:
            return code
        return Point(self.renames.was("enclosures", box), code) if isinstance(box, str) else None

    def _complete(self, at: At) -> None:
        table, number = at
        row, record = self.raw.data[table][number], self.there[at]
        given = row.get("id")
        if isinstance(given, str) and given.lower() != record.id:
            message = f"{name_of(record)} has another identifier in the registry: {record.id}."
            self.raw.faults.add((*at, "id"), f"{message} Leave it out, or name another record.")
            del row["id"]
        made = self.raw.data[table][number] = self._filled(record, row)
        if isinstance(made.get("code"), str) and isinstance(made.get("enclosure", ""), str):
            inside = isinstance(record, INSIDE)
            new: Key = Point(made["enclosure"], made["code"]) if inside else made["code"]
            self.renames.add(table, key_of(record), new)

    def _filled(self, record: Any, row: Row) -> Row:
        made = likeness.completed(row_of(record), row)
        return likeness.known_only(made) if self.clear else made

    def _carry_device(self, at: At) -> None:
        """Let a device's own terminals, and what is landed on them, follow it."""
        device, row = self.there[at], self.raw.data["devices"][at[1]]
        box, code = row.get("enclosure"), row.get("code")
        old_box = self.renames.now("enclosures", device.enclosure)
        if not (isinstance(box, str) and isinstance(code, str)):
            return
        if (old_box, device.code) == (box, code):
            return
        own = f"{device.code}:"
        for terminal in [*self._found(Terminal, "enclosure", [device.enclosure])]:
            if not terminal.code.startswith(own):
                continue
            here, name = key_of(terminal), f"{code}:{terminal.code.removeprefix(own)}"
            self._append(terminal, {"enclosure": box, "code": name}, self.carried)
            self.renames.add("terminals", here, Point(box, name))
            if old_box != box:
                for conductor in [*self._found(Conductor, "terminal", [here])]:
                    self._carry_ends(conductor, here, Point(box, name))

    def _carry_ends(self, conductor: Conductor, there: Point, now: Point) -> None:
        at = next((at for at in self.carried if self.there[at] == conductor), None)
        if at is None:
            at = self._append(conductor, {}, self.carried)
        row = self.raw.data["conductors"][at[1]]
        for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
            if (end.enclosure, end.terminal) == there:
                row[side] |= {"enclosure": now.enclosure, "terminal": now.terminal}

    def _found(self, of: type, by: str, keys: list[Any]) -> Iterator[Any]:
        """Yield the records in a relation to one of the keys, but for those of the file."""
        here = {r.id for at, r in self.there.items() if at[0] == TABLES[of]} - {
            self.there[at].id for at in self.carried
        }
        return (record for _, record in self.held.find(of, by, keys) if record.id not in here)

    def _append(self, record: Any, changed: Row, to: set[At]) -> At:
        table = TABLES[type(record)]
        rows = self.raw.data.setdefault(table, [])
        at = (table, len(rows))
        self.there[at] = record
        rows.append(self.renames.row(record) | changed)
        to.add(at)
        return at

    def _add_context(self) -> None:
        """Put behind the rows what hangs on those that change, so that it is checked too."""
        circuits, raceways = self._old_codes(Circuit), self._old_codes(Raceway)
        for pull in [*self._found(Pull, "raceway", raceways)] if raceways else ():
            self._append(pull, {}, self.context)
        tagged = [r.tag for r in self.there.values() if isinstance(r, Conductor)]
        pulls = self._old_codes(Pull)
        for by, keys in (("pull", pulls), ("circuit", circuits), ("follows", tagged)):
            for conductor in [*self._found(Conductor, by, keys)] if keys else ():
                self._append(conductor, {}, self.context)

    def _old_codes(self, of: type) -> list[str]:
        """Return how records that the file changes, or that hang on such, were called."""
        return [
            record.code
            for at, record in self.there.items()
            if at[0] == TABLES[of]
            and (at in self.context or self.raw.data[at[0]][at[1]] != row_of(record))
        ]

    def known(self, known: Known) -> Known:
        """Return what is known besides the rows of the file, under the codes of the file."""
        here: set[tuple[str, object]] = set()
        for (table, _), record in self.there.items():
            noun = NOUNS.get(table, "site")
            here |= {(noun, key_of(record)), (f"{noun} id", record.id)}
        for table, number in self.logs:
            here.add((f"{REST[table].name} id", self.raw.data[table][number]["id"].lower()))
        return AllButThese(known, here, self.renames)

    def compare(self, drafts: Drafts) -> None:
        """Say which fields the rows change; add a fault for each that may not."""
        places = [at for at in self.there if at not in self.context]
        before = dict(zip(places, self._drafts([self.there[at] for at in places]), strict=True))
        before |= self._match_unnamed(drafts)
        for at, old in before.items():
            draft = drafts[at[0]][at[1]]
            fields = _differing(type(self.there[at]), old, draft) if draft else {}
            if fields:
                self.fields[at] = fields
                self._refuse(at, fields)
        self._compare_logs(drafts)

    def _drafts(self, records: list[Any]) -> list[Draft]:
        """Return records there as drafts, with the codes that the file gives to others."""
        data: dict[str, Any] = {}
        tables = [TABLES.get(type(record), "site") for record in records]
        for record, table in zip(records, tables, strict=True):
            row = self.renames.row(record)
            if table == "site":
                data["site"] = row
            else:
                data.setdefault(table, []).append(row)
        drafts = read_drafts(RawSite(data, Faults(self.raw.faults.places)))
        coming = {table: iter(rows) for table, rows in drafts.items()}
        return [next(coming[table]) for table in tables]

    def _match_unnamed(self, drafts: Drafts) -> dict[At, Draft]:
        """Find the conductors and readings of which a row without a name is."""
        found: dict[At, Draft] = {}
        for of in (Conductor, Reading):
            if self.held.has_none(of):
                continue
            table = TABLES[of]
            taken = {record.id for record in self.there.values() if type(record) is of}
            unnamed = {
                number: draft
                for number, draft in enumerate(drafts[table])
                if draft and not {"id", "tag"} & draft.keys()
            }
            keys = likeness.wanted(of, unnamed.values(), self.renames.was)
            near = [(by, some) for by, some in keys.items() if some]
            there = {r.id: r for by, some in near for _, r in self.held.find(of, by, [*some])}
            records = [record for record in there.values() if record.id not in taken]
            olds = self._drafts(records)
            for number, place in likeness.pairs(of, unnamed, olds).items():
                self.there[table, number] = records[place]
                found[table, number] = olds[place]
                drafts[table][number] = likeness.filled(olds[place], unnamed[number])
        return found

    def _refuse(self, at: At, fields: dict[str, Pair]) -> None:
        record = self.there[at]
        key, (old, new) = next(iter(fields.items()))
        told = f"{key} is {_said(old)} there, {_said(new)} here"
        path: Path = (*at, *key.split("."))
        if isinstance(record, Reading):
            message = f"The registry has this reading with other content: {told}."
            self.raw.faults.add(path, f"{message} A reading is never changed; supersede it.")
        elif not self.update:
            noun = f"{articled(NOUNS[at[0]])} {shown(name_of(record))}"
            message = f"The registry has {noun} already, with other content: {told}."
            self.raw.faults.add(path, f"{message} Correct it here, or update it there.")

    def _compare_logs(self, drafts: Drafts) -> None:
        for table, rows in REST.items():
            named = [(n, d) for n, d in enumerate(drafts.get(table, ())) if "id" in d]
            logged = self.held.logged(table) if named else {}
            for number, draft in named:
                path: Path = (table, number)
                row = logged.get(draft["id"])
                if row is not None:
                    self.logs.add((table, number))
                    if not _is_part(draft, row):
                        message = f"The registry has {articled(rows.noun)} of this identifier"
                        message += " with other content. A log entry never changes."
                        self.raw.faults.add(path, message)
                elif table == "changes" and self.fields:
                    message = "This line is of another history, and the file changes records."
                    self.raw.faults.add(path, f"{message} Leave it out, or merge its registry.")

    def added(self, document: SiteDocument) -> SiteDocument:
        """Return what of the file's records isn't there yet."""
        old = self.there.keys() | self.logs
        tables: dict[str, Any] = {
            table: tuple(r for n, r in enumerate(records) if (table, n) not in old)
            for table, records in document.tables()
        }
        rest = {name: tables.pop(name) for name in document.rest}
        if self.logs:  # what is logged there already brings no history of its own
            rest = {name: rows for name, rows in rest.items() if rows}
        site = SiteFacts() if ("site", 0) in self.there else document.site
        return replace(document, site=site, rest=rest, **tables)

    def changes(self, document: SiteDocument) -> list[Changed]:
        """Return the records that are changed."""
        return [
            Changed(
                table,
                self.there[table, number],
                document.site if table == "site" else getattr(document, table)[number],
                fields,
                (table, number) in self.carried,
            )
            for (table, number), fields in self.fields.items()
        ]

    def unchanged(self) -> dict[str, int]:
        """Return how many rows of each table of the file say what the record says."""
        same = self.there.keys() - self.fields.keys() - self.context
        return {table: sum(at[0] == table for at in same) for table in TABLES.values()}


def _differing(of: type, old: Draft, new: Draft) -> dict[str, Pair]:
    """Return old and new of the fields that differ, written as in a site file."""
    found: dict[str, Pair] = {}
    for each in flat_facts(of):
        pair = [likeness.plain(each.kind, draft.get(each.key)) for draft in (old, new)]
        if each.key.endswith(".state"):
            pair = [likeness.state(draft, each.key) for draft in (old, new)]
        if each.key == "poles":
            pair = [poles_as_written(d.get("code", ""), d.get(each.key, ())) for d in (old, new)]
            pair = [value or None for value in pair]
        if each.key != "id" and pair[0] != pair[1]:
            write = codec_of(each.kind).write
            one, other = (None if value is None else write(value) for value in pair)
            found[each.key] = one, other
    return found


def _is_part(draft: Draft, row: Row) -> bool:
    """Return whether a logged row says all that a draft does; it may have gone on since."""
    known = {answer["id"] for answer in row.get("answers", ())}
    if any(answer.get("id") not in known for answer in draft.get("answers", ())):
        return False
    skipped = ("answers", "result", "seq", "content")  # a content is what its SHA-256 says
    return all(
        likeness.plain(kinds.TAG if key == "tag" else kinds.NAME, value) == row.get(key)
        for key, value in draft.items()
        if key not in skipped
    )


def _said(value: Any) -> str:
    return "unknown" if value is None else shown(value)
