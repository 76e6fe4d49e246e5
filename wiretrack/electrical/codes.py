# SPDX-License-Identifier: MIT
"""Which code a site is built to, and how its places are cited by edition."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.model.words import NEC_EDITIONS, RULE_SETS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.parts import SiteFacts

# Where each rule stands in the NEC, by the edition from which on it stands there. Read: the code of
# 2017 in full, that of 2020 as California's of 2022 adopts it, the numbers of 2014 and 2023 in
# reprints of single clauses and tables (originals not seen).
PLACES: dict[str, dict[int, str]] = {
    "ampacity": {2014: "table 310.15(B)(16)", 2020: "table 310.16"},
    "ambient": {
        2014: "table 310.15(B)(2)(a)", 2020: "table 310.15(B)(1)", 2023: "table 310.15(B)(1)(1)",
    },
    "adjustment": {2014: "table 310.15(B)(3)(a)", 2020: "table 310.15(C)(1)"},
    "terminals": {2014: "110.14(C)"},
    "neutral": {2014: "310.15(B)(5)", 2020: "310.15(E)"},
    "multiwire": {2014: "210.4"},
    "parallel": {2014: "310.10(H)", 2020: "310.10(G)"},
    "roof": {
        2014: "table 310.15(B)(3)(c)", 2017: "310.15(B)(3)(c)", 2020: "310.15(B)(2)",
    },
    "wireway-fill": {2014: "376.22(A)"},
    "wireway-adjustment": {2014: "376.22(B)"},
    "plastic-wireway": {2014: "378.22"},
    "wet-above-grade": {2014: "300.9"},
    "wet-underground": {2014: "300.5(B)"},
    "wet-types": {2014: "310.10(C)"},
    "pv-inside": {2014: "690.31(G)", 2020: "690.31(D)"},
    "insulation": {2014: "table 310.104(A)", 2020: "table 310.4(A)", 2023: "table 310.4(1)"},
    "stranded": {2014: "310.106(C)", 2020: "310.3(C)"},
    "load": {2014: "210.19(A) and 215.2(A)"},
    "motor-load": {2014: "430.22"},
    "motor-device": {2014: "table 430.52", 2023: "table 430.52(C)(1)"},
    "device-load": {2014: "210.20(A) and 215.3"},
    "pv-load": {2014: "690.8(A) and (B)"},
    "pv-device": {2014: "690.9(B)"},
    "next-size": {2014: "240.4(B)"},
    "above-800": {2014: "240.4(C)"},
    "small": {2014: "240.4(D)"},
    "earthing-table": {2014: "table 250.122"},
    "earthing-upsized": {2014: "250.122(B)"},
    "earthing-solid": {2014: "250.118"},
    "earth-colour": {2014: "250.119"},
    "earth-marked": {2014: "250.119(A)", 2023: "250.119(B)"},
    "neutral-colour": {2014: "200.6"},
    "neutral-marked": {2014: "200.6(B)"},
    "white": {2014: "200.7"},
    "white-cable": {2014: "200.7(C)(1)"},
    "white-below-50": {2014: "200.7(B)"},
    "polarity": {2014: "210.5(C)(2)"},
}  # fmt: skip


@dataclass(frozen=True)
class Code:
    """The rule set of a site, ``NEC`` with its edition or ``IEC``; None is unknown."""

    rules: str | None
    edition: int | None = None

    def __post_init__(self) -> None:
        if self.rules is not None and self.rules not in RULE_SETS:
            raise BadInputError(f"'{self.rules}' is not a rule set. Rule sets: NEC, IEC.")
        if self.rules == "NEC" and self.edition not in (None, *NEC_EDITIONS):
            known = ", ".join(str(edition) for edition in NEC_EDITIONS)
            raise BadInputError(f"The NEC of {self.edition} is not held. Editions: {known}.")

    @property
    def is_nec(self) -> bool:
        """Whether the rules of the NEC apply."""
        return self.rules == "NEC"

    @property
    def is_iec(self) -> bool:
        """Whether the rules of the IEC apply."""
        return self.rules == "IEC"

    def at(self, rule: str) -> str:
        """Return the citation of the NEC for one of the rules in `PLACES`.

        >>> Code("NEC", 2023).at("ambient"), Code("NEC", 2017).at("insulation")
        ('NEC 2023 table 310.15(B)(1)(1)', 'NEC 2017 table 310.104(A)')
        """
        return self.nec(PLACES[rule])

    def nec(self, place: str | Mapping[int, str]) -> str:
        """Return a citation of the NEC; `place` may differ by the edition it came with.

        >>> Code("NEC", 2017).nec({2014: "310.15(B)(16)", 2020: "310.16"})
        'NEC 2017 310.15(B)(16)'
        """
        if isinstance(place, str):
            text = place
        elif self.edition is None:
            text = " or ".join(dict.fromkeys(place.values()))
        else:
            text = place[max(since for since in place if since <= self.edition)]
        return f"NEC {self.edition} {text}" if self.edition else f"NEC {text}"


def code_of(site: SiteFacts) -> Code:
    """Return the code that a site is built to."""
    return Code(site.rules, site.edition if site.rules == "NEC" else None)
