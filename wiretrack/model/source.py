# SPDX-License-Identifier: MIT
"""Where a site's records come from: batch look-ups by what a record is, or is joined with.

A look-up names a kind of record and one of its relations; `KEYS` says what each relation means.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import field, fields
from functools import cache
from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.entity import Key, Point, R, Subject
from wiretrack.model.fields import Fact, facts
from wiretrack.model.parts import Device, End, FarEnd, Instrument, SiteFacts, Terminal

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from wiretrack.model.entity import Noted
    from wiretrack.model.labels import EndLabel


@dataclass(frozen=True, kw_only=True)
class SiteDocument:
    """All that a site file holds; `rest` keeps the tables that only a dump has, row by row."""

    site: SiteFacts = field(default_factory=SiteFacts)
    enclosures: tuple[Enclosure, ...] = ()
    terminals: tuple[Terminal, ...] = ()
    devices: tuple[Device, ...] = ()
    raceways: tuple[Raceway, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    pulls: tuple[Pull, ...] = ()
    conductors: tuple[Conductor, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    readings: tuple[Reading, ...] = ()
    rest: dict[str, tuple[dict[str, object], ...]] = field(default_factory=dict)

    def tables(self) -> Iterator[tuple[str, Iterable[object]]]:
        """Yield each table with its records, in the order of files."""
        for each in fields(self):
            if each.name not in ("site", "rest"):
                yield each.name, getattr(self, each.name)
        yield from self.rest.items()


def _ends(conductor: Conductor) -> Iterator[Point]:
    for end in (conductor.from_end, conductor.to_end):
        if end.terminal is not None:
            yield Point(end.enclosure, end.terminal)


def _is_circuit(subject: str) -> bool:
    return isinstance(subject, Subject) and subject.device is None


# The relations by which records are looked up; the first one of a kind names a single record.
KEYS: dict[tuple[type, str], Callable[[Any], Iterable[Key | None]]] = {
    (Enclosure, "code"): lambda e: (e.code,),
    (Enclosure, "kind"): lambda e: (e.kind,),
    (Terminal, "place"): lambda t: (Point(t.enclosure, t.code),),
    (Terminal, "enclosure"): lambda t: (t.enclosure,),
    (Device, "place"): lambda d: (Point(d.enclosure, d.code),),
    (Device, "enclosure"): lambda d: (d.enclosure,),
    (Device, "terminal"): lambda d: (Point(d.enclosure, code) for pole in d.poles for code in pole),
    (Raceway, "code"): lambda r: (r.code,),
    (Raceway, "enclosure"): lambda r: (r.from_enclosure, r.to_enclosure),
    (Circuit, "code"): lambda k: (k.code,),
    (Pull, "code"): lambda p: (p.code,),
    (Pull, "raceway"): lambda p: p.path,
    (Conductor, "tag"): lambda c: (c.tag,),
    (Conductor, "circuit"): lambda c: c.circuits,
    (Conductor, "pull"): lambda c: (c.pull,),
    (Conductor, "enclosure"): lambda c: (c.from_end.enclosure, c.to_end.enclosure),
    (Conductor, "terminal"): _ends,
    (Conductor, "follows"): lambda c: (c.follows,),
    (Instrument, "code"): lambda i: (i.code,),
    (Reading, "id"): lambda r: (r.id,),
    (Reading, "subject"): lambda r: () if isinstance(r.subject, Subject) else (r.subject,),
    (Reading, "device"): lambda r: (r.subject.device,) if isinstance(r.subject, Subject) else (),
    (Reading, "circuit"): lambda r: (r.subject,) if _is_circuit(r.subject) else (),
    (Reading, "supersedes"): lambda r: (r.supersedes,),
    **{
        (of, "id"): lambda record: (record.id,)
        for of in (Enclosure, Terminal, Device, Raceway, Circuit, Pull, Conductor, Instrument)
    },
}
NAMED_BY: dict[type, str] = {of: by for of, by in reversed(KEYS)}
TABLES: dict[type, str] = {
    Enclosure: "enclosures",
    Terminal: "terminals",
    Device: "devices",
    Raceway: "raceways",
    Circuit: "circuits",
    Pull: "pulls",
    Conductor: "conductors",
    Instrument: "instruments",
    Reading: "readings",
}
TABLE_OF = {of.__name__.lower(): table for of, table in TABLES.items()}
# What the rows of a table of the store hold, parts of records too.
RECORDS: dict[str, type] = {table: of for of, table in TABLES.items()} | {
    "site": SiteFacts,
    "ends": End,
    "far_ends": FarEnd,
}


@cache
def fact_of(table: str, column: str) -> Fact | None:
    """Return the field that a column of the store holds; `None` where it is none of a record."""
    found = facts(RECORDS[table]) if table in RECORDS else ()
    return next((fact for fact in found if fact.column == column), None)


class Source(Protocol):
    """What a `Site` reads from: the store, or a document in memory; as it is, nothing is logged."""

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> Iterable[tuple[int, R]]:
        """Return the records that stand in a relation of `KEYS` to one of the keys.

        Each comes once, with its number in the order of the record, lowest first.
        """

    def every(self, of: type[R]) -> Iterable[tuple[int, R]]:
        """Return all records of a kind, each with its number in the order of the record."""

    def everything(self) -> SiteDocument:
        """Return all records."""

    def labels(self, tags: Collection[str]) -> Mapping[tuple[str, str], EndLabel]:
        """Return what the logs of labels hold of the ends of conductors, by tag and side."""
        return {}

    def noted(self, records: Collection[str]) -> Mapping[str, Noted]:
        """Return what is noted of records, and attached to them, by their ids."""
        return {}

    def undecided(self) -> Mapping[str, Sequence[str]]:
        """Return what is undecided of tags, circuits and devices, in words, where it counts."""
        return {}


class DocumentSource(Source):
    """The records of a document in memory, of which no log says anything."""

    def __init__(self, document: SiteDocument) -> None:
        self._document = document
        self._indexes: dict[tuple[type, str], dict[Key, list[tuple[int, Any]]]] = {}

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""
        return self._document.site

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> Iterable[tuple[int, R]]:
        """Return the records that stand in a relation to one of the keys, as a `Source` does."""
        index = self._index(of, by)
        found = {number: record for key in keys for number, record in index.get(key, ())}
        return sorted(found.items(), key=lambda pair: pair[0])

    def everything(self) -> SiteDocument:
        """Return all records."""
        return self._document

    def every(self, of: type[R]) -> Iterable[tuple[int, R]]:
        """Return all records of a kind, each with its number."""
        return enumerate(getattr(self._document, TABLES[of]))

    def _index(self, of: type, by: str) -> dict[Key, list[tuple[int, Any]]]:
        if (of, by) not in self._indexes:
            index: defaultdict[Key, list[tuple[int, Any]]] = defaultdict(list)
            for number, record in enumerate(getattr(self._document, TABLES[of])):
                for key in dict.fromkeys(KEYS[of, by](record)):
                    if key is not None:
                        index[key].append((number, record))
            self._indexes[of, by] = index
        return self._indexes[of, by]
