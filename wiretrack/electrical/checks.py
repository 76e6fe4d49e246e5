# SPDX-License-Identifier: MIT
"""Every wiring rule over a whole site, or over the part of it that tells how one thing is judged.

Judged on its part, a thing gets the findings that it gets in the whole site, and the cost follows
what hangs together with it. A test compares both on random sites.
"""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from wiretrack.electrical import rules
from wiretrack.electrical.assemble import is_stop, runs_of, wires_of
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
from wiretrack.electrical.tables import code_of
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import format_tag, looks_like_tag, normalise
from wiretrack.model.words import ARRAYS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.model.entity import R
    from wiretrack.model.site import Site

Codes = set[str]


def part_of(site: Site, what: str | None, *boxes: str) -> SiteDocument:
    """Return what the rules must see of a site to judge `what`, without readings.

    `what` is a tag, or the code of a circuit, pull, raceway or enclosure; everything without
    it. `boxes` are enclosures to be judged too. No more is read of the site than that.
    """
    if what is None:
        return site.load_everything().everything()
    return _Part(site, what, boxes).document()


class _Part:
    """What hangs together with one thing, gathered from what is judged outwards."""

    def __init__(self, site: Site, what: str, more: Iterable[str]) -> None:
        self._site = site
        tag = normalise(what) if looks_like_tag(what) else None
        chosen = [
            *([] if tag is None else site.at(Conductor, "tag", tag)),
            *site.at(Conductor, "circuit", what),
            *site.at(Conductor, "pull", what),
        ]
        if tag is None:
            chosen += self._inside([what])
        boxes = {what, *more}  # where what is landed, and on which poles nothing is, is judged
        named = {what, *(code for c in chosen for code in c.circuits)}
        raceways = self._of(Raceway, "enclosure", boxes) | named
        raceways |= {code for c in chosen for code in c.route.raceways}
        marked = _ends(self._with_pv(raceways))  # which are marked too
        boxes |= marked | named
        raceways |= self._of(Raceway, "enclosure", marked) | marked
        found = [
            *chosen,
            *self._inside(raceways),
            *site.find(Conductor, "enclosure", [*boxes]),
            *site.find(Conductor, "terminal", [p for c in chosen for p in _landed(c)]),
        ]
        served = {code for c in found for code in c.circuits} | named | boxes | raceways
        found += site.find(Conductor, "circuit", [*served])
        self._conductors = site.in_order(_once(found))
        self._raceways = raceways | self._before(raceways)
        self._boxes = boxes

    def document(self) -> SiteDocument:
        """Return the part as a document, in the order of the record."""
        site, conductors = self._site, self._conductors
        pulls = site.find(Pull, "code", [*{c.pull for c in conductors if c.pull}])
        legs = {code for pull in pulls for code in pull.path}
        raceways = site.find(Raceway, "code", [*(legs | self._raceways)])
        boxes = {*self._boxes, *_ends(raceways)}
        boxes |= {end.enclosure for c in conductors for end in c.ends}
        circuits = {code for c in conductors for code in c.circuits} | boxes | legs
        return SiteDocument(
            site=site.facts,
            enclosures=tuple(site.find(Enclosure, "code", [*boxes])),
            devices=tuple(site.find(Device, "enclosure", [*boxes])),
            raceways=tuple(raceways),
            circuits=tuple(site.find(Circuit, "code", [*circuits])),
            pulls=tuple(pulls),
            conductors=tuple(conductors),
        )

    def _of(self, of: type[Raceway], by: str, keys: Collection[str]) -> Codes:
        return {raceway.code for raceway in self._site.find(of, by, [*keys])}

    def _inside(self, raceways: Iterable[str]) -> list[Conductor]:
        """Return the conductors that lie in one of the raceways, retired ones too."""
        pulls = self._site.find(Pull, "raceway", [*raceways])
        return self._site.find(Conductor, "pull", [pull.code for pull in pulls])

    def _with_pv(self, raceways: Iterable[str]) -> list[Raceway]:
        """Return those of the raceways in which conductors of PV circuits lie."""
        found = self._site.find(Raceway, "code", [*raceways])
        inside = self._inside(raceway.code for raceway in found)
        served = [*{code for c in inside for code in c.circuits}]
        pv = {c.code for c in self._site.find(Circuit, "code", served) if c.system == "dc-pv"}
        with_pv = {
            code for c in inside if not pv.isdisjoint(c.circuits) for code in c.route.raceways
        }
        return [raceway for raceway in found if raceway.code in with_pv]

    def _before(self, raceways: Iterable[str]) -> Codes:
        """Return the raceways that tell whether PV runs lie before their disconnect.

        They are looked for from the runs and from the arrays in turns, until one of both leads no
        further; neither passes a disconnect.
        """
        starts = _ends(self._with_pv(raceways))
        if not starts:
            return set()
        arrays = {box.code for kind in ARRAYS for box in self._site.at(Enclosure, "kind", kind)}
        seen, next_ = (starts, arrays), [self._open(starts), self._open(arrays)]
        passed: Codes = set()
        while all(next_):
            side = 0 if len(next_[0]) <= len(next_[1]) else 1
            legs = self._site.find(Raceway, "enclosure", [*next_[side]])
            passed |= {leg.code for leg in legs}
            new = _ends(legs) - seen[side]
            seen[side].update(new)
            next_[side] = self._open(new)
        return passed

    def _open(self, boxes: Codes) -> Codes:
        """Return those of some boxes that end no PV run."""
        self._site.load(Device, "enclosure", [*boxes])
        return {
            box.code
            for box in self._site.find(Enclosure, "code", [*boxes])
            if not is_stop(box, self._site.at(Device, "enclosure", box.code))
        }


def _once(found: Iterable[R]) -> list[R]:
    return list({id(record): record for record in found}.values())


def _landed(conductor: Conductor) -> list[Point]:
    return [Point(end.enclosure, end.terminal) for end in conductor.ends if end.terminal]


def _ends(raceways: Iterable[Raceway]) -> Codes:
    return {box for r in raceways for box in (r.from_enclosure, r.to_enclosure)}


_ANY_CODE = ("raceway-jam", "landing", "length")
for _file in iter_modules(rules.__path__):  # a file that is there registers its rules
    import_module(f"{rules.__name__}.{_file.name}")


def check_document(document: SiteDocument, what: str | None = None) -> list[Finding]:
    """Return what the rules say of a site, one finding for each rule and subject.

    `what` is a tag, or the code of a circuit, pull, raceway or enclosure: only what concerns
    it.
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
