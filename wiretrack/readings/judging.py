# SPDX-License-Identifier: MIT
"""What the readings of a site prove, and which ones are owed: each by its kind, as the record is.

Verdicts are never stored. A corrected length or size corrects every verdict that rests on it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.errors import BadInputError
from wiretrack.manner import words
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.entity import Subject, Verdict
from wiretrack.model.parts import Device
from wiretrack.readings import KINDS, kind_of
from wiretrack.readings.base import LIMITS, Record, is_conductor, latest, refuse_impossible

if TYPE_CHECKING:
    from wiretrack.electrical.trending import Trend
    from wiretrack.model.entities import Reading
    from wiretrack.model.entity import PlannedTest


class Judge(Record):
    """The `Knowledge` of a site, over the record that each kind judges its readings by."""

    def verdict(self, reading: Reading) -> Verdict:
        """Return what a stored reading proves about its subject.

        One of the future proves nothing, nor does one that no rule can judge. One that rests on
        what is undecided is a doubt.
        """
        try:
            found = self.check(reading)
        except BadInputError as error:
            found = Verdict("doubt", None, reading.unit, "", f"it can't be judged: {error}")
        if undecided := self.site.undecided.get(reading.subject):
            reason = f"undecided is the {'; the '.join(undecided)}; {found.reason}"
            found = replace(found, outcome="doubt", reason=reason, missing=("decision",))
        if not days.in_future(reading.at):
            return found
        reason = f"dated {reading.at}, in the future: supersede it by one with the time it was read"
        reason = f"{reason}; {found.reason}"
        return replace(found, outcome="doubt", reason=reason, missing=("time",))

    def check(self, reading: Reading) -> Verdict:
        """Return what a reading that may not be stored yet proves about its subject.

        Raises `BadInputError` if no rule can judge such a reading: it mustn't be stored.
        """
        for name in LIMITS:
            refuse_impossible(name, getattr(reading, name))
        kind = kind_of(reading.kind)
        found = kind.judge(kind.parse(reading.value), reading, self.subject(reading), self)
        return replace(found, reason=words(found.reason))

    def subject(self, reading: Reading) -> Conductor | Device | Circuit:
        """Return what a reading is of."""
        subject = reading.subject
        if not isinstance(subject, Subject):
            return self.conductor(subject)
        if subject.device is not None:
            return self.site.one(Device, subject.device)
        return self.site.one(Circuit, str(subject))

    def at_reference(self, reading: Reading) -> Trend | None:
        """Return what a reading would be at 20 °C, where its kind and what is known allow that."""
        return kind_of(reading.kind).at_reference(reading)

    def is_stale(self, reading: Reading) -> bool:
        """Return whether a reading rests on a landing that was found crossed later.

        Continuity and loop readings rest on which end was touched at the far box, voltages on
        which terminal was at which pole. Insulation readings don't: both conductors were tested.
        """
        if not kind_of(reading.kind).rests_on_landing or isinstance(reading.subject, Subject):
            return False
        tags = [reading.subject]
        if reading.against is not None and is_conductor(reading.against):
            tags.append(reading.against)
        ends = (end for c in self.site.find(Conductor, "tag", tags) for end in c.ends)
        return any(end.crossed_at and days.before(reading.at, end.crossed_at) for end in ends)

    def planned(self, circuit: Circuit) -> tuple[PlannedTest, ...]:
        """Return every reading that a circuit needs, in working order.

        What later kinds rely on comes first: continuity, then insulation, and voltage last, for it
        needs the circuit live.

        Source: IEC 60364-6:2016, 6.4.3: order of the tests; 6.4.3.3: what is read against
        what. IEC 62446-1:2016, clause 6: a PV array's poles are read one after the other
        (method 1).
        """
        return tuple(step for kind in KINDS for step in kind.owed(circuit))

    def owed(self, circuit: Circuit) -> tuple[PlannedTest, ...]:
        """Return the readings that a circuit needs and has none that passes, in working order.

        A reading is owed until one that isn't superseded passes, and again once the landing that
        it rests on was found crossed. A retired circuit owes none.
        """
        planned = self.planned(circuit)
        counted = latest(r for r in circuit.readings if r.superseded_by is None)
        passed = {r.key for r in counted if not r.is_stale and r.verdict.outcome == "pass"}
        return tuple(s for s in planned if not kind_of(s.kind).proves(s, passed))
