# SPDX-License-Identifier: MIT
"""The verification report of a circuit or of the site: as data, as a page, as a file."""

from __future__ import annotations

from dataclasses import replace
from importlib.metadata import version
from operator import attrgetter
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.electrical.cautions import once
from wiretrack.errors import BadInputError
from wiretrack.exchange.places import check_text
from wiretrack.late import cached_property, dataclass
from wiretrack.model.entities import Circuit, Enclosure, Raceway
from wiretrack.model.parts import Instrument
from wiretrack.progress import steps
from wiretrack.readings import KINDS
from wiretrack.render.report.asked import inspection_points, required_items
from wiretrack.render.report.content import (
    About,
    Content,
    RetiredCircuit,
    State,
    UnderWay,
    UsedInstrument,
    calibration,
)
from wiretrack.render.report.html import PagePart, html_pieces, page_part
from wiretrack.render.report.verification import verification_report
from wiretrack.store.history import state_of
from wiretrack.store.proof import head
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.report.report_facts import ReportFacts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.entities import Conductor
    from wiretrack.render.report.blocks import Printed
    from wiretrack.render.report.content import Outcome, ReportCircuit
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.store.store import Registry

SUFFIXES = (".html", ".pdf")


@dataclass(frozen=True)
class WrittenReport:
    """A report that lies in a file: what it is about, what came of it, and what it rests on.

    `pages` of a PDF, and the characters that its typeface lacks; `record` is the site file that was
    written beside it.
    """

    file: str
    pages: int | None
    lacking: tuple[str, ...]
    about: About
    circuits: int
    outcome: Outcome
    record_sha256: str | None
    record: str | None


def report(registry: Registry, what: str | None = None, *, by: str | None = None) -> Content:
    """Return what the verification report of a circuit, or of the whole site, holds."""
    with registry.unchanging():
        return Reporter(registry, by=by, whole=what is None).content(what)


class Reporter:
    """Makes reports of one state of a registry.

    `whole` reads it once for all of them: they bear its SHA-256 then. Use it within
    ``registry.unchanging()`` where somebody else may write meanwhile.
    """

    def __init__(
        self,
        registry: Registry,
        *,
        by: str | None = None,
        made_at: str | None = None,
        whole: bool = True,
    ) -> None:
        self.facts = ReportFacts(registry, whole=whole)
        self._by, self._made_at = by, made_at or days.now()
        self._program = f"wiretrack {version('wiretrack')}"

    def content(self, what: str | None = None) -> Content:
        """Return what the report of a circuit, or of the whole site, holds."""
        if what is None:
            return self._content(None)
        return self._content(resolve(self.facts.registry, what, ("circuit",)).code)

    def _content(self, code: str | None) -> Content:
        facts = self.facts
        if code is None:
            _ = facts.open_points  # made once for all circuits
        every = facts.site.all(Circuit) if code is None else ()  # a part doesn't read the whole
        in_use = [c.code for c in every if c.retired_at is None]
        circuits = [facts.circuit(one) for one in ([code] if code else steps(in_use, "circuits"))]
        systems = {one.circuit.system for one in circuits}
        raceways, enclosures = _places(facts, circuits)
        findings, markings = _judged(facts, code, circuits)
        return Content(
            about=self._about(code),
            made_at=self._made_at,
            by=self._by,
            program=self._program,
            registry=self._state,
            site=facts.site.facts,
            circuits=circuits,
            raceways=raceways,
            enclosures=enclosures,
            instruments=_instruments(facts, circuits),
            findings=findings,
            markings=markings,
            ringouts=_ringouts(facts, code, circuits),
            ringouts_under_way=_under_way(facts, circuits),
            retired=[
                RetiredCircuit(
                    c.code, c.title, c.retired_at, [str(a.tag) for a in facts.abandoned(c.code)]
                )
                for c in every
                if c.retired_at is not None
            ],
            cautions=_cautions(facts, circuits, facts.abandoned(code)),
            inspection=inspection_points(systems),
            required=required_items(systems),
        )

    def printed(self, what: str | None = None) -> Printed:
        """Return the report as blocks, to be drawn as HTML or PDF."""
        return verification_report(self.content(what))

    def page(self, what: str | None = None, back: Mapping[str, str] | None = None) -> str:
        """Return the report as one HTML page, with links to the pages named in `back`."""
        return "".join(html_pieces(self.printed(what), back))

    def read_through(self) -> None:
        """Read now what the reports of circuits share; `part` doesn't ask the registry then."""
        self.facts.read_through()
        _ = self._state

    def part(self, code: str) -> PagePart:
        """Return the report of the circuit of this code as the last part of a page about it."""
        return page_part(verification_report(self._content(code)))

    def _about(self, code: str | None) -> About:
        if code is None:
            site = self.facts.site.facts
            return About("site", site.code, site.name)
        return About("circuit", code, self.facts.site.one(Circuit, code).title)

    @cached_property
    def _state(self) -> State:
        facts, state = self.facts, state_of(self.facts.registry)
        return State(
            site_id=facts.site.facts.id,
            record_sha256=facts.sha256 if facts.whole else None,
            changes=state.changes,
            last_change=state.last_change,
            head=head(facts.registry),
            readings=state.readings,
            notes=state.notes,
            attachments=state.attachments,
        )


