# SPDX-License-Identifier: MIT
"""The whole registry read once, found again by what each page is about, and by the search.

A page opened from a folder may not read other files, but it may run scripts beside it. So the
lines of the search travel as one text within a call; it takes them apart in the reader's browser.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from itertools import islice
from operator import attrgetter
from typing import TYPE_CHECKING

from wiretrack.days import day
from wiretrack.late import cached_property, dataclass
from wiretrack.plain import one_line
from wiretrack.tasks.change.history import by_record
from wiretrack.tasks.report.punchlist import in_order
from wiretrack.tasks.report.report_facts import grouped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.model.entities import Conductor, Reading
    from wiretrack.model.parts import Device, Terminal
    from wiretrack.render.binder.render import Addresses
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.report_facts import ReportFacts

Row = Mapping[str, object]  # of a log, as a dump has it


class SiteRecords:
    """All records of a registry, grouped; what a page shows of one is worked out when asked."""

    def __init__(self, facts: ReportFacts) -> None:
        self.facts = facts
        self.registry, self.document = facts.registry, facts.document
        self.circuits = {circuit.code: circuit for circuit in self.document.circuits}
        self.enclosures = {e.code: e for e in self.document.enclosures}

    @cached_property
    def histories(self) -> Mapping[str, list[Touched]]:
        """What became of each record, by its id; what is in a box comes under the box."""
        found = by_record(self.registry)
        parts: Iterable[Device | Terminal] = (*self.document.devices, *self.document.terminals)
        for part in parts:
            box = self.enclosures[part.enclosure].id or ""
            found.setdefault(box, []).extend(found.pop(part.id or "", ()))
        return {record: sorted(rows, key=attrgetter("at")) for record, rows in found.items()}

    @property
    def history(self) -> list[Touched]:
        """What became of the site itself, and of its files, in order."""
        rows = (row for rows in self.histories.values() for row in rows)
        return sorted((r for r in rows if r.what in ("site", "file")), key=attrgetter("at"))

    @property
    def changes(self) -> int:
        """How many changes are told of."""
        rows = (row for rows in self.histories.values() for row in rows)
        return len({(row.change, row.at) for row in rows})

    @cached_property
    def own(self) -> Mapping[tuple[str, str], list[Conductor]]:
        """The conductors whose records stand with each circuit, or box of spares, retired last."""
        found = sorted(self.document.conductors, key=lambda c: bool(c.retired_at))
        return grouped(
            (("circuit", c.circuits[0]) if c.circuits else ("spare", c.from_end.enclosure), c)
            for c in found
        )

    @cached_property
    def in_raceway(self) -> Mapping[str, list[Conductor]]:
        """The conductors that run through each raceway."""
        return grouped((code, c) for c in self.document.conductors for code in c.route.raceways)

    @cached_property
    def open_points(self) -> list[OpenPoint]:
        """The punch list, in the order of the work."""
        return in_order(row for rows in self.facts.open_points.values() for row in rows)

    @cached_property
    def prints_of(self) -> Mapping[str, list[Row]]:
        """The print log of each conductor."""
        return grouped((str(row["tag"]), row) for row in self._rest("label_prints"))

    @cached_property
    def ringouts_of(self) -> Mapping[str, list[Row]]:
        """The ring-outs of each pull, the latest last."""
        return grouped((str(row["pull"]), row) for row in self._rest("ringouts"))

    @cached_property
    def searches_of(self) -> Mapping[str, list[Row]]:
        """The guided searches for a fault of each circuit."""
        return grouped((str(row["circuit"]), row) for row in self._rest("fault_searches"))

    def read_through(self) -> None:
        """Read and work out now what pages share; no circuit's page asks the registry then."""
        _ = self.histories, self.own, self.prints_of, self.searches_of

    def _rest(self, table: str) -> Iterable[Row]:
        return self.document.rest.get(table, ())


SEARCHED = ("circuits", "enclosures", "raceways", "pulls", "instruments", "conductors")
LINES_A_PART = 4000
CALL = "wiretrackBinder.add"


def search_parts(records: SiteRecords) -> int:
    """Return how many scripts hold the lines of the search."""
    lines = sum(len(getattr(records.document, table)) for table in SEARCHED)
    return max(1, -(-lines // LINES_A_PART))


def search_scripts(records: SiteRecords, addresses: Addresses) -> Iterator[str]:
    """Yield the scripts that hold a line for every record, the places to go to first."""
    found = (
        Entry(what, str(code), title, more, addresses.page(what, code) or "")
        for what, code, title, more in _rows(records)
    )
    for _ in range(search_parts(records)):
        lines = "\n".join(entry.line() for entry in islice(found, LINES_A_PART))
        yield f"{CALL}({json.dumps(lines)});\n"  # ASCII, whatever the names are written in


def _rows(records: SiteRecords) -> Iterator[tuple[str, str, str, str]]:
    document = records.document
    for c in document.circuits:
        yield "circuit", c.code, _joined([c.title, c.retired_at and "retired"]), c.system or ""
    for e in document.enclosures:
        yield "enclosure", e.code, _joined([e.name, e.where]), e.kind or ""
    for r in document.raceways:
        title = _joined([f"{r.from_enclosure} → {r.to_enclosure}", r.type, r.trade_size])
        boxes = (records.enclosures[box].name for box in (r.from_enclosure, r.to_enclosure))
        yield "raceway", r.code, title, _joined(boxes, " ")
    for p in document.pulls:
        yield "pull", p.code, " → ".join(p.path), ""
    for i in document.instruments:
        yield "instrument", i.code, _joined([i.name, i.kind]), i.serial or ""
    for conductor in sorted(document.conductors, key=lambda c: bool(c.retired_at)):
        yield "conductor", conductor.tag, *_conductor(records, conductor)


def _conductor(records: SiteRecords, c: Conductor) -> tuple[str, str]:
    way = f"{c.from_end.place} → {c.to_end.place}"
    title = _joined([f"{c.circuit} {c.function}", way, c.retired_at and "retired"])
    boxes = (records.enclosures[end.enclosure].name for end in (c.from_end, c.to_end))
    more = [
        c.tag, *(records.circuits[code].title for code in c.circuits), *boxes, c.size,
        c.colour, c.cable, c.core, c.metal, c.insulation, c.pull, c.from_end.mark, c.to_end.mark,
        c.note,
        *_reading_words(c.readings),
    ]  # fmt: skip
    return title, _joined(more, " ")


def _reading_words(readings: Iterable[Reading]) -> list[str]:
    """Return each word of a conductor's readings once: kinds, days, instruments, people, notes."""
    words = (
        word
        for r in readings
        for word in (r.kind, day(r.at, ""), r.instrument, r.by, r.note, r.value)
    )
    return list(dict.fromkeys(filter(None, words)))


def _joined(words: Iterable[str | None], between: str = ", ") -> str:
    return between.join(filter(None, words))


@dataclass(frozen=True)
class Entry:
    """One record as the search knows it: `title` is shown, `more` is only searched."""

    what: str
    code: str
    title: str
    more: str
    page: str

    def line(self) -> str:
        """Return the entry as one line, its fields parted by tabs."""
        fields = (self.what, self.code, self.title, self.more, self.page)
        return "\t".join(one_line(field) for field in fields)
