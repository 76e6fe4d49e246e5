# SPDX-License-Identifier: MIT
"""What a stored reading proves: it is judged by its kind, with the record as it is now.

Verdicts are never stored. A corrected length or size corrects every verdict that rests on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.supplies import circuit_facts
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor, Device, Instrument
from wiretrack.model.entity import Subject
from wiretrack.model.path import in_series
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.model.wiring import Wiring
from wiretrack.readings import judge, verdict_of
from wiretrack.readings.base import OTHER_THINGS
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.supplies import CircuitFacts
    from wiretrack.electrical.verdicts import Verdict
    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def written(against: str | None) -> str | None:
    """Return what a reading was taken against, a tag as people write it."""
    return against if against in (None, *OTHER_THINGS) else format_tag(against)


class Judge:
    """Judges the readings of one registry, looking each record up once."""

    def __init__(self, registry: Registry) -> None:
        self.site = site_of(registry)
        self._meters: dict[str, Meter] = {}
        self._facts: dict[tuple[str, ...], CircuitFacts] = {}

    def verdict(
        self, reading: Reading, conductor: Conductor | Device | Circuit | None = None
    ) -> Verdict:
        """Return what a stored reading proves about its conductor."""
        return verdict_of(reading, conductor or self.subject(reading), self)

    def check(
        self, reading: Reading, conductor: Conductor | Device | Circuit | None = None
    ) -> Verdict:
        """Return what a reading that isn't stored yet would prove about its conductor.

        Raises
        ------
        BadInputError
            If no rule can judge such a reading: it mustn't be stored.
        """
        return judge(reading, conductor or self.subject(reading), self)

    def subject(self, reading: Reading) -> Conductor | Device | Circuit:
        """Return what a reading is of."""
        subject = reading.subject
        if not isinstance(subject, Subject):
            return self.conductor(subject)
        if subject.device is not None:
            return self.site.one(Device, subject.device)
        return self.site.one(Circuit, str(subject))

    def in_series(self, one: str, other: str) -> list[str]:
        """Return the tags from `one` to `other`, each joined with the next; empty if not."""
        wiring = Wiring(self.site)
        first, last = (self.site.one(Conductor, tag) for tag in (one, other))
        found = in_series(wiring, wiring.link(first), wiring.link(last))
        return [parse_tag(link.name) for link in found]

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

    def facts(self, *codes: str) -> CircuitFacts:
        """Return what the record says of the voltages of a circuit, or of several together."""
        if codes not in self._facts:
            members = self.site.find(Conductor, "circuit", codes)
            functions = [member.function for member in members if member.retired_at is None]
            self._facts[codes] = circuit_facts(self.circuit(*codes), functions, self.site.facts)
        return self._facts[codes]

    def conductor(self, tag: str) -> Conductor:
        """Return the conductor of that tag."""
        return self.site.one(Conductor, tag)

    def circuit(self, *codes: str) -> Circuit:
        """Return the circuit of that code, or what several have in common."""
        return together([self.site.one(Circuit, code) for code in codes])

    def meter(self, code: str | None) -> Meter:
        """Return what is known of the instrument of that code."""
        if code is None:
            return UNKNOWN_METER
        if code not in self._meters:
            found = self.site.one(Instrument, code)
            self._meters[code] = meter_of(found.accuracy, found.resolution, found.code, found.range)
        return self._meters[code]
