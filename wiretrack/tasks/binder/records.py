# SPDX-License-Identifier: MIT
"""The whole registry read once, found again by what each page is about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, TypeVar

from wiretrack.tasks.change.history import by_record
from wiretrack.tasks.report.punchlist import in_order

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.entities import Conductor
    from wiretrack.model.parts import Device, Terminal
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.report_facts import ReportFacts


K = TypeVar("K")
T = TypeVar("T")
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
        return _grouped(
            (("circuit", c.circuits[0]) if c.circuits else ("spare", c.from_end.enclosure), c)
            for c in found
        )

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


def _grouped(pairs: Iterable[tuple[K, T]]) -> Mapping[K, list[T]]:
    found: defaultdict[K, list[T]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return dict(found)
