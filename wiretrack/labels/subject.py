# SPDX-License-Identifier: MIT
"""What a label is about, in words: a conductor's end, a box, a row of terminals, a raceway."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiretrack.model.tags import format_tag

End = Literal["from", "to"]


@dataclass(frozen=True, kw_only=True)
class LabelSubject:
    """One end of a conductor; `this_place` is where its label goes, `other_place` the far end.

    The boxes are those places without their terminals.
    """

    tag: str
    payload: str
    circuit: str | None = None
    function: str | None = None
    this_place: str | None = None
    other_place: str | None = None
    size: str | None = None
    colour: str | None = None
    title: str | None = None
    this_box: str | None = None
    other_box: str | None = None
    outer_diameter_mm: float | None = None
    end: End = "from"

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return format_tag(self.tag)


@dataclass(frozen=True, kw_only=True)
class PullNumber:
    """A temporary number, the same at both ends, put on a conductor before it is pulled."""

    number: str
    pull: str | None = None
    this_place: str | None = None
    other_place: str | None = None
    outer_diameter_mm: float | None = None
    end: End = "from"
    payload: str = ""

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return f"pull number {self.number}"


@dataclass(frozen=True, kw_only=True)
class Plate:
    """A flat tag on an enclosure or a device; without a payload it has no code."""

    code: str
    title: str | None = None
    where: str | None = None
    lines: tuple[str, ...] = ()
    payload: str = ""
    outer_diameter_mm: None = None
    end: None = None

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return self.code


@dataclass(frozen=True, kw_only=True)
class TerminalStrip:
    """A row of terminals, side by side at a pitch; an empty text leaves a place blank. [mm]."""

    enclosure: str
    terminals: tuple[str, ...]
    pitch_mm: float
    payload: str = ""
    end: None = None

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return f"{self.enclosure} {self.terminals[0]}" if self.terminals else self.enclosure


@dataclass(frozen=True)
class CardRow:
    """One conductor that ends in a box: where it is landed, what it is, where it goes."""

    terminal: str
    tag: str
    circuit: str
    other_place: str


@dataclass(frozen=True, kw_only=True)
class BoxCard:
    """What is inside an enclosure: hazards first, then its conductors; `part` of how many cards."""

    code: str
    title: str | None = None
    where: str | None = None
    hazards: tuple[str, ...] = ()
    rows: tuple[CardRow, ...] = ()
    payload: str = ""
    part: tuple[int, int] = (1, 1)
    end: None = None

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return f"{self.code}, card {self.part[0]} of {self.part[1]}"


@dataclass(frozen=True, kw_only=True)
class Marking:
    """Wording that a code demands on a raceway or box, with its letters' height and colours."""

    wording: str
    letter_mm: float
    letters: str
    background: str
    source: str
    payload: str = ""
    end: None = None

    @property
    def name(self) -> str:
        """Return what the label is called when it is spoken of."""
        return f"'{self.wording}'"


Subject = LabelSubject | PullNumber | Plate | TerminalStrip | BoxCard | Marking
EndSubject = LabelSubject | PullNumber | Plate