def write_report(
    registry: Registry,
    what: str | None,
    out: Path,
    *,
    paper: str | None = None,
    record: Path | None = None,
    by: str | None = None,
) -> WrittenReport:
    """Write the report to a .html or .pdf file, whole or not at all; return what was written.

    With `record`, the site file whose digest the report bears is written beside it. `BadInputError`
    if the file's name ends in neither, or it can't be written.
    """
    from wiretrack.exchange.write import write_site
    from wiretrack.files import file_in_place, write_file

    by = check_text("The name", by)
    suffix = out.suffix.lower()
    if suffix not in SUFFIXES:
        raise BadInputError(f"'{out}' is neither .html nor .pdf. End its name in one of them.")
    if record is not None and record.suffix.lower() != ".json":
        raise BadInputError(f"'{record}' is no name for a site file. End it in .json.")
    with registry.unchanging():
        reporter = Reporter(registry, by=by, whole=what is None or record is not None)
        found = reporter.content(what)
        if record is not None:
            write_site(reporter.facts.document, record)
    printed = verification_report(found)
    made = None
    if suffix == ".html":
        write_file(out, html_pieces(printed))
    else:
        from wiretrack.render.report.pdf import pdf_bytes

        made = pdf_bytes(printed, paper or ("Letter" if found.site.units == "ft" else "A4"))
        with file_in_place(out) as stream:
            stream.write(made.data)
    return WrittenReport(
        file=str(out),
        pages=made.pages if made else None,
        lacking=made.lacking if made else (),
        about=found.about,
        circuits=len(found.circuits),
        outcome=found.outcome,
        record_sha256=found.registry.record_sha256,
        record=str(record) if record else None,
    )


def _members(circuits: Sequence[ReportCircuit]) -> list[Conductor]:
    return [one.conductor for circuit in circuits for one in circuit.conductors]


def _places(
    facts: ReportFacts, circuits: Sequence[ReportCircuit]
) -> tuple[list[Raceway], list[Enclosure]]:
    ways = [way for circuit in circuits for way in circuit.routes]
    boxes = {code for way in ways for code in way.enclosures}
    boxes |= {end.enclosure for c in _members(circuits) for end in c.ends}
    return (
        facts.site.find(Raceway, "code", [*{code for way in ways for code in way.raceways}]),
        facts.site.find(Enclosure, "code", [*boxes]),
    )


def _instruments(facts: ReportFacts, circuits: Sequence[ReportCircuit]) -> list[UsedInstrument]:
    used: dict[str, list[str | None]] = {}
    for reading in (one.reading for circuit in circuits for one in circuit.readings):
        if reading.instrument:
            used.setdefault(reading.instrument, []).append(reading.at)
    return [
        UsedInstrument(one, calibration(one.calibrated_on, used[one.code]), len(used[one.code]))
        for one in facts.site.find(Instrument, "code", [*used])
    ]


def _judged(
    facts: ReportFacts, code: str | None, circuits: Sequence[ReportCircuit]
) -> tuple[list[Finding], list[Marking]]:
    """Return findings and markings: of one circuit's conductors, raceways and their boxes."""
    if code is None:
        return facts.judged.findings, facts.judged.markings
    raceways = {raceway for c in circuits for way in c.routes for raceway in way.raceways}
    found = facts.site.find(Raceway, "code", [*raceways])
    boxes = {box for r in found for box in (r.from_enclosure, r.to_enclosure)}
    subjects = {code, facts.site.facts.code or "site", *raceways}
    subjects |= {str(conductor.tag) for conductor in _members(circuits)}
    return facts.judged_with(code, boxes).about(subjects, raceways | boxes)


def _ringouts(
    facts: ReportFacts, code: str | None, circuits: Sequence[ReportCircuit]
) -> list[RingoutRecord]:
    """Return the finished ring-outs of these circuits' pulls; of one circuit, its conductors."""
    pulls = dict.fromkeys(c.pull for c in _members(circuits) if c.pull)
    records = [record for pull in pulls if (record := facts.ringout(pull)) is not None]
    if code is None:
        return records
    own = {str(conductor.tag) for conductor in _members(circuits)}
    return [
        replace(record, conclusions=tuple(m for m in record.conclusions if m.near in own))
        for record in records
    ]


def _under_way(facts: ReportFacts, circuits: Sequence[ReportCircuit]) -> list[UnderWay]:
    """Return the ring-outs of these circuits' pulls that were begun and aren't finished."""
    pulls = dict.fromkeys(c.pull for c in _members(circuits) if c.pull)
    return sorted(filter(None, map(facts.ringout_under_way, pulls)), key=attrgetter("at"))


def _cautions(
    facts: ReportFacts, circuits: Sequence[ReportCircuit], abandoned: Sequence[Conductor]
) -> list[str]:
    """Return what to read before any of these circuits is tested again, each line once."""
    groups: dict[str | None, set[str]] = {}
    for circuit in circuits:
        boxes = {end.enclosure for one in circuit.conductors for end in one.conductor.ends}
        found = {box.kind for box in facts.site.find(Enclosure, "code", [*boxes]) if box.kind}
        groups.setdefault(circuit.circuit.system, set()).update(found)
    lines = [ABANDONED_CAUTION] if abandoned else []
    lines += [
        line
        for system, places in groups.items()
        for kind in KINDS
        for line in kind.cautions(system, tuple(sorted(places)))
    ]
    return [*once(lines)]
