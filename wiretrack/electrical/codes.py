# SPDX-License-Identifier: MIT
"""Which code a site is built to, and how its places are cited by edition."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.words import NEC_EDITIONS, RULE_SETS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.parts import SiteFacts


@cache
def places_of(rule: str) -> dict[int, str]:
    """Return where a rule stands in the NEC, by the edition from which on it stands there."""
    rows = load_table("nec_places").rows
    return {int(row["since"]): row["section"] for row in rows if row["name"] == rule}


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
        """Return the citation of the NEC for one of the rules in the table of places.

        >>> Code("NEC", 2023).at("ambient"), Code("NEC", 2017).at("insulation")
        ('NEC 2023 table 310.15(B)(1)(1)', 'NEC 2017 table 310.104(A)')
        """
        return self.nec(places_of(rule))

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
