# SPDX-License-Identifier: MIT
"""Every wiring rule over a whole site, or over one part of it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from wiretrack.electrical.assemble import ARRAYS, runs_of, wires_of
from wiretrack.electrical.codes import Code, code_of
from wiretrack.electrical.findings import RULES, Finding, Rule, missing, worst
from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.bends import bends
from wiretrack.electrical.rules.colour import colour
from wiretrack.electrical.rules.earthing import earthing_size
from wiretrack.electrical.rules.fill import raceway_fill, raceway_jam
from wiretrack.electrical.rules.insulation_type import insulation_types
from wiretrack.electrical.rules.landing import landing
from wiretrack.electrical.rules.marking import Marking, marking, site_markings
from wiretrack.electrical.rules.protection import for_load
from wiretrack.electrical.rules.pv_voltage import pv_voltage
from wiretrack.electrical.rules.strands import strands
from wiretrack.electrical.rules.voltage_drop import voltage_drop
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag, looks_like_tag, normalise

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.model.document import SiteDocument

_ANY_CODE = ("raceway-jam", "landing")


def check_document(document: SiteDocument, what: str | None = None) -> list[Finding]:
    """Return what the rules say of a site, one finding for each rule and subject.

    Parameters
    ----------
    document : SiteDocument
        The site's records; its `site` tells which code applies.
    what : str, optional
        A tag, or the code of a circuit, pull, raceway or enclosure: only what concerns it.
    """
    code = code_of(document.site)
    runs, wires = runs_of(document), wires_of(document)
    findings = [
        *_of_runs(runs, code),
        *_of_wires(document, runs, wires, code),
        *_of_circuits(document, wires, code),
        *landing(document, wires),
    ]
    if code.rules is None:
        findings += _no_code(document)
    kept = worst(findings)
    if what is None:
        return sorted(kept, key=lambda finding: RULES.index(finding.rule))
    wanted = related(document, runs, wires, what)
    return sorted(
        (finding for finding in kept if finding.subject in wanted),
        key=lambda finding: RULES.index(finding.rule),
    )


def markings_of(document: SiteDocument, what: str | None = None) -> list[Marking]:
    """Return every marking that a site's PV DC raceways and boxes need, or those of one part."""
    code = code_of(document.site)
    runs = runs_of(document)
    if what is not None:
        wanted = related(document, runs, wires_of(document), what)
        runs = tuple(run for run in runs if run.raceway.code in wanted)
    return site_markings(runs, code)


def related(
    document: SiteDocument, runs: Iterable[Run], wires: Iterable[Wire], what: str
) -> set[str]:
    """Return the subjects that concern one thing: itself, its conductors and their raceways."""
    tag = normalise(what) if looks_like_tag(what) else None
    chosen = [
        wire for wire in wires
        if what in (*wire.conductor.circuits, wire.conductor.pull, wire.name)
        or (tag is not None and wire.conductor.tag == tag)
    ]  # fmt: skip
    subjects = {what, *(format_tag(tag) for _ in [0] if tag)}
    if tag is None and any(raceway.code == what for raceway in document.raceways):
        chosen += [wire for run in runs if run.raceway.code == what for wire in run.wires]
    subjects |= {wire.name for wire in chosen} | {
        code for wire in chosen for code in wire.conductor.circuits
    }
    lone = any(box.code == what for box in document.enclosures)
    subjects |= {
        f"{end.enclosure}/{end.terminal}"
        for wire in (wires if lone else chosen)
        for end in (wire.conductor.from_end, wire.conductor.to_end)
        if end.terminal and (not lone or end.enclosure == what)
    }
    for run in runs:
        touches = what in (run.raceway.from_enclosure, run.raceway.to_enclosure)
        if (lone and touches) or any(wire in chosen for wire in run.wires):
            subjects.add(run.raceway.code)
            if run.has_pv and not lone:  # its boxes are marked as it is
                subjects |= {run.raceway.from_enclosure, run.raceway.to_enclosure}
    return subjects


def _judged(rule: Rule, subject: str, judge: Callable[[], list[Finding]]) -> list[Finding]:
    """Return what a rule finds, or a doubt that names the impossible value it met."""
    try:
        return judge()
    except BadInputError as error:
        source = "a value in the registry"
        return [Finding(rule, subject, "doubt", None, None, "", source, str(error))]


_RUN_RULES: tuple[tuple[Rule, Callable[[Run, Code], list[Finding]]], ...] = (
    ("raceway-fill", raceway_fill),
    ("raceway-jam", raceway_jam),
    ("bends", bends),
    ("insulation-type", insulation_types),
    ("earthing-size", earthing_size),
    ("marking", marking),
)


def _of_runs(runs: Iterable[Run], code: Code) -> list[Finding]:
    return [
        finding
        for run in runs
        for name, rule in _RUN_RULES
        for finding in _judged(name, run.raceway.code, partial(rule, run, code))
    ]


def _of_wires(
    document: SiteDocument, runs: Iterable[Run], wires: Iterable[Wire], code: Code
) -> list[Finding]:
    findings, in_raceway = [], set()
    arrays = {box.code for box in document.enclosures if box.kind in ARRAYS}
    for run in runs:
        for wire in run.wires:
            in_raceway.add(wire.name)
            findings += _judged("ampacity", wire.name, partial(ampacity, wire, run, code))
    for wire in wires:
        ends = {wire.conductor.from_end.enclosure, wire.conductor.to_end.enclosure}
        count = partial(strands, wire, code, wire.name in in_raceway, bool(ends & arrays))
        findings += _judged("strands", wire.name, count)
        findings += _judged("colour", wire.name, partial(colour, wire, code))
        if wire.name not in in_raceway:
            findings += _judged("ampacity", wire.name, partial(ampacity, wire, None, code))
    return findings


def _of_circuits(document: SiteDocument, wires: Iterable[Wire], code: Code) -> list[Finding]:
    findings = []
    listed = list(wires)
    in_service = [circuit for circuit in document.circuits if circuit.retired_at is None]
    for circuit in in_service if code.rules else ():
        own = [wire for wire in listed if circuit.code in wire.conductor.circuits]
        cold = partial(pv_voltage, circuit, document.site, code)
        findings += _judged("insulation-type", circuit.code, cold)
        device = partial(for_load, circuit, own, code)
        findings += _judged("ampacity", circuit.code, device)
        drop = partial(voltage_drop, circuit, own, code)
        findings += _judged("voltage-drop", circuit.code, drop) if own else []
    return findings


def _no_code(document: SiteDocument) -> list[Finding]:
    """Return a doubt for each rule that needs to know which code the site is built to."""
    subject = document.site.code or "site"
    what = ["rule set of the site (NEC with its edition, or IEC)"]
    return [
        missing(rule, subject, what, "NEC or IEC 60364") for rule in RULES if rule not in _ANY_CODE
    ]
