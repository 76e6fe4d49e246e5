# SPDX-License-Identifier: MIT
"""Every wiring rule over a whole site, or over one part of it."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from wiretrack.electrical import rules
from wiretrack.electrical.assemble import runs_of, wires_of
from wiretrack.electrical.codes import code_of
from wiretrack.electrical.findings import (
    REGISTERED,
    RULES,
    Built,
    Clause,
    Finding,
    Registered,
    worst,
)
from wiretrack.electrical.rules.marking import Marking, site_markings
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag, looks_like_tag, normalise

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.model.document import SiteDocument

_ANY_CODE = ("raceway-jam", "landing", "length")
for _file in iter_modules(rules.__path__):  # a file that is there registers its rules
    import_module(f"{rules.__name__}.{_file.name}")


def check_document(document: SiteDocument, what: str | None = None) -> list[Finding]:
    """Return what the rules say of a site, one finding for each rule and subject.

    Parameters
    ----------
    document : SiteDocument
        The site's records; its `site` tells which code applies.
    what : str, optional
        A tag, or the code of a circuit, pull, raceway or enclosure: only what concerns it.
    """
    built = Built(document, code_of(document.site), runs_of(document), wires_of(document))
    findings = [
        finding
        for one in sorted(REGISTERED, key=lambda one: one.judge.__module__)
        for finding in _findings(one, built)
    ]
    if built.code.rules is None:
        findings += _no_code(document)
    kept = worst(findings)
    if what is not None:
        wanted = related(document, built.runs, built.wires, what)
        kept = [finding for finding in kept if finding.subject in wanted]
    return sorted(kept, key=lambda finding: RULES.index(finding.rule))


def _findings(one: Registered, built: Built) -> Iterable[Finding]:
    """Yield what a rule finds; of an impossible value in the record a doubt that names it."""
    for subject, facts in one.cases(built):
        try:
            yield from one.judge(*facts)
        except BadInputError as error:
            yield Clause(one.rule, subject, "a value in the registry").finds("doubt", str(error))


def _no_code(document: SiteDocument) -> list[Finding]:
    """Return a doubt for each rule that needs to know which code the site is built to."""
    subject = document.site.code or "site"
    return [
        Clause(rule, subject, "NEC or IEC 60364").lacks(
            "rule set of the site (NEC with its edition, or IEC)"
        )
        for rule in RULES
        if rule not in _ANY_CODE
    ]


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
        for end in wire.conductor.ends
        if end.terminal and (not lone or end.enclosure == what)
    }
    for run in runs:
        touches = what in (run.raceway.from_enclosure, run.raceway.to_enclosure)
        if (lone and touches) or any(wire in chosen for wire in run.wires):
            subjects.add(run.raceway.code)
            if run.has_pv and not lone:  # its boxes are marked as it is
                subjects |= {run.raceway.from_enclosure, run.raceway.to_enclosure}
    return subjects
