# SPDX-License-Identifier: MIT
"""Each item that IEC 60364-6 and IEC 62446-1 ask of a verification report stands in it.

The items are those of the two standards (IEC 60364-6:2016, 6.4.4; IEC 62446-1:2016, clause 9; read
as the table of items says). What must be found for an item is taken from the demo's site file and
its meter, not from the report.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import pytest

from tests.reports.conftest import by_section, html_text, pdf_text
from wiretrack.files import shipped
from wiretrack.model.words import SYSTEMS
from wiretrack.render.report.asked import SECTIONS, required_items

if TYPE_CHECKING:
    from tests.reports.conftest import Written

SITE: dict[str, Any] = json.loads((shipped("demo_db") / "site.json").read_text("utf-8"))
CODES = [circuit["code"] for circuit in SITE["circuits"]]
USED = {reading["instrument"] for reading in SITE["readings"]}
SERIALS = [one["serial"] for one in SITE["instruments"] if one["code"] in USED]
ITEMS = required_items(set(SYSTEMS))


def by_hand(label: str) -> str:
    """Return the pattern of a label with room to write beside it; both may be folded."""
    return rf"{re.escape(label)}(?:[^.]{{0,50}}?)by hand"


# For each item what must be found in its section: patterns, all of them.
EVIDENCE: dict[str, list[str]] = {
    "extent": [
        rf"{len(CODES)} circuits, {len(SITE['conductors'])} conductors",
        by_hand("Extent, further"),
    ],
    "limitations": [by_hand("Limitations of inspection and testing")],
    "documentation": [r"Diagrams and documents at hand yes no"],
    "occasion": [r"Occasion new work addition or alteration periodic"],
    "supply": [
        r"System (earthing|grounding) TN-C TN-S TN-C-S TT IT",
        by_hand("Nominal voltage, frequency"),
        by_hand("Prospective fault current"),
        by_hand("Fault loop impedance outside"),
        by_hand("Protective device at the origin"),
    ],
    "circuits": [rf"7\.\d+ Circuit {re.escape(code)}," for code in CODES],
    "protective-device": [
        r"CB1 F1 fuse 20 A closed",
        r"MDP Q4 breaker 15 A open",
        by_hand("type, characteristic, breaking capacity"),
    ],
    "results": [re.escape(value) for value in ("29.72 mΩ", "0.21 MΩ", "465.2 V", ">2000")],
    "continuity": [r"M0H-TA7K.{0,4} continuity 29\.72"],
    "insulation": [r"insulation to PE at 500 V"],
    "polarity": [r"voltage to 1BM-BG5C"],
    "other-tests": [
        r"Disconnection of supply: fault loop impedance",
        r"Additional protection: residual current device",
        r"Phase sequence",
        r"Function: switches",
        r"Resistance of the (earth|grounding) electrode",
    ],
    "inspection": [
        r"Fire barriers .{0,60}IEC 60364-6:2016",
        r"Fire barriers .{0,120}6\.4\.2\.3",
        r"yes no n/a",
        by_hand("Inspected by"),
    ],
    "comparison": [r"1 MΩ FAIL", r"\] IEC 60364-6:2016 table 6\.1"],
    "defects": [
        r"QF1-895O .{0,60}insulation to PE at 500 V",
        r"PE is 10 AWG, 8 AWG Cu needed for 80 A",
        by_hand("Further defects and omissions"),
    ],
    "recommendations": [by_hand("Recommendations for repair and improvement")],
    "next": [by_hand("Next periodic verification recommended within")],
    "signatures": [
        r"role name, qualification responsible for date signature",
        *(rf"{role} by hand" for role in ("Designer", "Constructor", "Verifier")),
    ],
    "instruments": [re.escape(serial) for serial in SERIALS],
    "pv-system": [re.escape(SITE["site"]["name"]), by_hand("Address"), by_hand("Customer")],
    "pv-circuits": [
        rf"7\.\d+ Circuit {re.escape(c['code'])}," for c in SITE["circuits"]
        if c["system"] == "dc-pv"
    ],
    "pv-inspection": [
        r"(Earthing|Grounding) and bonding of .{0,60}IEC 62446-1:2016",
        r"IEC 62446-1:2016 5\.2 ",
        r"yes no n/a",
    ],
    "pv-results": [re.escape(r["value"]) for r in SITE["readings"] if r["kind"] == "voltage"],
    "pv-interval": [by_hand("Next periodic verification recommended within")],
    "pv-signature": [r"Verifier by hand"],
    "pv-persons": [r"responsible for"],
    "pv-data": [
        by_hand(label)
        for label in (
            "Rated power, DC and AC", "Modules: maker", "Inverters: maker",
            "Date of installation", "Date of commissioning",
        )
    ],
    "pv-parties": [by_hand("Customer"), by_hand("Designer: name"), by_hand("Installer: name")],
    "pv-array": [r"Modules in series 10 Strings in parallel 1", r"Strings in parallel 3"],
    "pv-wiring": [r"M0H-TA7K L\+ 10 AWG Cu PV wire RD"],
    "pv-protection": [r"CB1 F1 fuse 20 A", r"DS1 Q1 disconnect 60 A"],
    "pv-continuity": [r"PC3-TJGN.{0,4} continuity"],
    "pv-polarity": [r"Open-circuit voltage and polarity read M0H-TA7K 484\.1 V .{0,30}: pass"],
    "pv-combiner": [r"Combiner box: polarity and voltage of each string", r"pass fail n/a"],
    # 10 modules of 49.5 V in series.
    "pv-voc": [r"Open-circuit voltage expected at STC 495 V", r"polarity read M0H-TA7K 484\.1 V"],
    "pv-isc": [by_hand("Short-circuit or operating current read")],
    "pv-irradiance": [by_hand("Irradiance, cell temperature, weather, time")],
    "pv-function": [r"Function: switches, inverter, loss of mains"],
    "pv-insulation": [r"insulation to PE at 1000 V", r"\] IEC 62446-1:2016"],
    "pv-instruments": [re.escape(serial) for serial in SERIALS],
    "pv-faults": [by_hand("Further defects"), by_hand("Recommendations for repair")],
    "pv-limitations": [by_hand("Limitations of inspection and testing")],
}  # fmt: skip


@pytest.fixture(scope="module")
def on_the_page(site_report: Written) -> dict[str, str]:
    return by_section(html_text(site_report.html.read_text("utf-8")))


@pytest.fixture(scope="module")
def on_the_sheets(site_report: Written) -> dict[str, str]:
    return by_section(pdf_text(site_report.pdf))


def test_every_item_has_its_evidence() -> None:
    assert {item.item for item in ITEMS} == set(EVIDENCE)
    assert len(ITEMS) == len(EVIDENCE)
    assert {item.section for item in ITEMS} <= set(SECTIONS)


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.item)
def test_the_item_stands_on_the_html_page(item: Any, on_the_page: dict[str, str]) -> None:
    for pattern in EVIDENCE[item.item]:
        assert re.search(pattern, on_the_page[item.section]), (item.asks, pattern)


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.item)
def test_the_item_stands_in_the_pdf(item: Any, on_the_sheets: dict[str, str]) -> None:
    for pattern in EVIDENCE[item.item]:
        assert re.search(pattern, on_the_sheets[item.section]), (item.asks, pattern)
