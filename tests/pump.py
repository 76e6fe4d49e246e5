# SPDX-License-Identifier: MIT
"""A small site for tests: a pump at the end of one steel raceway."""

from __future__ import annotations

from typing import Any

from wiretrack.model.tags import check_character


def tag(body: str) -> str:
    return body + check_character(body)


L1, L2, PE = tag("PMP001"), tag("PMP002"), tag("PMP00E")


def conductor(code: str, function: str, colour: str, terminal: str) -> dict[str, Any]:
    return {
        "tag": code,
        "circuit": "PUMP",
        "function": function,
        "size": "4 mm2",
        "metal": "Cu",
        "insulation": "XHHW-2",
        "strands": 7,
        "colour": colour,
        "pull": "P1",
        "from": {"enclosure": "MDB", "terminal": terminal},
        "to": {"enclosure": "PH1"},
        "length": "67 m",
    }


PUMP: dict[str, Any] = {
    "format": "wiretrack-site/1",
    "site": {"code": "X", "name": "Example", "units": "m", "rules": "IEC"},
    "enclosures": [
        {"code": "MDB", "kind": "panelboard", "name": "main board", "where": "barn, east wall"},
        {"code": "PH1", "kind": "junction-box", "name": "pump box", "wet": True},
    ],
    "raceways": [
        {
            "code": "W1",
            "from": "MDB",
            "to": "PH1",
            "type": "RMC",
            "trade_size": "1",
            "length": "64 m",
            "bends_deg": 180,
            "metal": True,
        }
    ],
    "circuits": [
        {"code": "PUMP", "title": "bore pump", "system": "ac-3ph", "max_voltage": "400 V"}
    ],
    "pulls": [{"code": "P1", "path": ["W1"]}],
    "conductors": [
        conductor(L1, "L1", "BN", "Q4:1"),
        conductor(L2, "L2", "BK", "Q4:3"),
        conductor(PE, "PE", "GNYE", "PE"),
    ],
    "instruments": [
        {"code": "M1", "kind": "ohmmeter", "accuracy": "0.5% + 2 digits", "resolution": "0.01 ohm"},
        {"code": "M2", "kind": "insulation-tester", "accuracy": "5% + 3 digits"},
    ],
}
