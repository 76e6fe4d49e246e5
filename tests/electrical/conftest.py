# SPDX-License-Identifier: MIT
"""Small makers of records for the electrical tests; every unknown fact stays unknown."""

from __future__ import annotations

from typing import Any

import pytest

from wiretrack.electrical.runs import Run, Wire
from wiretrack.electrical.tables import Code
from wiretrack.model.entities import Circuit, Conductor, Raceway
from wiretrack.model.parts import End, SiteFacts


class Make:
    """Makes conductors with their circuit, and raceways with conductors in them."""

    nec = Code("NEC", 2023)
    iec = Code("IEC")

    @staticmethod
    def wire(size: str = "12 AWG", function: str = "L1", circuit: Circuit | None = None,
             ends: tuple[str, str] = ("A", "B"), **facts: Any) -> Wire:  # fmt: skip
        circuit = circuit or Circuit(code="C1", system="ac-1ph")
        known = {"metal": "Cu", "insulation": "THWN-2", **facts}
        conductor = Conductor(
            circuits=(circuit.code,), function=function, size=size,
            from_end=End(enclosure=ends[0]), to_end=End(enclosure=ends[1]), **known,
        )  # fmt: skip
        return Wire(conductor, circuit)

    @staticmethod
    def run(*wires: Wire, site: SiteFacts | None = None, before: bool | None = None,
            **facts: Any) -> Run:  # fmt: skip
        known = {"type": "RMC", "trade_size": "1", **facts}
        raceway = Raceway(code="W1", from_enclosure="A", to_enclosure="B", **known)
        return Run(raceway, wires, before_disconnect=before, site=site or SiteFacts())


@pytest.fixture
def make() -> type[Make]:
    return Make
