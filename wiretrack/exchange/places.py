# SPDX-License-Identifier: MIT
"""Where in a site file something stands, what no text in it may hold, and all that is wrong."""

from __future__ import annotations

import re
from dataclasses import field
from typing import TYPE_CHECKING, ClassVar, Protocol

from wiretrack.errors import BadInputError, Fault, SiteFileError
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.late import dataclass
from wiretrack.model.source import TABLES
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Mapping

# C0 and C1 control characters, line and paragraph separators, characters that turn the writing
# direction (Unicode Bidirectional Algorithm, UAX 9, explicit formatting), lone surrogates.
_REFUSED = "\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff"
FORBIDDEN = re.compile(f"[{_REFUSED}]")
FORBIDDEN_BUT_LINE_BREAKS = re.compile(f"(?!\n)[{_REFUSED}]")
_SHOWN_LENGTH = 60


def why_refused(text: str, *, line_breaks: bool = False) -> str | None:
    r"""Return what `text` holds that no text may hold, or None if it is clean.

    >>> why_refused("main\x07board")
    'it holds a control character (U+0007) as character 5'
    """
    found = (FORBIDDEN_BUT_LINE_BREAKS if line_breaks else FORBIDDEN).search(text)
    if found is None:
        return None
    character = found.group()
    kind = f"{_kind(character)} (U+{ord(character):04X})"
    return f"it holds {kind} as character {found.start() + 1}"


def has_forbidden(text: str, but: str) -> bool:
    """Return whether a whole file holds what no text may hold, apart from the signs in `but`."""
    return any(found.group() not in but for found in FORBIDDEN.finditer(text))


def _kind(character: str) -> str:
    if character in "\n\r\u2028\u2029":
        return "a line break"
    if character == "\t":
        return "a tab"
    if "\ud800" <= character <= "\udfff":
        return "half a surrogate pair"
    if character >= "\u202a":
        return "a sign that turns the writing direction"
    return "a control character"


def shown(value: object) -> str:
    r"""Return a value as a message names it: texts quoted, cut and harmless.

    >>> shown("a\x1bb"), shown(True), shown([1, 2])
    ("'a\\x1bb'", 'true', 'a list of 2')
    """
    if isinstance(value, str):
        return f"'{harmless(value)}'"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    if isinstance(value, dict):
        return "an object"
    return "null" if value is None else f"the number {harmless(repr(value))}"


def harmless(text: str) -> str:
    """Return `text` on one line, cut to a bearable length, with all that is unsafe written out."""
    cut = text if len(text) <= _SHOWN_LENGTH else text[: _SHOWN_LENGTH - 1] + "…"
    return safe(cut)


def articled(noun: str) -> str:
    """Return the noun after its article.

    >>> articled("enclosure"), articled("pull")
    ('an enclosure', 'a pull')
    """
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


LONGEST = 500
LONGEST_CODE = 40


def check_text(name: str, text: str | None, longest: int = LONGEST) -> str | None:
    """Return `text` without blanks around it; `None` where it is missing or blank."""
    plain = (text or "").strip()
    if not plain:
        return None
    if len(plain) > longest:
        raise BadInputError(f"{name} has {len(plain)} characters. It may have {longest}.")
    why = why_refused(plain)
    if why:
        raise BadInputError(f"{name} '{harmless(plain)}' is refused: {why}. Type it again.")
    return plain


def check_code(name: str, text: str | None) -> str | None:
    """Return a code, checked like `check_text` but shorter."""
    return check_text(name, text, LONGEST_CODE)


Path = tuple[str | int, ...]

TABLE_NAMES = (*TABLES.values(), *REST_NAMES)
MAX_FAULTS = 10_000
_ORDER = {name: number for number, name in enumerate(("format", "site", *TABLE_NAMES))}
_PLAIN_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


class Places(Protocol):
    """Turns a path into the document to the words that people find the place by.

    `hints` tells how a value of a type of JSON Schema is written in such a file. A `strict` one is
    written by programs: its words and days are those of the schema alone.
    """

    hints: ClassVar[dict[str, str]]
    strict: ClassVar[bool] = False

    def name(self, path: Path) -> str:
        """Return the place, like ``conductors[12].size``."""


class JsonPlaces:
    """Places of a JSON file."""

    strict: ClassVar[bool] = True
    hints: ClassVar[dict[str, str]] = {
        "object": "Write it in braces.",
        "array": "Write it in square brackets.",
    }

    def name(self, path: Path) -> str:
        """Return the place, like ``conductors[12].from.enclosure``.

        >>> JsonPlaces().name(("devices", 3, "poles", 0))
        'devices[3].poles[0]'
        """
        parts = []
        for step in path:
            if isinstance(step, int):
                parts.append(f"[{step}]")
            elif _PLAIN_KEY.fullmatch(step) and len(step) <= 40:
                parts.append(f".{step}")
            else:
                parts.append(f"['{harmless(step)}']")
        return "".join(parts).removeprefix(".")


