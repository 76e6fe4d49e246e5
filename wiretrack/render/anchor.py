# SPDX-License-Identifier: MIT
"""The hash that a record's log ends in, on paper: to read, to type and as a QR code."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Self

from wiretrack.labels.symbol import make_symbol, symbol_choices
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from wiretrack.labels.symbol import Symbol

TOLD = (
    "Keep this hash. With it anyone who has the registry can check later that this record is still"
    " its past, and whose keys signed it."
)
_GROUP = 8  # digits


def spaced(head: str) -> str:
    """Return a hash in groups, as one reads it aloud.

    >>> spaced("0c76d6dbac78fcd8")
    '0c76d6db ac78fcd8'
    """
    return " ".join(head[at : at + _GROUP] for at in range(0, len(head), _GROUP))


@lru_cache(8)
def code_of(head: str) -> Symbol:
    """Return the QR symbol of a hash."""
    payload = f"WT-LOG:{head.upper()}"
    version, level = next(choice for choice in symbol_choices(payload) if choice[1] == "M")
    return make_symbol(payload, version, level)


@dataclass(frozen=True)
class Anchor:
    """A hash on a page: as text, and as the path of its QR code in a square of `side` units."""

    text: str
    side: int
    path: str
    told: str = TOLD

    @classmethod
    def of(cls, head: str | None) -> Self | None:
        """Return the anchor of a hash; None for an empty log."""
        if not head:
            return None
        symbol = code_of(head)
        return cls(spaced(head), len(symbol.rows), symbol.path())
