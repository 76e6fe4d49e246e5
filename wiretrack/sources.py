# SPDX-License-Identifier: MIT
"""Every publication that a figure in wiretrack comes from, named once.

`read_as` says honestly what was seen: ``original``, ``reprint`` (a copy or a
handbook) or ``memory``: such a one is cited without a clause or table, for none was checked.
Trade rules of thumb have the source `COMMON_PRACTICE`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

ReadAs = Literal["original", "reprint", "memory"]


@dataclass(frozen=True)
class Source:
    """A publication, and whether we saw the original."""

    key: str
    title: str
    read_as: ReadAs

    def cite(self, place: str = "") -> str:
        """Return the citation that a user sees: publication, and place where that was read."""
        return self.key if self.read_as == "memory" else f"{self.key} {place}".strip()


COMMON_PRACTICE = Source("common practice", "a rule of thumb of the trade", "memory")
ISO_7064 = Source("ISO/IEC 7064:2003", "Check character systems", "reprint")
ISO_18004 = Source("ISO/IEC 18004", "QR Code bar code symbology", "reprint")

# Figures of electrical work. The NEC is cited with its edition by `electrical.tables`.
NEC = Source("NEC", "NFPA 70, National Electrical Code", "reprint")
ASTM_B258 = Source("ASTM B258", "Standard diameters of the American wire gauge", "reprint")
IEC_60228 = Source("IEC 60228:2004", "Conductors of insulated cables", "reprint")
IEC_60364_5_52 = Source("IEC 60364-5-52:2009", "Low-voltage wiring systems", "reprint")
IEC_60364_5_54 = Source("IEC 60364-5-54:2011", "Earthing and protective conductors", "reprint")
IEC_60364_6 = Source("IEC 60364-6:2016", "Low-voltage installations: verification", "reprint")
IEC_60364_4_41 = Source("IEC 60364-4-41", "Protection against electric shock", "memory")
IEC_60364_4_43 = Source("IEC 60364-4-43", "Protection against overcurrent", "reprint")
IEC_60269_1 = Source("IEC 60269-1", "Low-voltage fuses: general requirements", "memory")
IEC_60364_7_712 = Source("IEC 60364-7-712", "Photovoltaic power supplies", "memory")
IEC_62446_1 = Source("IEC 62446-1:2016", "Photovoltaic systems: commissioning tests", "reprint")
IEC_61215_2 = Source("IEC 61215-2", "Photovoltaic modules: test procedures", "memory")
IEC_60038 = Source("IEC 60038", "Standard voltages", "reprint")
ANSI_C84_1 = Source("ANSI C84.1-2016", "Voltage ratings of power systems, 60 Hz", "reprint")
IEC_60445 = Source("IEC 60445", "Identification of terminals and conductors", "reprint")
IEC_60757 = Source("IEC 60757", "Code for designation of colours", "reprint")
IEC_61557_2 = Source("IEC 61557-2", "Insulation resistance testers", "reprint")
IEC_61557_4 = Source("IEC 61557-4", "Testers of protective-conductor resistance", "reprint")
NETA_MTS = Source("ANSI/NETA MTS-2019", "Maintenance testing of power equipment", "reprint")
IEEE_43 = Source("IEEE 43-2013", "Testing insulation resistance of machinery", "reprint")
JCGM_100 = Source("JCGM 100:2008", "Guide to the expression of uncertainty", "reprint")
JCGM_106 = Source("JCGM 106:2012", "Measurement uncertainty in conformity assessment", "reprint")
NBS_31 = Source("NBS Circular 31", "Copper wire tables, 3rd edition, 1914", "reprint")
# Fault location: books that show the methods with worked examples.
HAWKINS_3 = Source("Hawkins Electrical Guide vol. 3", "1914, bridge and loop tests", "reprint")
LOOP_TESTS = Source(
    "Mehta and Mehta", "Principles of Power System, chapter 11, examples 11.21 to 11.24", "reprint"
)
SEN_1968 = Source("Sen 1968", "Slope estimates based on Kendall's tau, JASA 63", "reprint")
IGLEWICZ_1993 = Source("Iglewicz and Hoaglin 1993", "How to detect and handle outliers", "reprint")
CEC_MODULES = Source(
    "CEC module data", "California Energy Commission, modules of the single-diode model", "reprint"
)
NUREG_0700 = Source(
    "NUREG-0700 rev. 2", "Human-System Interface Design Review Guidelines", "reprint"
)
ARC_SIMULATION = Source(
    "arc simulation",
    "photographs of bent symbols, simulated and read by two decoders (labels/data/arc_success.csv)",
    "original",
)


def cited_unread(texts: Iterable[str]) -> list[str]:
    """Return the publications that these texts cite without a clause, for none was checked."""
    known = [one for one in globals().values() if isinstance(one, Source)]
    unread = [one.key for one in known if one.read_as == "memory" and one is not COMMON_PRACTICE]
    held = list(texts)
    return [key for key in unread if any(key in text for text in held)]
