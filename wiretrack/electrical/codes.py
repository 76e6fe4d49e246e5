# SPDX-License-Identifier: MIT
"""Which code a site is built to, and how its places are cited by edition."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.words import NEC_EDITIONS, RULE_SETS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.records import Site


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


def code_of(site: Site) -> Code:
    """Return the code that a site is built to."""
    return Code(site.rules, site.edition if site.rules == "NEC" else None)
