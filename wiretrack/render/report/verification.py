# SPDX-License-Identifier: MIT
"""The verification report as blocks: what stands first in it, and its sections one after the other.

A section with nothing to say says so itself, for a missing one would look forgotten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import moment
from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.electrical.quantity_text import shown
from wiretrack.readings import told
from wiretrack.render.report import annex, asked, tested
from wiretrack.render.report.asked import INSTRUMENTS, numbered
from wiretrack.render.report.blocks import (
    BY_HAND,
    UNKNOWN,
    Blank,
    Bullets,
    Cell,
    Facts,
    Heading,
    Paragraph,
    Printed,
    Table,
    Text,
    Ticks,
    counted,
    known,
    limit_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from wiretrack.render.report.blocks import Block
    from wiretrack.render.report.content import Content

_LINE = Blank()
# What still is to be done to an end, as the punch list calls it, and over its column here.
_ENDS = {
    "end not identified": "not identified",
    "end not landed": "not landed",
    "end not labelled": "not labelled",
    "label no longer true": "label untrue",
}


def opening(found: Content) -> list[Block]:
    """Return what stands before the first section."""
    blocks: list[Block] = []
    when = found.circuits[0].circuit.retired_at if found.about.kind == "circuit" else None
    if when:
        words = f"RETIRED on {moment(when)}: this circuit is no longer part of the work."
        blocks.append(Paragraph(words, "large"))
    words = (
        "This report repeats what is recorded, and judges it by published limits. It declares "
        f"nothing: that is for those who sign it. {LAST_WORD} Ruled lines marked '{BY_HAND}' and "
        "empty squares are for a person: the record doesn't hold what belongs there."
    )
    return [*blocks, Paragraph(words, "caution")]


def summary(found: Content) -> list[Block]:
    """Return who, what and how far, and what came of it."""
    site = found.site
    rules = f"{site.rules} {site.edition or ''}".strip() if site.rules else None
    systems = sorted(system for system in found.systems if system)
    facts: list[tuple[str, Cell]] = [
        ("Site", known(site.name)),
        ("Code of the site", known(site.code)),
        ("Address", _LINE),
        ("Customer", _LINE),
        ("Report made on", moment(found.made_at)),
        ("Report made by", known(found.by)),
        ("Built to the rules of", known(rules)),
        ("Extent, from the record", _extent(found)),
        ("Systems", known(", ".join(systems))),
        ("Extent, further", _LINE),
        ("Limitations of inspection and testing, with reasons", Blank(2)),
        ("Occasion", Ticks(("new work", "addition or alteration", "periodic"))),
        ("Diagrams and documents at hand", Ticks(("yes", "no"))),
    ]
    return [Facts(tuple(facts)), *_outcome(found), *_supply(systems), *_pv(systems)]


def _extent(found: Content) -> str:
    circuits = found.circuits
    conductors = sum(len(c.conductors) for c in circuits)
    readings = sum(len(c.readings) for c in circuits)
    return (
        f"{counted(len(circuits), 'circuit')}, {counted(conductors, 'conductor')}, "
        f"{counted(len(found.enclosures), 'enclosure')}, "
        f"{counted(len(found.raceways), 'raceway')}, {counted(readings, 'reading')}"
    )


def _outcome(found: Content) -> list[Block]:
    counts = found.outcome
    judged = (("Readings that count now", counts.readings), ("Wiring rules", counts.findings))
    rows = [
        (name, *(str(counted[word]) for word in ("pass", "doubt", "fail")))
        for name, counted in judged
    ]
    still = "; ".join(f"{what}: {number}" for what, number in counts.open.items())
    return [
        Heading("What the record shows", 2),
        Table(("judged", "pass", "in doubt", "fail"), tuple(rows)),
        Paragraph(f"Still open: {still or 'nothing that the record knows of'}."),
    ]


def _supply(systems: list[str]) -> list[Block]:
    if systems and not any(system.startswith("ac-") for system in systems):
        return []
    rows: list[tuple[str, Cell]] = [
        ("System earthing", Ticks(("TN-C", "TN-S", "TN-C-S", "TT", "IT"))),
        ("Nominal voltage, frequency", _LINE),
        ("Prospective fault current at the origin", _LINE),
        ("Fault loop impedance outside the installation", _LINE),
        ("Protective device at the origin: type, rating", _LINE),
    ]
    return [Heading("Supply", 2), Facts(tuple(rows))]


def _pv(systems: list[str]) -> list[Block]:
    if "dc-pv" not in systems:
        return []
    rows: list[tuple[str, Cell]] = [
        ("Rated power, DC and AC", _LINE),
        ("Modules: maker, model, number", _LINE),
        ("Inverters: maker, model, serial numbers", _LINE),
        ("Date of installation", _LINE),
        ("Date of commissioning", _LINE),
        ("Designer: name, address", _LINE),
        ("Installer: name, address", _LINE),
    ]
    return [Heading("Photovoltaic system", 2), Facts(tuple(rows))]


def deviations(found: Content) -> list[Block]:
    """Return all that isn't as it should be: failed, doubtful, owed, open, noted."""
    return [
        *_by_circuit(found),
        *_readings(found, "fail", "Failed readings"),
        *_rules(found, "fail", "Broken wiring rules"),
        *_readings(found, "doubt", "Readings in doubt"),
        *_rules(found, "doubt", "Wiring rules in doubt"),
        *_notes(found),
        _calibrations(found),
        Heading("Found by the inspector", 2),
        Facts(
            (
                ("Further defects and omissions", Blank(3)),
                ("Recommendations for repair and improvement", Blank(3)),
            )
        ),
    ]


