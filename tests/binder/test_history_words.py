# SPDX-License-Identifier: MIT
"""Changes in words: a field is called as in files, its value as people read it."""

from __future__ import annotations

import pytest

from wiretrack.model.document import SiteDocument
from wiretrack.model.entities import Circuit, Raceway
from wiretrack.tasks.binder.records import Histories

DOCUMENT = SiteDocument(
    raceways=(Raceway(code="W1", from_enclosure="A", to_enclosure="B", id="r"),),
    circuits=(Circuit(code="K", id="k"),),
)


@pytest.mark.parametrize(
    ("what", "record", "old", "new", "words"),
    [
        ("raceways", "r", {"length_m": 31.7}, {"length_m": 40.0}, "length: 31.7 m → 40 m"),
        ("raceways", "r", {"wet": None}, {"wet": 1}, "wet: unknown → yes"),
        ("raceways", "r", {"bends_deg": 90.0}, {"bends_deg": 180.0}, "bends deg: 90° → 180°"),
        ("circuits", "k", {"motor": 0}, {"motor": None}, "motor: no → unknown"),
        ("circuits", "k", {"max_voltage_v": 230.0}, {"max_voltage_v": 400.0},
         "max voltage: 230 V → 400 V"),
        ("circuits", "k", {"module_voc_v": None}, {"module_voc_v": 41.5},
         "module voc: unknown → 41.5 V"),
        ("circuits", "k", {"nobody_knows": "a"}, {"nobody_knows": "b"}, "nobody knows: a → b"),
    ],
)  # fmt: skip
def test_a_change_names_its_field_and_its_unit(
    what: str, record: str, old: dict[str, object], new: dict[str, object], words: str
) -> None:
    change: dict[str, object] = {
        "what": what, "record": record, "action": "changed", "at": "2026-05-02T10:15:00Z",
        "old": old, "new": new,
    }  # fmt: skip
    document = SiteDocument(
        raceways=DOCUMENT.raceways, circuits=DOCUMENT.circuits, rest={"changes": (change,)}
    )
    owner = ("raceway", "W1") if what == "raceways" else ("circuit", "K")
    assert [row.words for row in Histories(document).of(*owner)] == [words]
