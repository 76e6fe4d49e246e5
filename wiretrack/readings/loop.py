# SPDX-License-Identifier: MIT
"""Loop: out along a conductor and back along another that is joined with it at the far end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.continuity import loop_verdict
from wiretrack.readings.continuity import WireResistance, piece

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.model.entity import PlannedTest, Verdict
    from wiretrack.readings.base import Record


class Loop(WireResistance):
    """Out and back, R1 + R2 against ``PE`` where one protective conductor runs beside."""

    name, order = "loop", 4
    title = "resistance out and back"
    leads_on = "Connect {subject} with {against} at {far}. Leads on both at {near}."

    def judge(
        self, measured: Measured, reading: Reading, subject: Conductor, record: Record
    ) -> Verdict:
        """Return the verdict against the resistance of both conductors."""
        back = record.return_of(subject) if reading.against == "PE" else reading.against
        if back == "raceway":
            back = None
        return loop_verdict(
            measured, piece(subject), piece(record.conductor(back)) if back else None,
            temp_c=reading.temp_c, leads_ohm=reading.leads_ohm,
            meter=record.meter(reading.instrument),
        )  # fmt: skip

    def owed(self, circuit: Circuit) -> list[PlannedTest]:
        """Return none: continuity of each conductor shows the same."""
        return []


KIND = Loop()
