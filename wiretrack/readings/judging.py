# SPDX-License-Identifier: MIT
"""What the readings of a site prove, and which ones are owed: each by its kind, as the record is.

Verdicts are never stored. A corrected length or size corrects every verdict that rests on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import before
from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.strings import voc_stc_v
from wiretrack.electrical.supplies import circuit_facts
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor, Pull, Raceway
from wiretrack.model.entity import Subject
from wiretrack.model.parts import Device, Instrument
from wiretrack.model.path import in_series
from wiretrack.model.tags import parse_tag
from wiretrack.model.wiring import Wiring
from wiretrack.readings import judge, kind_of, plan_tests, verdict_of
from wiretrack.readings.base import PlanConductor, is_conductor, latest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.supplies import CircuitFacts
    from wiretrack.model.entities import Reading
    from wiretrack.model.knowledge import PlannedTest, Verdict
    from wiretrack.model.site import Site


class Judge:
    """The `Knowledge` of a site, and the record that each kind judges its readings by."""

    def __init__(self, site: Site) -> None:
        self.site, self._wiring = site, Wiring(site)
        self._circuits: dict[tuple[str, ...], Circuit] = {}
        self._facts: dict[tuple[str, ...], CircuitFacts] = {}
        self._meters: dict[str | None, Meter] = {None: UNKNOWN_METER}

    def verdict(self, reading: Reading) -> Verdict:
        """Return what a stored reading proves about its subject."""
        return verdict_of(reading, self.subject(reading), self)

    def check(self, reading: Reading) -> Verdict:
        """Return what a reading that isn't stored yet would prove about its subject.

        Raises
        ------
        BadInputError
            If no rule can judge such a reading: it mustn't be stored.
        """
        return judge(reading, self.subject(reading), self)

    def subject(self, reading: Reading) -> Conductor | Device | Circuit:
        """Return what a reading is of."""
        subject = reading.subject
        if not isinstance(subject, Subject):
            return self.conductor(subject)
        if subject.device is not None:
            return self.site.one(Device, subject.device)
        return self.site.one(Circuit, str(subject))

    def is_stale(self, reading: Reading) -> bool:
        """Return whether a reading rests on a landing that was found crossed later.

        Continuity and loop readings rest on which end was touched at the far box, voltages on
        which terminal was at which pole. Insulation readings don't: both conductors were tested.
        """
        if not kind_of(reading.kind).rests_on_landing:
            return False
        tags = [reading.subject]
        if reading.against is not None and is_conductor(reading.against):
            tags.append(reading.against)
        ends = (end for c in self.site.find(Conductor, "tag", tags) for end in c.ends)
        return any(end.crossed_at and before(reading.at, end.crossed_at) for end in ends)

    def planned(self, circuit: Circuit) -> tuple[PlannedTest, ...]:
        """Return every reading that a circuit needs, in working order."""
        members = circuit.in_service
        return plan_tests(
            circuit.system,
            [
                PlanConductor(c.tag, c.function, frozenset(e.enclosure for e in c.ends))
                for c in members
            ],
            max_voltage_v=circuit.max_voltage_v,
            voc_stc_v=voc_stc_v(circuit),
            metal_raceway=self._all_metal(members),
        )

    def owed(self, circuit: Circuit) -> tuple[PlannedTest, ...]:
        """Return the readings that a circuit needs and has none that passes, in working order.

        A reading is owed until one that isn't superseded passes, and again once the landing that
        it rests on was found crossed. A retired circuit owes none.
        """
        counted = latest(r for r in circuit.readings if r.superseded_by is None)
        passed = {r.key for r in counted if not r.is_stale and r.verdict.outcome == "pass"}
        planned = self.planned(circuit)
        return tuple(s for s in planned if not kind_of(s.kind).proves(s, passed))

    def circuit(self, *codes: str) -> Circuit:
        """Return the circuit of that code, or what several have in common."""
        if codes not in self._circuits:
            self._circuits[codes] = together([self.site.one(Circuit, code) for code in codes])
        return self._circuits[codes]

    def facts(self, *codes: str) -> CircuitFacts:
        """Return what the record says of the voltages of a circuit, or of several together."""
        if codes not in self._facts:
            members = self.site.find(Conductor, "circuit", codes)
            functions = [c.function for c in members if c.retired_at is None]
            self._facts[codes] = circuit_facts(self.circuit(*codes), functions, self.site.facts)
        return self._facts[codes]

    def conductor(self, tag: str) -> Conductor:
        """Return the conductor of that tag."""
        return self.site.one(Conductor, tag)

    def meter(self, code: str | None) -> Meter:
        """Return what is known of the instrument of that code."""
        if code not in self._meters:
            found = self.site.one(Instrument, code or "")
            self._meters[code] = meter_of(found.accuracy, found.resolution, found.code, found.range)
        return self._meters[code]

    def in_series(self, one: str, other: str) -> list[str]:
        """Return the tags from `one` to `other`, each joined with the next; empty if not."""
        first, last = (self._wiring.link(self.conductor(tag)) for tag in (one, other))
        return [parse_tag(link.name) for link in in_series(self._wiring, first, last)]

    def return_of(self, conductor: Conductor) -> str | None:
        """Return the tag of the one protective conductor beside it; `None` if none is sure."""
        boxes = {end.enclosure for end in conductor.ends}
        found = [
            c.tag
            for c in self.site.find(Conductor, "circuit", conductor.circuits)
            if c.function in ("PE", "PEN")
            and c.retired_at is None
            and {end.enclosure for end in c.ends} == boxes
            and c.tag != conductor.tag
        ]
        return found[0] if len(found) == 1 else None

    def _all_metal(self, members: Sequence[Conductor]) -> bool | None:
        """Return whether every raceway of the conductors' pulls is metal; `None` if not known."""
        pulls = self.site.find(Pull, "code", [c.pull for c in members if c.pull])
        codes = [code for pull in pulls for code in pull.path]
        metal = [raceway.metal for raceway in self.site.find(Raceway, "code", codes)]
        return None if None in metal or not metal else all(metal)
