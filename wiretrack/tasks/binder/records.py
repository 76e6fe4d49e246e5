# SPDX-License-Identifier: MIT
"""The whole registry read once, found again by what each page is about; its history in words."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING, Any

from wiretrack.model.source import fact_of
from wiretrack.model.tags import format_tag
from wiretrack.readings.judging import Judge
from wiretrack.tasks.report.punchlist import in_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.document import SiteDocument
    from wiretrack.model.entities import Conductor
    from wiretrack.model.fields import Kind
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.report_facts import ReportFacts


Row = dict[str, Any]


class SiteRecords:
    """All records of a registry, grouped; what a page shows of one is worked out when asked."""

    def __init__(self, facts: ReportFacts) -> None:
        self.facts = facts
        self.registry, self.document = facts.registry, facts.document
        self.judge = Judge(facts.site)
        self.circuits = {circuit.code: circuit for circuit in self.document.circuits}
        self.histories = Histories(self.document)
        self.enclosures = {e.code: e for e in self.document.enclosures}

    @cached_property
    def in_raceway(self) -> Mapping[str, list[Conductor]]:
        """The conductors that run through each raceway."""
        return _grouped((code, c) for c in self.document.conductors for code in c.route.raceways)

    @cached_property
    def open_points(self) -> list[OpenPoint]:
        """The punch list, in the order of the work."""
        return in_order(row for rows in self.facts.open_points.values() for row in rows)

    @cached_property
    def findings_of(self) -> Mapping[str, list[Finding]]:
        """What the wiring rules say of each subject."""
        return _grouped((row.subject, row) for row in self.facts.findings)

    @cached_property
    def markings_on(self) -> Mapping[str, list[Marking]]:
        """The markings of each raceway and box."""
        return _grouped((row.on, row) for row in self.facts.markings)

    @cached_property
    def prints_of(self) -> Mapping[str, list[Row]]:
        """The print log of each conductor."""
        return _grouped((str(row["tag"]), row) for row in self._rest("label_prints"))

    @cached_property
    def ringouts_of(self) -> Mapping[str, list[Row]]:
        """The ring-outs of each pull, the latest last."""
        return _grouped((str(row["pull"]), row) for row in self._rest("ringouts"))

    @cached_property
    def searches_of(self) -> Mapping[str, list[Row]]:
        """The guided searches for a fault of each circuit."""
        return _grouped((str(row["circuit"]), row) for row in self._rest("fault_searches"))

    def _rest(self, table: str) -> Iterable[Row]:
        return self.document.rest.get(table, ())


def _grouped(pairs: Iterable[tuple[Any, Any]]) -> Mapping[str, list[Any]]:
    found: defaultdict[str, list[Any]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return dict(found)


Owner = tuple[str, str]
# Which column of a part names the record that it is a part of.
_PARENTS = ("conductor_id", "device_id", "enclosure_id", "pull_id", "circuit_id")
_PARTS = {
    "conductor_circuits": ("circuit", "circuit_id"),
    "ends": ("end", "side"),
    "terminals": ("terminal", "code"),
    "devices": ("device", "code"),
    "poles": ("pole", "position"),
    "pull_raceways": ("raceway", "raceway_id"),
    "far_ends": ("end mark", "mark"),
    "fault_searches": ("search", "symptom"),
    "ringouts": ("ring-out", "at"),
}
_STORED = ("result", "settings")  # of ring-outs and searches: long, and told elsewhere
_MOST_WORDS = 200


@dataclass(frozen=True)
class Change:
    """One change of a record: when it was noted, by whom, and what it was in words."""

    at: str
    by: str | None
    words: str


class Histories:
    """What changed in each record, in order."""

    def __init__(self, document: SiteDocument) -> None:
        self._codes: dict[str, Owner] = dict(_named(document))
        self._waiting = _without_a_line(document)
        self._rows: defaultdict[Owner, list[Change]] = defaultdict(list)
        self.count = 0
        lines = document.rest.get("changes", ())
        self._taken_back = set(_taken_back(lines))
        for change in lines:
            self._add(change)

    def of(self, what: str, code: str) -> list[Change]:
        """Return the changes of a record: ``site``, or a conductor by its tag, or a code."""
        return self._rows.get((what, code), [])

    def _add(self, change: Mapping[str, Any]) -> None:
        self.count += 1
        old, new = change.get("old") or {}, change.get("new") or {}
        if change["what"] == "file":
            self._add_load(change, new or old)
            return
        row = Change(change["at"], change.get("by"), self._words(change, old, new))
        rows = self._rows[self._owner(str(change["record"]), str(change["what"]), {**old, **new})]
        if change["action"] == "added" and rows and _same_moment(rows[-1], row):
            return
        rows.append(row)

    def _add_load(self, change: Mapping[str, Any], new: Row) -> None:
        """Note a load at the site, and at each record that came with it."""
        at, by = change["at"], change.get("by")
        added = new.get("added") or {}
        stands = change["action"] == "loaded" and change["id"] not in self._taken_back
        for table in _TABLES if stands else ():
            for record in islice(self._waiting[table], added.get(table, 0)):
                row = Change(at, by, "recorded")
                rows = self._rows[self._whole(self._codes[record])]
                if not (rows and _same_moment(rows[-1], row)):
                    rows.append(row)
        told = ", ".join(f"{n} {table.replace('_', ' ')}" for table, n in added.items())
        words = f"{new.get('name') or 'file'} {change['action']}: {told}"
        self._rows["site", ""].append(Change(at, by, words))

    def _owner(self, record: str, what: str, values: Mapping[str, Any]) -> Owner:
        """Return the record under which a change is looked up; parts come under their whole."""
        if what == "site":
            return ("site", "")
        if what not in _PARTS and record in self._codes:
            return self._codes[record]
        for column in _PARENTS:
            parent = self._codes.get(str(values.get(column)))
            if parent is not None:
                return self._whole(parent)
        return self._whole(self._codes.get(record, ("site", "")))

    def _whole(self, owner: Owner) -> Owner:
        kind, code = owner
        return ("enclosure", code.partition("\0")[0]) if kind in ("terminal", "device") else owner

    def _words(self, change: Mapping[str, Any], old: Row, new: Row) -> str:
        part = self._part(str(change["what"]), {**old, **new})
        if change["action"] == "added":
            return f"{part}recorded"
        if change["action"] == "removed":
            return f"{part}removed"
        changed = [
            self._changed(str(change["what"]), name, old.get(name), value)
            for name, value in new.items()
            if value != old.get(name)
        ]
        return part + ("; ".join(changed) or "written anew")

    def _changed(self, table: str, column: str, old: object, new: object) -> str:
        fact = fact_of(table, column)
        name = fact.words if fact else column.removesuffix("_id").replace("_", " ")
        kind = fact.kind if fact else None
        return f"{name}: {self._value(column, old, kind)} → {self._value(column, new, kind)}"

    def _part(self, what: str, values: Row) -> str:
        if what not in _PARTS:
            return ""
        word, column = _PARTS[what]
        return f"{word} {self._value(column, values.get(column))}: "

    def _value(self, column: str, value: object, kind: Kind | None = None) -> str:
        if value is None:
            return "unknown"
        if column in _STORED:
            return "stored"
        if column.endswith("_id") and str(value) in self._codes:
            what, code = self._codes[str(value)]
            return format_tag(code) if what == "conductor" else code.rpartition("\0")[2]
        if column.endswith("tag"):
            return format_tag(str(value))
        text = kind.told(value) if kind else str(value)
        return text if len(text) <= _MOST_WORDS else text[:_MOST_WORDS] + " …"


_TABLES = (
    "enclosures", "circuits", "instruments", "terminals", "devices", "raceways", "pulls",
    "conductors",
)  # fmt: skip


def _taken_back(lines: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Yield the lines of the loads that were taken back."""
    last = dict[str, str]()
    for line in lines:
        if line["action"] == "loaded":
            last[line["record"]] = line["id"]
        elif line["what"] == "file" and line["record"] in last:
            yield last[line["record"]]


def _without_a_line(document: SiteDocument) -> dict[str, Iterator[str]]:
    """Return the ids of the records, by table, that came with a load: no line says so of them."""
    lines = {row["record"] for row in document.rest.get("changes", ()) if row["action"] == "added"}
    return {
        table: (record.id for record in getattr(document, table) if record.id not in lines)
        for table in _TABLES
    }


def _named(document: SiteDocument) -> Iterator[tuple[str, Owner]]:
    """Yield the id of each record, and the name under which it is known."""
    for conductor in document.conductors:
        yield conductor.id or "", ("conductor", conductor.tag)
    for what in ("circuit", "enclosure", "raceway", "pull", "instrument"):
        for record in getattr(document, f"{what}s"):
            yield record.id or "", (what, record.code)
    for what in ("terminal", "device"):
        for record in getattr(document, f"{what}s"):
            yield record.id or "", (what, f"{record.enclosure}\0{record.code}")


def _same_moment(one: Change, other: Change) -> bool:
    """Return whether two things were recorded in one go."""
    return (
        one.words.endswith("recorded")
        and str(one.at)[:19] == str(other.at)[:19]
        and one.by == other.by
    )
