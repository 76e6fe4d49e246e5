# SPDX-License-Identifier: MIT
"""The verification report of a circuit or of the site: as data, as a page, as a file."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass, replace
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Circuit, Enclosure, Raceway
from wiretrack.model.parts import Instrument
from wiretrack.procedure import RINGOUT
from wiretrack.readings import KINDS
from wiretrack.render.report.asked import inspection_points, required_items, unrecorded_tests
from wiretrack.render.report.calibration import SOURCE, calibration
from wiretrack.render.report.html import html_pieces
from wiretrack.render.report.verification import verification_report
from wiretrack.store.history import state_of
from wiretrack.store.procedures import latest
from wiretrack.store.proof import head
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.free_text import check_text
from wiretrack.tasks.report.report_facts import ReportFacts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from wiretrack.model.entities import Conductor
    from wiretrack.render.report.blocks import Printed
    from wiretrack.render.report.pdf import Made
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.store.store import Registry

Row = dict[str, Any]
SUFFIXES = (".html", ".pdf")
PAPERS = ("A4", "Letter")


@dataclass(frozen=True)
class WrittenReport:
    """A report that lies in a file: what it is about, what came of it, and what it rests on.

    `pages` of a PDF, and the characters that its typeface lacks; `record` is the site file that was
    written beside it.
    """

    file: str
    pages: int | None
    lacking: tuple[str, ...]
    about: Row
    circuits: int
    outcome: Row
    record_sha256: str | None
    record: str | None


def report(registry: Registry, what: str | None = None, *, by: str | None = None) -> Row:
    """Return the verification report of a circuit, or of the whole site, as a document.

    Raises
    ------
    NotFoundError
        If no circuit is called `what`.
    """
    with registry.unchanging():
        return Reporter(registry, by=by, whole=what is None).document(what)


def report_page(registry: Registry, what: str | None = None, *, by: str | None = None) -> str:
    """Return the verification report of a circuit, or of the whole site, as one HTML page."""
    with registry.unchanging():
        return Reporter(registry, by=by, whole=what is None).page(what)


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

    def document(self, what: str | None = None) -> Row:
        """Return the report of a circuit, or of the whole site, as a document."""
        facts = self.facts
        code = resolve(facts.registry, what, ("circuit",)).code if what is not None else None
        chosen = [code] if code else _standing(facts)
        if code is None:
            _ = facts.open_points  # made once for all circuits
        circuits = [
            {
                **facts.circuit(one),
                "tests_by_hand": unrecorded_tests(facts.site.one(Circuit, one).system),
            }
            for one in chosen
        ]
        systems = {circuit["system"] for circuit in circuits}
        found = {
            "about": self._about(code),
            "made_at": self._made_at,
            "by": self._by,
            "program": f"wiretrack {version('wiretrack')}",
            "registry": self._state(),
            "site": {k: v for k, v in asdict(facts.site.facts).items() if k != "id"},
            "circuits": circuits,
            **_places(facts, circuits),
            "instruments": _instruments(facts, circuits),
            **_judged(facts, code, circuits),
            "ringouts": _ringouts(facts, code, circuits),
            "ringouts_under_way": _under_way(facts, circuits),
            "retired": _retired(facts) if code is None else [],
            "cautions": _cautions(facts, circuits, facts.abandoned(code)),
            "inspection": inspection_points(systems),
            "required": [
                asdict(item) | {"source": item.source} for item in required_items(systems)
            ],
        }
        return {**found, "outcome": _outcome(found)}

    def printed(self, what: str | None = None) -> Printed:
        """Return the report as blocks, to be drawn as HTML or PDF."""
        return verification_report(self.document(what))

    def page(self, what: str | None = None, back: Mapping[str, str] | None = None) -> str:
        """Return the report as one HTML page, with links to the pages named in `back`."""
        return "".join(html_pieces(self.printed(what), back))

    def _about(self, code: str | None) -> Row:
        if code is None:
            site = self.facts.site.facts
            return {"kind": "site", "code": site.code, "title": site.name}
        circuit = self.facts.site.one(Circuit, code)
        return {"kind": "circuit", "code": code, "title": circuit.title}

    def _state(self) -> Row:
        state = state_of(self.facts.registry)
        return {
            "site_id": self.facts.site.facts.id,
            "record_sha256": self.facts.sha256 if self.facts.whole else None,
            "changes": state.changes,
            "last_change": asdict(state.last_change),
            "head": head(self.facts.registry),
            "readings": state.readings,
        }


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

    With `record`, the site file whose digest the report bears is written beside it.

    Raises
    ------
    BadInputError
        If the file's name ends in neither, or it can't be written.
    NotFoundError
        If no circuit is called `what`.
    """
    from wiretrack.exchange.write import write_site
    from wiretrack.files import write_file

    by = check_text("The name", by)
    suffix = out.suffix.lower()
    if suffix not in SUFFIXES:
        raise BadInputError(f"'{out}' is neither .html nor .pdf. End its name in one of them.")
    if record is not None and record.suffix.lower() != ".json":
        raise BadInputError(f"'{record}' is no name for a site file. End it in .json.")
    with registry.unchanging():
        reporter = Reporter(registry, by=by, whole=what is None or record is not None)
        found = reporter.document(what)
        if record is not None:
            write_site(reporter.facts.document, record)
    printed = verification_report(found)
    made = None
    if suffix == ".html":
        write_file(out, html_pieces(printed))
    else:
        made = _write_pdf(printed, out, paper or _paper_of(found))
    return WrittenReport(
        file=str(out),
        pages=made.pages if made else None,
        lacking=made.lacking if made else (),
        about=found["about"],
        circuits=len(found["circuits"]),
        outcome=found["outcome"],
        record_sha256=found["registry"]["record_sha256"],
        record=str(record) if record else None,
    )


