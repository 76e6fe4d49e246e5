# SPDX-License-Identifier: MIT
"""What a label is about: one end of one conductor, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

End = Literal["from", "to"]


@dataclass(frozen=True, kw_only=True)
class LabelSubject:
    """One end of a conductor; `this_place` is where its label goes, `other_place` the far end."""

    tag: str
    payload: str
    circuit: str | None = None
    function: str | None = None
    this_place: str | None = None
    other_place: str | None = None
    size: str | None = None
    colour: str | None = None
    title: str | None = None
    outer_diameter_mm: float | None = None
    end: End = "from"
