# SPDX-License-Identifier: MIT
"""Voltage: whether the right supply is on the right conductors, the polarity by its sign."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.electrical.quantities import parse_measured_voltage
from wiretrack.electrical.quantity_text import format_measured
from wiretrack.electrical.voltage import expected_voltage, polarity_source, voltage_verdict
from wiretrack.model.entity import PlannedTest, Verdict
from wiretrack.model.words import DC_SYSTEMS, EARTHS, LINES
from wiretrack.readings.base import ReadingKind, is_conductor, sections
from wiretrack.sources import IEC_60364_6

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import CircuitFacts
    from wiretrack.electrical.voltage import ExpectedVoltage
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.readings.base import Record


class Voltage(ReadingKind):
    """The red lead on the conductor, the black one on what it is read against."""

    name, order = "voltage", 3
    title = "voltage and polarity, circuit live"
    unit, symbol = "V", "V"
    signed = True
    fields = ("against", "cell_temp")
    precautions = (
        "The circuit is live: use a meter, leads and gloves rated for its voltage and place.",
        "Prove the meter on a known source before and after; keep one hand off metal.",
    )
    caution = "The circuit is live. Keep one hand off metal."
    is_guarded = True
    leads_on = "Circuit on. Red lead on {subject}, black on {against}, at {near}."

    def parse(self, text: str) -> Measured:
        """Return a voltage in V with its sign; over-range is above the display."""
        return parse_measured_voltage(text)

    def judge(
        self, measured: Measured, reading: Reading, subject: Conductor, record: Record
    ) -> Verdict:
        """Return the verdict, which rests on both functions that the leads touched."""
        facts, against = record.facts(*subject.circuits), reading.against
        if is_conductor(against):
            other = record.conductor(against or "")
            if not _one_system(subject, other, record):
                return _of_two_circuits(measured, facts, subject, other)
            common = [code for code in subject.circuits if code in other.circuits]
            if subject.function in EARTHS or common:
                facts = record.facts(*(common or other.circuits))
            against = other.function
        return voltage_verdict(
            measured, facts, subject.function, against,
            cell_c=reading.cell_temp_c, meter=record.meter(reading.instrument),
        )  # fmt: skip

    def owed(self, circuit: Circuit) -> list[PlannedTest]:
        """Return each pole against its partner, each line against its neutral or another line."""
        system, conductors = circuit.system, circuit.in_service
        if system in DC_SYSTEMS:
            minus = [c for c in conductors if c.function in ("L-", "M")]
            pairs = _partners([c for c in conductors if c.function == "L+"], minus)
            source = polarity_source(system)
        elif system is not None and system.startswith("ac-"):
            lines = [c for c in conductors if c.function in LINES]
            neutral = [c for c in conductors if c.function in ("N", "PEN")]
            pairs = _partners(lines, neutral) if neutral else _line_pairs(lines)
            source = IEC_60364_6.cite("6.4.3.6")
        else:
            return []
        return [
            PlannedTest(self.name, a.tag, b.tag, None, source, "polarity, circuit live")
            for a, b in pairs
        ]

    def expected(
        self, step: PlannedTest, facts: CircuitFacts, functions: Mapping[str | None, str]
    ) -> ExpectedVoltage | None:
        """Return the voltage between the two functions of a step."""
        if step.against is None:
            return None
        return expected_voltage(facts, functions[step.subject], functions[step.against])


def _one_system(one: Conductor, other: Conductor, record: Record) -> bool:
    """Return whether two conductors belong to one circuit, or share what is earthed."""
    if {*one.circuits} & {*other.circuits} or {one.function, other.function} & set(EARTHS):
        return True
    mine, theirs = record.facts(*one.circuits), record.facts(*other.circuits)
    alike = (mine.system, mine.supply, mine.max_voltage_v) == (
        theirs.system, theirs.supply, theirs.max_voltage_v
    )  # fmt: skip
    return alike and "N" in (one.function, other.function)


def _of_two_circuits(
    measured: Measured, facts: CircuitFacts, subject: Conductor, other: Conductor
) -> Verdict:
    reason = (
        f"{format_measured(measured)} on {subject.function} of {subject.circuit} against "
        f"{other.function} of {other.circuit}: read it against a conductor of {subject.circuit}"
    )
    source = polarity_source(facts.system)
    return Verdict("doubt", None, "V", source, reason, measured.number, missing=("against",))


def _line_pairs(lines: list[Conductor]) -> list[tuple[Conductor, Conductor]]:
    return [pair for section in sections(lines) for pair in combinations(section, 2)]


def _partners(ones: list[Conductor], others: list[Conductor]) -> list[tuple[Conductor, Conductor]]:
    """Return each of `ones` with a partner: the one at the same place in the list, or the last.

    Both lists are those of the section, where the partners have any in it.
    """
    if not others:
        return []
    pairs = []
    for section in sections(ones):
        near = [other for other in others if other.between == section[0].between]
        partners = near or others
        pairs += [(one, partners[min(i, len(partners) - 1)]) for i, one in enumerate(section)]
    return pairs


KIND = VOLTAGE = Voltage()
