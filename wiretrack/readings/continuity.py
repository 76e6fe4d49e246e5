# SPDX-License-Identifier: MIT
"""Continuity: the resistance of a conductor, or of several that are joined end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from wiretrack.electrical.cautions import DEAD
from wiretrack.electrical.continuity import Piece, continuity_verdict
from wiretrack.electrical.quantities import parse_resistance
from wiretrack.electrical.resistance import REFERENCE_C, unit_resistance
from wiretrack.errors import BadInputError
from wiretrack.model.entity import PlannedTest
from wiretrack.model.words import PROTECTIVE
from wiretrack.readings.base import (
    AtReference,
    ReadingKey,
    ReadingKind,
    TrendRule,
    is_conductor,
)
from wiretrack.sources import IEC_60364_6

if TYPE_CHECKING:
    from collections.abc import Set

    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.model.entity import Verdict
    from wiretrack.readings.base import Record


class WireResistance(ReadingKind):
    """A reading of a wire's own resistance: what continuity and loop readings share."""

    fields = ("leads", "against", "temp")
    precautions = (
        *DEAD,
        "Never test continuity on a live conductor. It can kill you and break the tester.",
        "Disconnect parallel paths first. If not, you measure all of them together.",
    )
    caution = "Never test continuity on a live conductor."
    is_guarded = False
    if_failed = ("joint",)
    # common practice: what readings of one conductor differ by from year to year, meaning nothing
    trend: ClassVar[TrendRule] = TrendRule(spread=0.03, is_log=False)

    def parse(self, text: str) -> Measured:
        """Return a resistance in ohm; over-range is an open path."""
        return parse_resistance(text)

    def at_20(self, reading: Reading, conductor: Conductor) -> AtReference:
        """Return the reading less its leads, at 20 °C where its temperature and metal are known."""
        number = (reading.number or 0.0) - (reading.leads_ohm or 0.0)
        if reading.temp_c is None or conductor.metal is None:
            return AtReference(number, "as read: no temperature or metal", "")
        try:
            units = [
                unit_resistance(conductor.size, temp_c, conductor.metal, conductor.strands)
                for temp_c in (REFERENCE_C, reading.temp_c)
            ]
        except BadInputError as error:
            return AtReference(number, f"as read: {error}", "")
        factor = units[0].ohm_per_km / units[1].ohm_per_km
        return AtReference(number * factor, f"times {factor:.3g} to 20 °C", units[0].source)

    def limit_at_20(self, limit: float, reading: Reading, at_20: float) -> float:
        """Return the limit at 20 °C too."""
        if not reading.number:
            return limit
        less_leads = reading.number - (reading.leads_ohm or 0.0)
        return limit * (at_20 / less_leads if less_leads > 0 else 1.0)


class Continuity(WireResistance):
    """Along one conductor, or to the far end of another that is joined with it."""

    name, order = "continuity", 1
    title = "resistance along a conductor"
    leads_on = "Leads on both ends of {subject}: {near} and {far}."

    def judge(
        self, measured: Measured, reading: Reading, subject: Conductor, record: Record
    ) -> Verdict:
        """Return the verdict against the resistance that the conductors measured should have."""
        path = [piece(subject)]
        if is_conductor(reading.against):
            tags = record.in_series(subject.tag, reading.against or "")
            path = [piece(record.conductor(tag)) for tag in tags] or path
        return continuity_verdict(
            measured, path, temp_c=reading.temp_c, leads_ohm=reading.leads_ohm,
            meter=record.meter(reading.instrument), joints=len(path) - 1,
        )  # fmt: skip

    def owed(self, circuit: Circuit) -> list[PlannedTest]:
        """Return one of each conductor, protective ones first: what follows relies on them."""
        first = [c for c in circuit.in_service if c.function in PROTECTIVE]
        rest = [c for c in circuit.in_service if c.function not in PROTECTIVE]
        source = IEC_60364_6.cite("6.4.3.2")
        return [
            PlannedTest(
                self.name, c.tag, None, None, source,
                "protective conductors first" if c in first else "then the other conductors",
            )
            for c in (*first, *rest)
        ]  # fmt: skip

    def proves(self, step: PlannedTest, logged: Set[ReadingKey]) -> bool:
        """Return whether one was taken, whatever the second lead was on."""
        return any(kind == step.kind and subject == step.subject for kind, subject, _ in logged)


def piece(conductor: Conductor) -> Piece:
    """Return what a conductor adds to the path that was measured."""
    return Piece(
        conductor.size, conductor.metal, conductor.length_m, conductor.strands,
        name=str(conductor.tag),
    )  # fmt: skip


KIND = CONTINUITY = Continuity()