def _write_pdf(printed: Printed, out: Path, paper: str) -> Made:
    from wiretrack.files import file_in_place
    from wiretrack.render.report.pdf import pdf_bytes

    made = pdf_bytes(printed, paper)
    with file_in_place(out) as stream:
        stream.write(made.data)
    return made


def _paper_of(found: Row) -> str:
    """Return the paper that is common where the site measures in feet, else A4."""
    return "Letter" if found["site"]["units"] == "ft" else "A4"


def _standing(facts: ReportFacts) -> list[str]:
    return [c.code for c in facts.site.all(Circuit) if c.retired_at is None]


def _retired(facts: ReportFacts) -> list[Row]:
    return [
        {
            "code": c.code,
            "title": c.title,
            "retired_at": c.retired_at,
            "abandoned": [str(a.tag) for a in facts.abandoned(c.code)],
        }
        for c in facts.site.all(Circuit)
        if c.retired_at is not None
    ]


def _places(facts: ReportFacts, circuits: Sequence[Row]) -> Row:
    """Return the raceways and enclosures of these circuits, as recorded."""
    codes = {code for c in circuits for route in c["routes"] for code in route["raceways"]}
    boxes = {code for c in circuits for route in c["routes"] for code in route["enclosures"]}
    boxes |= {e["enclosure"] for c in circuits for w in c["conductors"] for e in w["ends"]}
    return {
        "raceways": [asdict(r) for r in facts.site.find(Raceway, "code", [*codes])],
        "enclosures": [asdict(e) for e in facts.site.find(Enclosure, "code", [*boxes])],
    }


