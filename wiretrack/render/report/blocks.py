# SPDX-License-Identifier: MIT
"""What a printed report is made of; neither HTML nor PDF, which draw the same blocks.

A cell is plain text, text with a tone, or room to be filled in by hand. What isn't recorded is
called unknown, never left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wiretrack.electrical.quantity_text import format_number
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from wiretrack.model.parts import End

Tone = Literal["", "pass", "fail", "doubt", "gone", "strong", "dim", "caution", "large"]
BY_HAND = "by hand"
SHORT = 9  # signs of a cell that stays in one line, as a tag or a figure with its unit


@dataclass(frozen=True)
class Text:
    """Text with a tone: an outcome, ``gone`` (no longer counts), strong or dim."""

    text: str
    tone: Tone = ""


@dataclass(frozen=True)
class Blank:
    """Ruled lines to write on, visibly left for a person."""

    lines: int = 1


@dataclass(frozen=True)
class Ticks:
    """Empty squares to tick by hand, each with its word; a word may be empty."""

    words: tuple[str, ...] = ("",)


Cell = str | Text | Blank | Ticks


@dataclass(frozen=True)
class Heading:
    """A heading of level 1 to 3; it stands in the outline of a PDF too."""

    text: str
    level: int = 1
    new_page: bool = False


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    tone: Tone = ""


@dataclass(frozen=True)
class Bullets:
    """A list of lines."""

    lines: tuple[str, ...]
    tone: Tone = ""


@dataclass(frozen=True)
class Facts:
    """Names with their values, one a line."""

    rows: tuple[tuple[str, Cell], ...]


@dataclass(frozen=True)
class Table:
    """Rows under a head that is repeated on every page; no row is cut."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True)
class Drawing:
    """An SVG drawing that this program made, and what it shows."""

    svg: str
    title: str


@dataclass(frozen=True)
class Code:
    """The QR code of the hash that the log ends in."""

    head: str


Block = Heading | Paragraph | Bullets | Facts | Table | Drawing | Code
CODE_MM = 18.0  # side of a code; its modules are over 0.5 mm


@dataclass(frozen=True)
class Printed:
    """A whole printable page or document; `foot` stands at the foot of each sheet."""

    title: str
    foot: str
    blocks: tuple[Block, ...]
    made_at: str | None = None


def text_of(cell: Cell) -> str:
    """Return what a cell says; room to fill in says that it is left for a hand."""
    if isinstance(cell, Text):
        return cell.text
    if isinstance(cell, Blank):
        return BY_HAND
    if isinstance(cell, Ticks):
        return " ".join(word for word in cell.words if word)
    return cell


def tone_of(cell: Cell) -> Tone:
    """Return the tone of a cell."""
    return cell.tone if isinstance(cell, Text) else ""


UNKNOWN = Text("unknown", "dim")
_OUTCOMES: dict[str, Tone] = {"pass": "pass", "fail": "fail", "doubt": "doubt"}
_CODES = {True: "yes", False: "no"}


def known(value: object) -> Cell:
    """Return a value as it stands, or that it is unknown."""
    if value is None or value == "":
        return UNKNOWN
    return _CODES[value] if isinstance(value, bool) else str(value)


def figure(value: float | None, unit: str) -> Cell:
    """Return a figure with its unit, or that it is unknown."""
    return UNKNOWN if value is None else format_number(value, unit)


def limit_of(value: float | None, unit: str) -> str:
    """Return a figure or a limit with its unit, or a dash."""
    return "–" if value is None else format_number(value, unit)


def outcome(word: str) -> Text:
    """Return an outcome in its tone."""
    return Text(word.upper() if word == "fail" else word, _OUTCOMES[word])


def place(end: End) -> str:
    """Return where an end is: enclosure, terminal, and its state unless it is landed."""
    mark = f", mark {end.mark}" if end.mark else ""
    state = "" if end.state == "landed" else f", {end.state or 'state unknown'}"
    return f"{end.enclosure} {end.terminal or ''}".rstrip() + state + mark


def counted(number: int, noun: str, several: str | None = None) -> str:
    """Return a number of things.

    >>> counted(1, "reading"), counted(2, "reading"), counted(0, "entry", "entries")
    ('1 reading', '2 readings', '0 entries')
    """
    return f"{number} {noun if number == 1 else several or noun + 's'}"
