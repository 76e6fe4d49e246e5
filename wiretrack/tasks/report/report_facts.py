# SPDX-License-Identifier: MIT
"""What a verification report needs of the record: of one circuit, or read once for many reports."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from wiretrack.electrical.checks import check_document, markings_of, part_of
from wiretrack.electrical.strings import voc_stc_v
from wiretrack.exchange.write import write_site
from wiretrack.late import cached_property
from wiretrack.model.entities import Circuit, Conductor, Reading, readings_of
from wiretrack.model.entity import Point, subject_text
from wiretrack.model.parts import Device
from wiretrack.model.site import Site
from wiretrack.model.source import TABLES, DocumentSource
from wiretrack.procedure import RINGOUT
from wiretrack.readings.base import latest
from wiretrack.readings.judging import Judge
from wiretrack.readings.trending import trend_of
from wiretrack.render.report.asked import unrecorded_tests
from wiretrack.render.report.content import (
    PullRoute,
    ReportCircuit,
    ReportReading,
    RetiredConductor,
    UnderWay,
)
from wiretrack.store import procedures
from wiretrack.store.dumping import document
from wiretrack.store.history import author_of
from wiretrack.store.source import StoredSource, site_of
from wiretrack.tasks.change.retired import ABANDONED, retirement
from wiretrack.tasks.find.records import ConductorRecord
from wiretrack.tasks.identify.record import ringout_record
from wiretrack.tasks.report.punchlist import open_points_about, punch_list

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.source import SiteDocument
    from wiretrack.readings.trending import ConductorTrend
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.store.store import Registry
    from wiretrack.tasks.report.punchlist import OpenPoint

    Follows = tuple[list[Finding], list[Marking], str]  # the last is the SHA-256

K = TypeVar("K")
T = TypeVar("T")


class Judged:
    """What the wiring rules say of a site or a part of it, and the markings that it needs."""

    def __init__(self, findings: list[Finding], markings: list[Marking]) -> None:
        self.findings, self.markings = findings, markings
        self.findings_of = grouped((row.subject, row) for row in self.findings)
        self.markings_on = grouped((row.on, row) for row in self.markings)
        self._order = {id(row): n for n, row in enumerate((*self.findings, *self.markings))}

    def about(
        self, subjects: Collection[str], places: Collection[str]
    ) -> tuple[list[Finding], list[Marking]]:
        """Return the findings of some subjects and the markings of some places, in their order."""
        findings = (row for one in subjects for row in self.findings_of.get(one, ()))
        markings = (row for one in places for row in self.markings_on.get(one, ()))
        return sorted(findings, key=self._place), sorted(markings, key=self._place)

    def _place(self, row: Finding | Marking) -> int:
        return self._order[id(row)]


def grouped(pairs: Iterable[tuple[K, T]]) -> Mapping[K, list[T]]:
    """Return what comes with each key, in order."""
    found: defaultdict[K, list[T]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return dict(found)


class ReportFacts:
    """What follows from the record; each part is worked out when first asked for.

    `whole` reads the record in one go; else each question reads what it is about.
    """

    def __init__(self, registry: Registry, *, whole: bool) -> None:
        self.registry, self.whole = registry, whole
        self.site = site_of(registry)
        if whole:
            self.site = Site(DocumentSource(self.document), Judge, StoredSource(registry))
            self.site.load_labels([c.tag for c in self.document.conductors])
        for of in TABLES if whole else ():  # so that each entity knows its site
            found: list[Any] = self.site.every(of)
            self.site.load_notes(str(one.id) for one in found if of is not Reading)
        self._ringouts: dict[str, tuple[RingoutRecord | None, UnderWay | None]] = {}
        self._trends: dict[str, ConductorTrend] = {}

    @cached_property
    def document(self) -> SiteDocument:
        """The whole record."""
        return document(self.registry)

    @cached_property
    def sha256(self) -> str:
        """The SHA-256 of the record as a site file, as ``wiretrack dump`` writes it."""
        digest = _Digest()
        write_site(self.document, digest)  # type: ignore[arg-type]
        return digest.hexdigest()

    def abandoned(self, circuit: str | None = None) -> list[Conductor]:
        """Return the conductors left in their raceways, of one circuit or of all."""
        site = self.site
        found = site.all(Conductor) if circuit is None else site.one(Circuit, circuit).conductors
        return [c for c in found if c.retired_because == ABANDONED]

    @cached_property
    def open_points(self) -> dict[str, list[OpenPoint]]:
        """The rows of the punch list by what they are about."""
        found: defaultdict[str, list[OpenPoint]] = defaultdict(list)
        for row in self._open:
            found[row.subject].append(row)
        return dict(found)

    @cached_property
    def _open(self) -> dict[OpenPoint, int]:
        return {row: number for number, row in enumerate(punch_list(self.registry, site=self.site))}

    @cached_property
    def judged(self) -> Judged:
        """What the wiring rules say of the whole site."""
        return Judged(*_rules_say(part_of(self.site, None)))

    def follows(self) -> Follows:
        """Return what follows from the whole record alone, without a word of the registry."""
        return *_rules_say(part_of(self.site, None)), self.sha256

    def know(self, follows: Follows) -> None:
        """Know what follows from the whole record; another process may have worked it out."""
        findings, markings, self.sha256 = follows
        self.judged = Judged(findings, markings)

    def judged_with(self, circuit: str, boxes: Iterable[str]) -> Judged:
        """Return what the rules say of all that must be seen to judge a circuit and boxes."""
        return (
            self.judged if self.whole else Judged(*_rules_say(part_of(self.site, circuit, *boxes)))
        )

    def read_through(self) -> None:
        """Read now what circuits share; nothing of one asks the registry then."""
        _ = self.open_points, self.site.undecided
        circuits: list[Circuit] = self.site.all(Circuit)
        for pull in {c.pull for circuit in circuits for c in shown_of(circuit) if c.pull}:
            self._ringout(pull)

    def ringout(self, pull: str) -> RingoutRecord | None:
        """Return the record of a pull's latest ring-out if that is finished."""
        return self._ringout(pull)[0]

    def ringout_under_way(self, pull: str) -> UnderWay | None:
        """Return a pull's latest ring-out if that isn't finished."""
        return self._ringout(pull)[1]

    def _ringout(self, pull: str) -> tuple[RingoutRecord | None, UnderWay | None]:
        if pull not in self._ringouts:
            self._ringouts[pull] = self._read_ringout(pull)
        return self._ringouts[pull]

    def _read_ringout(self, pull: str) -> tuple[RingoutRecord | None, UnderWay | None]:
        found = procedures.latest(self.registry, RINGOUT, pull=pull)
        if found is None:
            return None, None
        if found.result is None:
            return None, UnderWay(found.pull, found.near, found.far, found.at)
        by = author_of(self.registry, found.id)
        return replace(ringout_record(self.registry, pull), by=by), None

    def circuit(self, code: str) -> ReportCircuit:
        """Return all that the report says of one circuit."""
        circuit = self.site.one(Circuit, code)
        members, shown = circuit.conductors, shown_of(circuit)
        self.site.load_labels([c.tag for c in shown])
        return ReportCircuit(
            circuit=circuit,
            voc_stc_v=voc_stc_v(circuit),
            devices=self._devices_of(shown),
            routes=_routes_of(shown),
            conductors=[_ReportedConductor(c) for c in shown],
            readings=self._readings_of(circuit, shown),
            trends=[self.trend(c) for c in shown],
            retired_conductors=[
                RetiredConductor(str(c.tag), c.function, **vars(gone))
                for c in members
                if (gone := retirement(c))
            ],
            open=self._open_points_of(circuit),
            tests_by_hand=unrecorded_tests(circuit.system),
        )

    def trend(self, conductor: Conductor) -> ConductorTrend:
        """Return the series of a conductor's readings over the years."""
        if conductor.tag not in self._trends:
            self._trends[conductor.tag] = trend_of(conductor, conductor.readings)
        return self._trends[conductor.tag]

    def _open_points_of(self, circuit: Circuit) -> list[OpenPoint]:
        """Return what is open of one circuit; the whole punch list isn't made for it alone."""
        if "open_points" not in self.__dict__:
            return open_points_about(self.registry, "circuit", circuit.code)
        names = dict.fromkeys(subject_text(thing.subject) for thing in circuit.measurable)
        rows = (row for name in names for row in self.open_points.get(name, ()))
        return sorted(rows, key=self._open.__getitem__)

    def _readings_of(self, circuit: Circuit, members: Sequence[Conductor]) -> list[ReportReading]:
        """Return the readings, numbered; each says whether it counts now and what replaced it."""
        things: list[Conductor | Device | Circuit] = [*members, *circuit.devices, circuit]
        taken = ([r for r in readings_of([t]) if r.superseded_by is None] for t in things)
        counting = {r.id for rows in taken for r in latest(rows) if not r.is_stale}
        found: dict[str | None, ReportReading] = {}
        for conductor in members:
            for before in conductor.earlier:
                for one in before.readings:
                    made = found.get(one.id)
                    of = f"{made.history_of}, {conductor.tag}" if made else str(conductor.tag)
                    tag, function = str(before.tag), conductor.function
                    function = made.function if made else function
                    found[one.id] = ReportReading(one, tag, function, history_of=of)
        for thing in things:
            name = subject_text(thing.subject)
            function = thing.function if isinstance(thing, Conductor) else ""
            found |= {one.id: ReportReading(one, name, function) for one in readings_of([thing])}
        numbers = {record: number for number, record in enumerate(found, 1)}
        return [
            replace(
                one, number=numbers[record], counts=record in counting,
                superseded_by=self._replaced(one.reading, numbers),
            )
            for record, one in found.items()
        ]  # fmt: skip

    def _replaced(self, reading: Reading, numbers: Mapping[str | None, int]) -> str | None:
        later = reading.superseded_by
        if later is None:
            return None
        number = numbers.get(later.id)
        return str(number) if number else f"a reading of {subject_text(later.subject)}"

    def _devices_of(self, members: Iterable[Conductor]) -> list[Device]:
        places = dict.fromkeys(
            Point(end.enclosure, end.terminal)
            for conductor in members
            for end in conductor.ends
            if end.terminal
        )
        self.site.load(Device, "terminal", [*places])
        found = dict.fromkeys(
            Point(device.enclosure, device.code)
            for place in places
            for device in self.site.at(Device, "terminal", place)
        )
        return [self.site.one(Device, place) for place in found]


def _rules_say(part: SiteDocument) -> tuple[list[Finding], list[Marking]]:
    return check_document(part), markings_of(part)


def shown_of(circuit: Circuit) -> list[Conductor]:
    """Return the conductors that a circuit's report shows; of a retired one all that there were."""
    return [c for c in circuit.conductors if circuit.retired_at or c.retired_at is None]


class _ReportedConductor(ConductorRecord):
    """A conductor's record without its readings, which the report has once."""

    def as_json(self) -> dict[str, object]:
        return {key: value for key, value in super().as_json().items() if key != "readings"}


def _routes_of(members: Iterable[Conductor]) -> list[PullRoute]:
    ways: dict[tuple[str, ...], PullRoute] = {}
    for conductor in members:
        way = conductor.route
        if way.legs and way.raceways not in ways:
            ways[way.raceways] = PullRoute(conductor.pull, way)
    return list(ways.values())


class _Digest:
    """A stream that keeps nothing but the digest of what is written to it."""

    def __init__(self) -> None:
        self._digest = hashlib.sha256()
        self.hexdigest = self._digest.hexdigest

    def write(self, text: str) -> None:
        self._digest.update(text.encode("utf-8"))

    def flush(self) -> None:
        """Do nothing; a digest has no buffer."""