def _instruments(facts: ReportFacts, circuits: Sequence[Row]) -> list[Row]:
    """Return the instruments used, each with what its calibration is worth here."""
    used: dict[str, list[str | None]] = {}
    for circuit in circuits:
        for reading in (one.reading for one in circuit["readings"]):
            if reading.instrument:
                used.setdefault(reading.instrument, []).append(reading.at)
    rows = []
    for instrument in facts.site.find(Instrument, "code", [*used]):
        state = calibration(instrument.calibrated_on, used[instrument.code])
        worth = {"calibration": state.state, "calibration_reason": state.reason}
        count = len(used[instrument.code])
        rows.append({**asdict(instrument), **worth, "source": SOURCE, "readings": count})
    return rows


def _judged(facts: ReportFacts, code: str | None, circuits: Sequence[Row]) -> Row:
    """Return findings and markings: of one circuit's conductors, raceways and their boxes."""
    if code is None:
        return {"findings": facts.findings, "markings": facts.markings}
    raceways = {raceway for c in circuits for r in c["routes"] for raceway in r["raceways"]}
    found = facts.site.find(Raceway, "code", [*raceways])
    boxes = {box for r in found for box in (r.from_enclosure, r.to_enclosure)}
    findings, markings = facts.judged(code, boxes)
    subjects = {code, facts.site.facts.code or "site", *raceways}
    subjects |= {conductor["tag"] for c in circuits for conductor in c["conductors"]}
    return {
        "findings": [row for row in findings if row.subject in subjects],
        "markings": [row for row in markings if row.on in raceways | boxes],
    }


def _ringouts(facts: ReportFacts, code: str | None, circuits: Sequence[Row]) -> list[RingoutRecord]:
    """Return the finished ring-outs of these circuits' pulls; of one circuit, its conductors."""
    pulls = dict.fromkeys(w["pull"] for c in circuits for w in c["conductors"] if w["pull"])
    records = [record for pull in pulls if (record := facts.ringout(pull)) is not None]
    if code is None:
        return records
    own = {conductor["tag"] for c in circuits for conductor in c["conductors"]}
    return [
        replace(record, conclusions=tuple(m for m in record.conclusions if m.near in own))
        for record in records
    ]


def _under_way(facts: ReportFacts, circuits: Sequence[Row]) -> list[Row]:
    """Return the ring-outs of these circuits' pulls that were begun and aren't finished."""
    pulls = dict.fromkeys(w["pull"] for c in circuits for w in c["conductors"] if w["pull"])
    found = (latest(facts.registry, RINGOUT, pull=pull) for pull in pulls)
    under_way = sorted((p for p in found if p and p.result is None), key=lambda p: p.at)
    return [{"pull": p.pull, "near": p.near, "far": p.far, "at": p.at} for p in under_way]


def _cautions(
    facts: ReportFacts, circuits: Sequence[Row], abandoned: Sequence[Conductor]
) -> list[str]:
    """Return what to read before any of these circuits is tested again, each line once."""
    groups: dict[str | None, set[str]] = {}
    for circuit in circuits:
        boxes = {e["enclosure"] for w in circuit["conductors"] for e in w["ends"]}
        found = {box.kind for box in facts.site.find(Enclosure, "code", [*boxes]) if box.kind}
        groups.setdefault(circuit["system"], set()).update(found)
    lines = [ABANDONED_CAUTION] if abandoned else []
    lines += [
        line
        for system, places in groups.items()
        for kind in KINDS
        for line in kind.cautions(system, tuple(sorted(places)))
    ]
    return [*dict.fromkeys(line for line in lines if line != LAST_WORD), LAST_WORD]


def _outcome(found: Row) -> Row:
    """Return how many readings and findings pass, fail and are in doubt, and what is open."""
    standing = [r for c in found["circuits"] for r in c["readings"] if r.counts]
    return {
        "readings": _counts(row.reading.verdict.outcome for row in standing),
        "findings": _counts(row.outcome for row in found["findings"]),
        "open": dict(Counter(row.what for c in found["circuits"] for row in c["open"])),
    }


def _counts(outcomes: Iterable[str]) -> Row:
    counted = Counter(outcomes)
    return {word: counted[word] for word in ("pass", "fail", "doubt")}
