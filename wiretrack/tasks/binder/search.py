# SPDX-License-Identifier: MIT
"""What the binder's search finds each record by: all that a person would type of it.

A page opened from a folder may not read other files, but it may run scripts beside it. So the
lines travel as one text within a call; the search takes them apart in the reader's browser.
"""

from __future__ import annotations

import json
from itertools import islice
from typing import TYPE_CHECKING

from wiretrack.days import day
from wiretrack.late import dataclass
from wiretrack.plain import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.model.entities import Conductor, Reading
    from wiretrack.render.binder.render import Addresses
    from wiretrack.tasks.binder.records import SiteRecords


def entries(records: SiteRecords, addresses: Addresses) -> Iterator[Entry]:
    """Yield a line of the search for every record, the places to go to first, the retired last."""
    for what, code, title, more in _rows(records):
        yield Entry(what, str(code), title, more, addresses.page(what, code) or "")


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


LINES_A_PART = 4000
CALL = "wiretrackBinder.add"


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


def parts(entries: Iterable[Entry]) -> Iterator[str]:
    """Yield the scripts that hold the entries, `LINES_A_PART` each; at least one."""
    iterator, first = iter(entries), True
    while (found := list(islice(iterator, LINES_A_PART))) or first:
        lines = "\n".join(entry.line() for entry in found)
        yield f"{CALL}({json.dumps(lines)});\n"  # ASCII, whatever the names are written in
        first = False
