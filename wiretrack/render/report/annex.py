# SPDX-License-Identifier: MIT
"""Gear and places of the circuits; then findings, markings, ring-outs, what is asked, origin."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from wiretrack.days import moment
from wiretrack.electrical.quantity_text import own_length, shown
from wiretrack.render.anchor import TOLD, spaced
from wiretrack.render.report.asked import (
    CIRCUITS,
    INSPECTION,
    REQUIRED,
    not_checked,
    number_of,
    numbered,
)
from wiretrack.render.report.blocks import (
    Blank,
    Bullets,
    Cell,
    Code,
    Facts,
    Heading,
    Paragraph,
    Table,
    Text,
    counted,
    figure,
    known,
    limit_of,
    outcome,
)
from wiretrack.render.report.content import SOURCE
from wiretrack.render.report.ringout_blocks import brief_blocks
from wiretrack.sources import cited_unread

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.electrical.findings import Finding
    from wiretrack.render.report.blocks import Block
    from wiretrack.render.report.content import Content

_GRAVITY = ("fail", "doubt", "pass")
_NOWHERE = "–"


_TONES = {"in date": Text("in date", "pass"), "overdue": Text("OVERDUE", "fail")}


def instruments(found: Content) -> list[Block]:
    """Return the instruments with serial number, accuracy and what their calibration is worth."""
    rows: list[tuple[Cell, ...]] = [
        (
            f"{one.code}, {one.name or one.kind or 'kind unknown'}",
            known(one.serial),
            known(one.accuracy),
            known(shown(one.resolution or "")),
            known(shown(one.range or "")),
            known(one.calibrated_on),
            _TONES.get(used.calibration.state, Text("unknown", "doubt")),
            used.calibration.reason,
            str(used.readings),
        )
        for used in found.instruments
        for one in (used.instrument,)
    ]
    head = (
        "instrument", "serial number", "accuracy", "resolution", "range", "calibrated on",
        "calibration", "why", "readings",
    )  # fmt: skip
    blocks: list[Block] = [Table(head, tuple(rows))] if rows else []
    if rows:
        rule = f"Calibration is assumed to hold for a year ({SOURCE}); "
        blocks.append(Paragraph(f"{rule}the maker or the quality rules may say otherwise.", "dim"))
    else:
        blocks.append(Paragraph("No instrument is recorded with any reading."))
    unnamed = sum(r.reading.instrument is None for c in found.circuits for r in c.readings)
    if unnamed:
        words = f"{counted(unnamed, 'reading')} taken with an instrument that isn't recorded."
        blocks.append(Paragraph(words, "doubt"))
    blocks.append(Facts((("Further instruments, with serial numbers", Blank(2)),)))
    return blocks


def places(found: Content) -> list[Block]:
    """Return the raceways and the enclosures that these circuits meet."""
    pipes: list[tuple[Cell, ...]] = [
        (
            one.code,
            f"{one.from_enclosure} → {one.to_enclosure}",
            known(" ".join(filter(None, (one.type, one.trade_size)))),
            figure(one.length_m, "m"),
            known(None if one.bends_deg is None else f"{one.bends_deg:g}°"),
            known(one.metal),
            known(one.marked),
        )
        for one in found.raceways
    ]
    boxes: list[tuple[Cell, ...]] = [
        (one.code, known(one.name), known(one.kind), known(one.where), known(one.marked))
        for one in found.enclosures
    ]
    head = ("raceway", "between", "type, trade size", "length", "bends", "metal", "marked")
    return [
        Table(head, tuple(pipes)) if pipes else Paragraph("No raceway is recorded."),
        Heading("Enclosures", 2),
        Table(("enclosure", "name", "kind", "where", "marked"), tuple(boxes))
        if boxes
        else Paragraph("No enclosure is recorded."),
    ]


def findings(found: Content) -> list[Block]:
    """Return every finding, the grave ones first, each with figure, limit and source."""
    whole = found.about.kind == "circuit"
    ordered = sorted(found.findings, key=lambda row: _GRAVITY.index(row.outcome))
    rows: list[tuple[Cell, ...]] = [
        (
            outcome(row.outcome),
            row.rule,
            row.subject,
            limit_of(row.figure, row.unit),
            limit_of(row.limit, row.unit),
            row.source,
        )
        for row in ordered
        if whole or row.outcome != "pass"
    ]
    if not ordered:
        return [Paragraph("No rule applies: the site's rules or its wiring aren't recorded.")]
    head = ("outcome", "rule", "on", "figure", "limit", "source")
    blocks: list[Block] = [Table(head, tuple(rows))] if rows else []
    return blocks if whole else [*blocks, *_kept(ordered)]


def _kept(ordered: list[Finding]) -> list[Block]:
    """Return how often each rule is kept; the figures stand in the reports of the circuits."""
    counts = Counter((r.rule, r.source) for r in ordered if r.outcome == "pass")
    if not counts:
        return []
    rows = tuple((rule, str(number), source) for (rule, source), number in counts.items())
    return [
        Paragraph("Rules kept; the figures stand in the circuits' own reports:"),
        Table(("rule", "times", "source"), rows),
    ]


def markings(found: Content) -> list[Block]:
    """Return the markings to be there: on what, where along it, in which words, by what rule."""
    groups: defaultdict[tuple[str, ...], list[str]] = defaultdict(list)
    for row in found.markings:
        key = (row.on, row.wording or "wording unknown", f"{row.source}: {row.note}")
        groups[key].append("" if row.at_m is None else own_length(row.at_m))
    if not groups:
        return [Paragraph("None is required here by the rules of this site.")]
    rules = list(dict.fromkeys(key[2] for key in groups))
    rows: list[tuple[Cell, ...]] = [
        (on, _along(at), str(len(at)), wording, f"[{rules.index(rule) + 1}]")
        for (on, wording, rule), at in groups.items()
    ]
    return [
        Paragraph("Whether they are there isn't recorded; look."),
        Table(("on", "along it", "number", "wording", "by"), tuple(rows)),
        *(Paragraph(f"[{number}] {rule}", "dim") for number, rule in enumerate(rules, 1)),
    ]


def _along(places_m: list[str]) -> str:
    along = ", ".join(place for place in places_m if place)
    return along or _NOWHERE


def ringouts(found: Content) -> list[Block]:
    """Return each finished ring-out: who, when, with what, which joins, what followed."""
    blocks: list[Block] = []
    for record in found.ringouts:
        title = f"Pull {record.pull}, {record.near} to {record.far}"
        blocks += [Heading(title, 2), *brief_blocks(record)]
    if not blocks:
        blocks.append(Paragraph("No finished ring-out is recorded for these conductors."))
    for one in found.ringouts_under_way:
        begun = f"begun on {moment(one.at)}, not finished"
        blocks.append(Paragraph(f"Pull {one.pull}, {one.near} to {one.far}: {begun}."))
    return blocks


def required(found: Content) -> list[Block]:
    """Return what the standards ask of such a report, and in which section it stands."""
    rows: list[tuple[Cell, ...]] = [
        (row.asks, row.source, numbered(row.section), _KEPT[row.kept]) for row in found.required
    ]
    return [Table(("asked", "by", "section", "supplied"), tuple(rows))]


_KEPT = {
    "recorded": "from the record",
    "by hand": "by hand",
    "both": "from the record and by hand",
}


def origin(found: Content) -> list[Block]:
    """Return of which record, in which state, this report is, and how to prove it."""
    state, last = found.registry, found.registry.last_change
    changed = f"{moment(last.at)}, by {last.by or 'unknown'}" if last.at else None
    proof = (
        "Who has the record as it was then can prove that this report came from it: written as a "
        "site file it has this SHA-256. Keep that file with the report."
        if state.record_sha256
        else "No record was kept beside this report. The identity of the last change says which "
        "state of the registry it was made from."
    )
    blocks: list[Block] = [
        Facts(
            (
                ("Report made on", moment(found.made_at)),
                ("Made with", found.program),
                ("Identity of the registry", known(state.site_id)),
                ("Changes noted in it", str(state.changes)),
                ("Last change", known(changed)),
                ("Identity of the last change", known(last.id)),
                ("Readings in it", str(state.readings)),
                ("Notes, and files attached", f"{state.notes}, {state.attachments}"),
                ("SHA-256 of its site file", state.record_sha256 or "not worked out"),
                ("Its log ends in", known(spaced(state.head or ""))),
            )
        ),
        Paragraph(proof),
    ]
    if state.head:
        blocks += (Paragraph(TOLD), Code(state.head))
    if found.retired:
        blocks.append(Heading("Retired circuits, left out of this report", 2))
        lines = (
            f"{one.code}, {one.title or 'without a title'}: "
            f"retired on {moment(one.retired_at)}{_left(one.abandoned)}"
            for one in found.retired
        )
        blocks.append(Bullets(tuple(lines)))
    return [*blocks, *_unchecked(found)]


def _unchecked(found: Content) -> list[Block]:
    """Return, once for the whole report, what of its citations was not checked."""
    told = (
        f"The points of sections {_ASKING} are in our own words, and one may be missing. "
        "The clauses cited for them stand in the standards' tables of contents. The standards' "
        "own text was not at hand to check which clause asks for which point."
    )
    numbers = not_checked([*found.inspection, *found.required])
    listed = [f"{standard}: {places}" for standard, places in numbers.items()]
    listed += [f"{key}: every clause" for key in cited_unread(_said(found))]
    return [
        Heading("What of the citations was not checked", 2),
        Paragraph(told),
        Paragraph("These clause numbers were not checked, so they are not cited:"),
        Bullets(tuple(listed)),
    ]


def _said(found: Content) -> Iterator[str]:
    """Yield every source and reason in a report."""
    for circuit in found.circuits:
        for conductor in circuit.conductors:
            yield conductor.expected.source if conductor.expected else ""
        for one in circuit.readings:
            yield from (one.reading.verdict.source, one.reading.verdict.reason)
    if found.instruments:
        yield SOURCE
    for finding in found.findings:
        yield from (finding.source, finding.reason)
    yield from (marking.source for marking in found.markings)
    yield from (item.source for item in found.required)


_ASKING = ", ".join(str(number_of(name)) for name in (INSPECTION, CIRCUITS, REQUIRED))


def _left(tags: Sequence[str]) -> str:
    return f"; left in their raceways, perhaps live: {', '.join(tags)}" if tags else ""
