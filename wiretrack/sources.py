# SPDX-License-Identifier: MIT
"""Every publication that a figure in wiretrack comes from, named once.

`read_as` says honestly what was seen: ``original``, ``reprint`` (a transcription, handbook or
open library) or ``memory``. Trade rules of thumb have the source `COMMON_PRACTICE`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ReadAs = Literal["original", "reprint", "memory"]


@dataclass(frozen=True)
class Source:
    """A publication, and whether we saw the original."""

    key: str
    title: str
    read_as: ReadAs

    def cite(self, place: str = "") -> str:
        """Return the citation that a user sees: publication, place, and what was read."""
        where = f"{self.key} {place}".strip()
        return f"{where} (from memory)" if self.read_as == "memory" else where


COMMON_PRACTICE = Source("common practice", "a rule of thumb of the trade", "memory")
ISO_7064 = Source("ISO/IEC 7064:2003", "Check character systems", "reprint")
ISO_18004 = Source("ISO/IEC 18004", "QR Code bar code symbology", "reprint")