def _by_circuit(found: Content) -> list[Block]:
    head = ("circuit", "failed", "in doubt", "tests due", *_ENDS.values())
    rows = []
    for circuit in found.circuits:
        open_rows = [row.what for row in circuit.open]
        kinds = ("reading failed", "reading in doubt", "test due", *_ENDS)
        rows.append((circuit.circuit.code, *(str(open_rows.count(kind)) for kind in kinds)))
    if not rows:
        return [Paragraph("No circuit is recorded.")]
    return [Heading("Open points by circuit", 2), Table(head, tuple(rows))]


def _readings(found: Content, word: str, title: str) -> list[Block]:
    rows = [
        (
            circuit.circuit.code,
            one.of,
            moment(one.reading.at),
            f"{told(one.reading)}: {shown(one.reading.value, one.reading.unit)}",
            limit_of(one.reading.verdict.limit, one.reading.verdict.unit),
            one.reading.verdict.reason,
        )
        for circuit in found.circuits
        for one in circuit.readings
        if one.counts and one.reading.verdict.outcome == word
    ]
    head = ("circuit", "read of", "taken", "reading", "limit", "why")
    return _titled(title, head, rows)


def _rules(found: Content, word: str, title: str) -> list[Block]:
    rows = [
        (row.rule, row.subject, row.reason, row.source)
        for row in found.findings
        if row.outcome == word
    ]
    return _titled(title, ("rule", "on", "why", "source"), rows)


def _calibrations(found: Content) -> Block:
    """Return which instruments' calibration doesn't cover the readings taken with them."""
    rows = [one for one in found.instruments if one.calibration.state != "in date"]
    named = ", ".join(f"{one.instrument.code} {one.calibration.state}" for one in rows)
    where = f" (section {numbered(INSTRUMENTS)})" if rows else ""
    return Paragraph(f"Calibrations overdue or unknown: {named or 'none in the record'}{where}.")


def _notes(found: Content) -> list[Block]:
    rows = [
        (circuit.circuit.code, str(one.conductor.tag), one.conductor.note)
        for circuit in found.circuits
        for one in circuit.conductors
        if one.conductor.note
    ]
    return _titled("Notes on conductors", ("circuit", "conductor", "note"), rows)


def _titled(title: str, head: tuple[str, ...], rows: Sequence[tuple[Cell, ...]]) -> list[Block]:
    if not rows:
        return [Paragraph(f"{title}: none in the record.")]
    return [Heading(title, 2), Table(head, tuple(rows))]


def inspection(found: Content) -> list[Block]:
    """Return the points to look at, to be ticked by hand."""
    rows: list[tuple[Cell, ...]] = [
        (row.asks, row.place, Ticks(("yes", "no", "n/a")), Blank()) for row in found.inspection
    ]
    before = "Before anything is opened or tested again"
    intro = "The record holds no inspection by eye. Tick each point, and say below what is wrong."
    return [
        Paragraph(before, "strong"),
        Bullets(tuple(found.cautions), "caution"),
        Paragraph(intro),
        Table(("point", "asked by", "in order", "remark"), tuple(rows)),
        Facts((("Inspected on", _LINE), ("Inspected by", _LINE))),
    ]


def conclusion(_: Content) -> list[Block]:
    """Return what the signers have to say, and where they sign."""
    roles = ("Designer", "Constructor", "Verifier")
    people: tuple[tuple[Cell, ...], ...] = tuple(
        (Text(role, "strong"), Blank(2), Blank(2), Blank(2), Blank(2)) for role in roles
    )
    return [
        Facts(
            (
                ("The installation", Ticks(("keeps the standards", "departs from them as listed"))),
                ("Defects made good", Ticks(("yes", "no", "none found"))),
                ("Next periodic verification recommended within", _LINE),
                ("Reasons for that interval: kind, use, upkeep, surroundings", Blank(2)),
            )
        ),
        Table(("role", "name, qualification", "responsible for", "date", "signature"), people),
    ]


_FILLED: dict[str, Callable[[Content], Sequence[Block]]] = {
    asked.SUMMARY: summary,
    asked.DEVIATIONS: deviations,
    asked.INSPECTION: inspection,
    asked.CONCLUSION: conclusion,
    asked.INSTRUMENTS: annex.instruments,
    asked.PLACES: annex.places,
    asked.CIRCUITS: tested.circuits,
    asked.FINDINGS: annex.findings,
    asked.MARKINGS: annex.markings,
    asked.RINGOUTS: annex.ringouts,
    asked.REQUIRED: annex.required,
    asked.ORIGIN: annex.origin,
}
_NEW_PAGE = (asked.INSPECTION, asked.CONCLUSION, asked.CIRCUITS)


def verification_report(found: Content) -> Printed:
    """Return a report as blocks, ready to be drawn."""
    name = _name(found)
    digest, last = found.registry.record_sha256, found.registry.last_change.id
    record = f"record SHA-256 {digest[:16]}…" if digest else f"change {last or UNKNOWN}"
    foot = f"{name}, {moment(found.made_at)}, {record}"
    return Printed(
        title=f"Verification report: {name}",
        foot=foot,
        blocks=tuple(_blocks(found)),
        made_at=found.made_at,
    )


def _name(found: Content) -> str:
    about, site = found.about, found.site
    where = site.name or site.code or "site without a name"
    if about.kind == "site":
        return where
    title = f", {about.title}" if about.title else ""
    return f"circuit {about.code}{title}, {where}"


def _blocks(found: Content) -> Iterable[Block]:
    yield from opening(found)
    for name in asked.SECTIONS:
        yield Heading(asked.numbered(name), new_page=name in _NEW_PAGE)
        yield from _FILLED[name](found)
