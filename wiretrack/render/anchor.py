# SPDX-License-Identifier: MIT
"""The hash that a record's log ends in, on paper: to read, to type and as a QR code."""

from __future__ import annotations

from functools import lru_cache
from typing import Self

from wiretrack.labels.symbol import make_symbol, symbol_choices
from wiretrack.late import dataclass

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
def runs(head: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """Return the side of the QR code of a hash, and its dark runs: column, row, length, in modules.

    The quiet zone (four modules) is not counted.
    """
    payload = f"WT-LOG:{head.upper()}"
    version, level = next(choice for choice in symbol_choices(payload) if choice[1] == "M")
    rows = make_symbol(payload, version, level).rows
    found: list[tuple[int, int, int]] = []
    for y, row in enumerate(rows):
        x = 0
        for part in row.split(b"\0"):
            if part:
                found.append((x, y, len(part)))
            x += len(part) + 1
    return len(rows), tuple(found)


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
        return cls(spaced(head), *drawn(head)) if head else None


def drawn(head: str) -> tuple[int, str]:
    """Return the side of the QR code and its path, for an SVG drawing of that many units."""
    side, dark = runs(head)
    return side, "".join(f"M{x} {y}h{length}v1h-{length}z" for x, y, length in dark)
