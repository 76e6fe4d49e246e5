# SPDX-License-Identifier: MIT
"""Insulation: the resistance of a conductor to earth or to another one, at a test voltage."""

from __future__ import annotations

from itertools import combinations
from math import log
from typing import TYPE_CHECKING

from wiretrack.electrical.cautions import DEAD
from wiretrack.electrical.insulation import (
    basis_source,
    insulation_requirements,
    insulation_verdict,
    meant_otherwise,
)
from wiretrack.electrical.quantities import parse_resistance
from wiretrack.electrical.strings import voc_stc_v
from wiretrack.electrical.trending import MINUTE_S, corrected_neta
from wiretrack.errors import OutOfRangeError
from wiretrack.model.entity import PlannedTest
from wiretrack.model.words import PROTECTIVE
from wiretrack.readings.base import AtReference, ReadingKind, TrendRule, sections

if TYPE_CHECKING:
    from collections.abc import Set

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.trending import Trend
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.model.entity import Verdict
    from wiretrack.readings.base import ReadingKey, Record

_MOST_PAIRS_OF = 4  # more live conductors than this are each tested against earth only


class Insulation(ReadingKind):
    """Against ``PE``, the metal raceway or another conductor; over-range is a bound."""

    name, order = "insulation", 2
    title = "insulation resistance at a test voltage"
    prefix = "M"
    fields = ("test_voltage", "after", "against", "temp")
    precautions = (
        *DEAD,
        "The test voltage reaches everything connected to this conductor. Warn people at both "
        "ends.",
        "Disconnect electronics, surge protection and meters.",
        "The test voltage destroys them and the reading is wrong.",
        "The cable stays charged. Wait until the tester has discharged it, then prove it dead.",
    )
    caution = "The test voltage reaches everything connected. Warn people at both ends."
    is_guarded = True
    leads_on = "Red lead on {subject}, black on {against}, at {near}. Far end free."
    if_failed = ("symptom", "insulation-alarm")
    rests_on_landing = False  # both conductors were tested, whichever is which
    # common practice: what readings of one conductor differ by from year to year, meaning nothing
    trend = TrendRule(spread=log(1.5), is_log=True)

    def parse(self, text: str) -> Measured:
        """Return a resistance in ohm."""
        return parse_resistance(text)

    def meant_otherwise(self, measured: Measured) -> tuple[str, str] | None:
        """Return megohms and ohms, where the value says ohms and megohms were likely meant."""
        return meant_otherwise(measured)

    def judge(
        self, measured: Measured, reading: Reading, subject: Conductor, record: Record
    ) -> Verdict:
        """Return the verdict against the limit of the circuit's system and voltage."""
        circuit = record.circuit(*subject.circuits)
        return insulation_verdict(
            measured,
            reading.test_voltage_v,
            record.meter(reading.instrument),
            system=circuit.system,
            max_voltage_v=circuit.max_voltage_v,
            voc_stc_v=voc_stc_v(circuit),
        )

    def owed(self, circuit: Circuit) -> list[PlannedTest]:
        """Return those to earth, where the circuit has one, and those between conductors.

        Earth is the protective conductor, else a metal raceway.
        """
        system = circuit.system
        if system == "earthing":
            return []
        choices, _ = insulation_requirements(
            system, circuit.max_voltage_v, voc_stc_v=voc_stc_v(circuit)
        )
        required = choices[0] if choices else None
        members = circuit.in_service
        live = [c for c in members if c.function not in PROTECTIVE]
        has_earth = any(c.function in ("PE", "PEN") for c in members)
        earth = "PE" if has_earth else "raceway" if circuit.in_metal else None
        volts = required.test_voltage_v if required else None
        source = required.source if required else basis_source(system)
        why = "" if required else "; test voltage unknown until the circuit's voltage is"
        steps = []
        if earth is not None:
            order = sorted(live, key=lambda c: c.function != "L-") if system == "dc-pv" else live
            where = "negative, then positive, to earth (method 1)"
            where = where if system == "dc-pv" else "to earth"
            steps = [
                PlannedTest(self.name, c.tag, earth, volts, source, where + why) for c in order
            ]
        steps += [
            PlannedTest(self.name, a.tag, b.tag, volts, source, "between conductors" + why)
            for section in sections(live)
            if earth is None or (system != "dc-pv" and len(section) <= _MOST_PAIRS_OF)
            for a, b in combinations(section, 2)
        ]
        return steps

    def proves(self, step: PlannedTest, logged: Set[ReadingKey]) -> bool:
        """Return whether it was taken, of two conductors from either."""
        other_way = (step.kind, step.against or "", step.subject)
        return super().proves(step, logged) or other_way in logged

    def compares(self, reading: Reading) -> bool:
        """Return whether the test voltage was on for a minute, or it isn't said for how long."""
        return reading.after_s in (None, MINUTE_S)

    def at_reference(self, reading: Reading) -> Trend | None:
        """Return the reading at 20 °C by NETA's table.

        `None` for bounds, an unknown temperature, and one the table doesn't reach.
        """
        if reading.number is None or reading.temp_c is None or reading.over_range:
            return None
        try:
            return corrected_neta(reading.number, reading.temp_c)
        except OutOfRangeError:
            return None

    def at_20(self, reading: Reading, conductor: Conductor) -> AtReference:
        """Return the reading at 20 °C, else as read, a bound as one."""
        found = self.at_reference(reading)
        if found is None:
            why = "over-range: at least" if reading.over_range else "as read: no temperature"
            return AtReference(reading.number or 0.0, why, "")
        return AtReference(found.ohms, found.note, found.source)


KIND = Insulation()