class Located(Protocol):
    """A sheet: it says where in it a row or a cell is."""

    name: str
    decimal_comma: bool

    def place(self, row: int, heading: str = "", at: int | None = None) -> str:
        """Return the words by which people find a row, or the cell under a heading."""


@dataclass(frozen=True)
class Origin:
    """The row of a sheet that a record came from, and the heading of each field there."""

    sheet: Located
    row: int
    headings: Mapping[tuple[str, str], tuple[str, int]] = field(default_factory=dict)

    def place(self, table: str, key: str = "") -> str:
        """Return the place of the row, or of the cell of one field in it."""
        heading, at = self.headings.get((table, key), (key, None))
        return self.sheet.place(self.row, heading, at)


@dataclass
class SheetPlaces:
    """Places of sheets: the row of each record, and each table's columns."""

    columns: Mapping[str, frozenset[str]] = field(default_factory=dict)
    rows: dict[str, list[Origin]] = field(default_factory=dict)
    far_ends: dict[tuple[int, int], Origin] = field(default_factory=dict)
    site: Origin | None = None
    strict: ClassVar[bool] = False
    hints: ClassVar[dict[str, str]] = {
        "object": "Write it as JSON.",
        "array": "Close its quotation marks.",
    }

    def name(self, path: Path) -> str:
        """Return the place, like ``conductors.csv:14 from.enclosure``."""
        table, *inside = path
        if table in ("site", "format"):
            keys = list(path) if table == "format" else inside
            return self.site.place("site", self._column("site", keys)) if self.site else str(table)
        row, *inside = inside
        if table == "pulls" and len(inside) > 1 and inside[0] == "far_ends":
            origin = self.far_ends[int(row), int(inside[1])]
            return origin.place("far_ends", self._column("far_ends", inside[2:]))
        origin = self.rows[str(table)][int(row)]
        return origin.place(str(table), self._column(str(table), inside))

    def _column(self, table: str, inside: list[str | int]) -> str:
        """Return the longest beginning of the path that is a column."""
        names: list[str] = []
        for step in inside:
            if isinstance(step, int):
                break
            names.append(step)
        for length in range(len(names), 0, -1):
            dotted = ".".join(names[:length])
            if dotted in self.columns.get(table, ()):
                return dotted
        return ".".join(names[:1])


class TooManyFaultsError(Exception):
    """So much is wrong that reading on serves nobody."""


class Faults:
    """The faults found so far, by path; listed in the order of the file.

    `notes` are sentences on how the file was read, which are no faults; `became` says of each row
    of a sheet with headings of its own what it was taken for.
    `elsewhere` names rows that aren't of the file, by their table and number.
    """

    def __init__(self, places: Places) -> None:
        self.places = places
        self.notes: list[str] = []
        self.became: list[str] = []
        self.elsewhere: dict[Path, str] = {}
        self._found: list[tuple[Path, Fault]] = []

    def add(self, path: Path, message: str) -> None:
        """Add one fault.

        Raises `TooManyFaultsError` if the list is full.
        """
        self.add_at(path, self.place(path), message)

    def place(self, path: Path) -> str:
        """Return what people call a place."""
        row = self.elsewhere.get(path[:2])
        if row is None:
            return self.places.name(path)
        return " ".join((row, ".".join(step for step in path[2:] if isinstance(step, str)))).strip()

    def add_at(self, path: Path, place: str, message: str) -> None:
        """Add one fault whose place has a name of its own."""
        self._found.append((path, Fault(place, message)))
        if len(self._found) >= MAX_FAULTS:
            raise TooManyFaultsError

    def __bool__(self) -> bool:
        return bool(self._found)

    def refuse(self, file: object) -> None:
        """Refuse a file that anything is wrong with.

        Raises `SiteFileError` if there is a fault; it lists them all.
        """
        if self._found:
            raise SiteFileError(safe(str(file)), self.in_order())

    def paths(self) -> set[Path]:
        """Return the path of every fault found so far."""
        return {path for path, _ in self._found}

    def in_order(self) -> list[Fault]:
        """Return all faults, table by table and row by row; one cell may be of several tables."""
        ordered = sorted(self._found, key=lambda pair: _rank(pair[0]))
        faults = [*dict.fromkeys(fault for _, fault in ordered)]
        if len(faults) >= MAX_FAULTS:
            faults.append(Fault("", f"Only the first {MAX_FAULTS} faults are listed."))
        return faults


def _rank(path: Path) -> tuple[int, int]:
    table = _ORDER.get(str(path[0]), len(_ORDER)) if path else -1
    row = path[1] if len(path) > 1 and isinstance(path[1], int) else -1
    return table, row
