# SPDX-License-Identifier: MIT
"""A barn with two circuits, drawn through a chain of raceways from A by B and C to D."""

from __future__ import annotations

from typing import Any

from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag, check_character


def tag(body: str) -> str:
    return body + check_character(body)


L1, N, PE, SOCKET = tag("BARN01"), tag("BARN02"), tag("BARN03"), tag("BARN04")
FREE = tag("BARN05")


def _wire(code: str, circuit: str, function: str, terminals: tuple[str, str], **more: Any) -> Any:
    return Conductor(
        tag=Tag(code),
        circuits=(circuit,),
        function=function,
        size="2.5 mm2",
        metal="Cu",
        insulation="H07V-K",
        colour="BN" if function == "L1" else "BU",
        pull="P",
        from_end=End(enclosure="A", terminal=terminals[0]),
        to_end=End(enclosure="D", terminal=terminals[1], mark=code[-2]),
        length_m=40.0,
        **more,
    )


def _read(subject: str, kind: str = "continuity", value: str = "0.30 ohm", **more: Any) -> Reading:
    number = 0.3 if kind == "continuity" else 5e8 if kind == "insulation" else 230.0
    unit = "V" if kind == "voltage" else "ohm"
    return Reading(
        kind=kind, subject=subject, value=value, number=number, unit=unit,
        at="2026-03-01T10:00:00+00:00", leads_ohm=0.01, temp_c=20.0, **more,
    )  # fmt: skip


BARN = SiteDocument(
    site=SiteFacts(code="BARN", name="Barn", units="m", rules="IEC"),
    enclosures=tuple(
        Enclosure(code=code, kind=kind)
        for code, kind in (("A", "panelboard"), ("B", "conduit-body"), ("C", "junction-box"),
                           ("D", "junction-box"), ("X", "junction-box"))
    ),
    devices=(
        Device(enclosure="A", code="Q1", kind="breaker", closed=True, poles=(("Q1:1", "Q1:2"),)),
        Device(enclosure="B", code="S1", kind="disconnect", closed=True, poles=(("S1:1", "S1:2"),)),
        Device(enclosure="B", code="BAR", kind="bus", closed=True, poles=(("BAR:1", "BAR:2"),)),
    ),
    raceways=(
        Raceway(code="W1", from_enclosure="A", to_enclosure="B", length_m=15.0, bends_deg=90.0),
        Raceway(code="W2", from_enclosure="C", to_enclosure="B", length_m=10.0, bends_deg=180.0,
                walls_m=(2.0, 7.0), metal=True),
        Raceway(code="W3", from_enclosure="C", to_enclosure="D", length_m=12.0),
    ),
    circuits=(
        Circuit(code="LIGHT", title="barn lights", system="ac-1ph", max_voltage_v=230.0),
        Circuit(code="SOCKET", title="barn sockets", system="ac-1ph", max_voltage_v=230.0),
    ),
    pulls=(Pull(code="P", path=("W1", "W2", "W3")),),
    conductors=(
        _wire(L1, "LIGHT", "L1", ("Q1:2", "TB1:1"), note="repaired once"),
        _wire(N, "LIGHT", "N", ("N:1", "TB1:2")),
        _wire(PE, "LIGHT", "PE", ("PE:1", "PE:1")),
        _wire(SOCKET, "SOCKET", "L1", ("Q2:2", "TB1:4")),
        Conductor(
            tag=Tag(FREE), circuits=("SOCKET",), function="N", size="2.5 mm2",
            from_end=End(enclosure="A", terminal="N:2"), to_end=End(enclosure="X", state="loose"),
        ),
    ),
    readings=(
        _read(L1), _read(N), _read(PE), _read(SOCKET),
        _read(L1, "insulation", "500 Mohm", against="PE", test_voltage_v=500.0),
        _read(N, "insulation", "500 Mohm", against="PE", test_voltage_v=500.0),
        _read(L1, "insulation", "500 Mohm", against=N, test_voltage_v=500.0),
        _read(L1, "voltage", "230 V", against=N),
    ),
)  # fmt: skip
