# SPDX-License-Identifier: MIT
"""The verification report of a circuit or of the site: as data, as a page, as a file."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, replace
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.errors import BadInputError
from wiretrack.procedure import RINGOUT
from wiretrack.readings import KINDS
from wiretrack.render.report.asked import inspection_points, required_items, unrecorded_tests
from wiretrack.render.report.calibration import SOURCE, calibration
from wiretrack.render.report.html import html_pieces
from wiretrack.render.report.verification import verification_report
from wiretrack.store.procedures import begun
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import ABANDONED_CAUTION
from wiretrack.tasks.free_text import check_text
from wiretrack.tasks.report.report_facts import SiteFacts

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


def report(registry: Registry, what: str | None = None, *, by: str | None = None) -> Row:
    """Return the verification report of a circuit, or of the whole site, as a document.

    Raises
    ------
    NotFoundError
        If no circuit is called `what`.
    """
    with registry.unchanging():
        return Reporter(registry, by=by).document(what)


def report_page(registry: Registry, what: str | None = None, *, by: str | None = None) -> str:
    """Return the verification report of a circuit, or of the whole site, as one HTML page."""
    with registry.unchanging():
        return Reporter(registry, by=by).page(what)


class Reporter:
    """Makes reports of one state of a registry, which is read once for all of them.

    Use it within ``registry.unchanging()`` where somebody else may write meanwhile.
    """

    def __init__(
        self, registry: Registry, *, by: str | None = None, made_at: str | None = None
    ) -> None:
        self.facts = SiteFacts(registry)
        self._by, self._made_at = by, made_at or days.now()

    def document(self, what: str | None = None) -> Row:
        """Return the report of a circuit, or of the whole site, as a document."""
        facts = self.facts
        code = resolve(facts.registry, what, ("circuit",)).code if what is not None else None
        chosen = [code] if code else _standing(facts)
        if code is None:
            _ = facts.open_points  # made once for all circuits
        circuits = [
            {**facts.circuit(one), "tests_by_hand": unrecorded_tests(facts.circuits[one].system)}
            for one in chosen
        ]
        systems = {circuit["system"] for circuit in circuits}
        found = {
            "about": self._about(code),
            "made_at": self._made_at,
            "by": self._by,
            "program": f"wiretrack {version('wiretrack')}",
            "registry": self._state(),
            "site": {k: v for k, v in asdict(facts.document.site).items() if k != "id"},
            "circuits": circuits,
            **_places(facts, circuits),
            "instruments": _instruments(facts, circuits),
            "findings": _findings(facts, code, circuits),
            "markings": _markings(facts, code, circuits),
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
            site = self.facts.document.site
            return {"kind": "site", "code": site.code, "title": site.name}
        circuit = self.facts.circuits[code]
        return {"kind": "circuit", "code": code, "title": circuit.title}

    def _state(self) -> Row:
        document = self.facts.document
        changes = document.rest["changes"]
        last = changes[-1] if changes else {}
        return {
            "site_id": document.site.id,
            "record_sha256": self.facts.sha256,
            "changes": len(changes),
            "last_change": {key: last.get(key) for key in ("id", "at", "by")},
            "readings": len(document.readings),
        }


def write_report(
    registry: Registry,
    what: str | None,
    out: Path,
    *,
    paper: str | None = None,
    record: Path | None = None,
    by: str | None = None,
) -> Row:
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
        reporter = Reporter(registry, by=by)
        found = reporter.document(what)
        if record is not None:
            write_site(reporter.facts.document, record)
    printed = verification_report(found)
    made = None
    if suffix == ".html":
        write_file(out, html_pieces(printed))
    else:
        made = _write_pdf(printed, out, paper or _paper_of(found))
    return {
        "file": str(out),
        "pages": made.pages if made else None,
        "lacking": list(made.lacking) if made else [],
        "about": found["about"],
        "circuits": len(found["circuits"]),
        "outcome": found["outcome"],
        "record_sha256": found["registry"]["record_sha256"],
        "record": str(record) if record else None,
    }


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


def _standing(facts: SiteFacts) -> list[str]:
    return [code for code, circuit in facts.circuits.items() if circuit.retired_at is None]


def _retired(facts: SiteFacts) -> list[Row]:
    return [
        {
            "code": c.code,
            "title": c.title,
            "retired_at": c.retired_at,
            "abandoned": [str(a.tag) for a in facts.abandoned(c.code)],
        }
        for c in facts.circuits.values()
        if c.retired_at is not None
    ]


def _places(facts: SiteFacts, circuits: Sequence[Row]) -> Row:
    """Return the raceways and enclosures of these circuits, as recorded."""
    codes = {code for c in circuits for route in c["routes"] for code in route["raceways"]}
    boxes = {code for c in circuits for route in c["routes"] for code in route["enclosures"]}
    boxes |= {e["enclosure"] for c in circuits for w in c["conductors"] for e in w["ends"]}
    return {
        "raceways": [asdict(r) for r in facts.document.raceways if r.code in codes],
        "enclosures": [asdict(e) for e in facts.document.enclosures if e.code in boxes],
    }


def _instruments(facts: SiteFacts, circuits: Sequence[Row]) -> list[Row]:
    """Return the instruments used, each with what its calibration is worth here."""
    used: dict[str, list[str | None]] = {}
    for circuit in circuits:
        for reading in circuit["readings"]:
            if reading["instrument"]:
                used.setdefault(reading["instrument"], []).append(reading["at"])
    rows = []
    for instrument in facts.document.instruments:
        if instrument.code in used:
            state = calibration(instrument.calibrated_on, used[instrument.code])
            worth = {"calibration": state.state, "calibration_reason": state.reason}
            count = len(used[instrument.code])
            rows.append({**asdict(instrument), **worth, "source": SOURCE, "readings": count})
    return rows


def _findings(facts: SiteFacts, code: str | None, circuits: Sequence[Row]) -> list[Row]:
    if code is None:
        return facts.findings
    subjects = {code, facts.document.site.code or "site"}
    subjects |= {conductor["tag"] for c in circuits for conductor in c["conductors"]}
    subjects |= {raceway for c in circuits for r in c["routes"] for raceway in r["raceways"]}
    return [row for row in facts.findings if row["subject"] in subjects]


def _markings(facts: SiteFacts, code: str | None, circuits: Sequence[Row]) -> list[Row]:
    if code is None:
        return facts.markings
    on = {raceway for c in circuits for route in c["routes"] for raceway in route["raceways"]}
    for raceway in (facts.raceways[one] for one in tuple(on)):
        on |= {raceway.from_enclosure, raceway.to_enclosure}
    return [row for row in facts.markings if row["on"] in on]


def _ringouts(facts: SiteFacts, code: str | None, circuits: Sequence[Row]) -> list[RingoutRecord]:
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


def _under_way(facts: SiteFacts, circuits: Sequence[Row]) -> list[Row]:
    """Return the ring-outs of these circuits' pulls that were begun and aren't finished."""
    pulls = dict.fromkeys(w["pull"] for c in circuits for w in c["conductors"] if w["pull"])
    stored = (begun(facts.registry, RINGOUT, pull=pull) for pull in pulls)
    under_way = {found[0] for found in stored if found is not None and not found[1]}
    return [
        {key: row[key] for key in ("pull", "near", "far", "at")}
        for row in facts.document.rest[RINGOUT]
        if row["id"] in under_way
    ]


def _cautions(
    facts: SiteFacts, circuits: Sequence[Row], abandoned: Sequence[Conductor]
) -> list[str]:
    """Return what to read before any of these circuits is tested again, each line once."""
    kinds = {e.code: e.kind for e in facts.document.enclosures}
    groups: dict[str | None, set[str]] = {}
    for circuit in circuits:
        boxes = {e["enclosure"] for w in circuit["conductors"] for e in w["ends"]}
        found = {kind for box in boxes if (kind := kinds.get(box))}
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
    standing = [r for c in found["circuits"] for r in c["readings"] if r["counts"]]
    return {
        "readings": _counts(row["verdict"]["outcome"] for row in standing),
        "findings": _counts(row["outcome"] for row in found["findings"]),
        "open": dict(Counter(row["what"] for c in found["circuits"] for row in c["open"])),
    }


def _counts(outcomes: Iterable[str]) -> Row:
    counted = Counter(outcomes)
    return {word: counted[word] for word in ("pass", "fail", "doubt")}
