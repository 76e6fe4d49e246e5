# SPDX-License-Identifier: MIT
"""A site file as it came, in plain dicts and lists, before its shape is checked; JSON files."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import meaning, position
from wiretrack.errors import Fault, SiteFileError
from wiretrack.exchange.places import (
    Faults,
    JsonPlaces,
    harmless,
    has_forbidden,
    shown,
    why_refused,
)
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.late import dataclass
from wiretrack.plain import safe

if TYPE_CHECKING:
    from pathlib import Path as FilePath

    from wiretrack.exchange.places import Path

MAX_BYTES = 256 * 2**20
MAX_DEPTH = 50
MAX_ITEMS = 5_000_000  # rows of a CSV file, or lists and objects of a JSON file


class NotANumber(str):
    """A number that can't be held: NaN, Infinity, or one too long or too large."""


class DoubledKeys(dict[str, Any]):
    """An object that names some key more than once."""

    doubled: tuple[str, ...] = ()


@dataclass
class RawSite:
    """The document and the faults found while reading it.

    `suspect` says that it may hold what no file may; `absent` are columns that new records need and
    a sheet lacks, each with its place; `lost` are tables that couldn't be read, so that nobody can
    say what is in them.
    """

    data: dict[str, Any]
    faults: Faults
    suspect: bool = True
    absent: dict[tuple[str, str], str] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)


def fatal(file: FilePath, place: str, message: str) -> SiteFileError:
    """Return the error for a file that can't be read any further."""
    return SiteFileError(safe(str(file)), [Fault(place, message)])


def read_bytes(file: FilePath, place: str = "") -> bytes:
    """Return what a file holds; `SiteFileError` if it is empty, too large, or can't be opened."""
    try:
        with file.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise fatal(file, place, f"It can't be read: {error.strerror or error}.") from error
    if len(content) > MAX_BYTES:
        limit = f"larger than {MAX_BYTES >> 20} MB"
        raise fatal(file, place, f"The file is {limit}. Load the site in smaller parts.")
    if not content.strip():
        raise fatal(file, place, "The file is empty.")
    return content


def sift(raw: RawSite) -> None:
    """Take out of the document, as faults, what no part of a site file may hold."""
    waiting: list[tuple[Path, Any]] = [((), raw.data)]
    while waiting:
        path, value = waiting.pop()
        why = _refusal(path, value)
        if why:
            raw.faults.add(path, why)
            drop(raw.data, path)
        elif isinstance(value, dict):
            _sift_keys(raw, path, value)
            waiting += [((*path, key), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, number), inner) for number, inner in enumerate(value)]


def _sift_keys(raw: RawSite, path: Path, value: dict[str, Any]) -> None:
    for key in value.doubled if isinstance(value, DoubledKeys) else ():
        raw.faults.add((*path, key), "The key is given twice. Keep one.")
    for key in [key for key in value if why_refused(key)]:
        raw.faults.add((*path, key), f"The key is refused: {why_refused(key)}. Take it out.")
        del value[key]


def _refusal(path: Path, value: object) -> str | None:
    if isinstance(value, NotANumber):
        return (
            f"{harmless(value)} is not a number that a file may hold. Leave it out where unknown."
        )
    if isinstance(value, str):
        why = why_refused(value, line_breaks=bool(path) and path[0] in REST_NAMES)
        return f"The text is refused: {why}. Take it out." if why else None
    return None


def check_depth(raw: RawSite) -> None:
    """Add a fault for each row whose free-form values nest too deeply to be stored."""
    for table in REST_NAMES:
        for number, row in enumerate(raw.data.get(table, ())):
            if _depth(row) > MAX_DEPTH:
                message = f"It nests lists or objects more than {MAX_DEPTH} deep."
                raw.faults.add((table, number), f"{message} Make it flatter.")
                raw.data[table][number] = {}


def _depth(value: object) -> int:
    """Return how many lists and objects lie in each other, without recursion."""
    depth, level = 0, [value]
    while level:
        holders = [item for item in level if isinstance(item, dict | list)]
        depth += bool(holders)
        level = [
            inner
            for item in holders
            for inner in (item.values() if isinstance(item, dict) else item)
        ]
    return depth


def drop(data: dict[str, Any], path: Path) -> None:
    """Take a faulty value out of the document, so that later checks don't trip over it again.

    An item of a list goes with its whole list; a row that is no object becomes an empty one.
    """
    holders: list[Any] = [data]
    for step in path[:-1]:
        try:
            holders.append(holders[-1][step])
        except (KeyError, IndexError, TypeError):
            return  # a fault around this one has taken it out already
    innermost = max(at for at, holder in enumerate(holders) if isinstance(holder, dict))
    if innermost == 0 and len(path) == 2:
        holders[1][path[1]] = {}
    else:
        holders[innermost].pop(path[innermost], None)


_MAX_DIGITS = 40
# Escapes that may stand for a character that no text may hold; tabs and returns between tokens.
_ESCAPES = re.compile(r"\\(?:[bfnrt]|u(?:00[01789]|20[26]|d[89a-f]))", re.IGNORECASE)


def read_json(file: FilePath) -> RawSite:
    """Return the document in a JSON file.

    Raises `SiteFileError` if the file can't be read, isn't JSON, or isn't an object.
    """
    content = read_bytes(file)
    if content.startswith(b"SQLite format 3\0"):
        raise fatal(file, "", "The file is a registry, not a site file. Merge it instead.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at = f"the byte {content[error.start]:#04x} at offset {error.start}"
        raise fatal(file, "", f"The file is not UTF-8: {at}. Save it as UTF-8.") from error
    if text.count("[") + text.count("{") > MAX_ITEMS:
        message = f"The file holds more than {MAX_ITEMS} lists and objects."
        raise fatal(file, "", f"{message} Load the site in smaller parts.")
    parser = Parser()
    try:
        data = parser.parse(text)
    except json.JSONDecodeError as error:
        raise fatal(file, position(error), meaning(error)) from error
    except RecursionError as error:
        message = "The file nests lists or objects too deeply. A site file has few levels."
        raise fatal(file, "", message) from error
    if not isinstance(data, dict):
        wanted = 'A site file is an object that begins with {"format": "wiretrack-site/1"'
        raise fatal(file, "", f"The file holds {shown(data)}. {wanted}.")
    suspect = parser.suspect or bool(_ESCAPES.search(text))
    suspect = suspect or has_forbidden(text, but="\t\r\n")
    return RawSite(data, Faults(JsonPlaces()), suspect)


class Parser:
    """Parses JSON; `suspect` says whether something in it needs a closer look."""

    def __init__(self) -> None:
        self.suspect = False

    def parse(self, text: str) -> Any:
        """Return the value in `text`, with doubled keys and impossible numbers marked."""
        return json.loads(
            text,
            object_pairs_hook=self._object,
            parse_constant=self._impossible,
            parse_float=self._float,
            parse_int=self._int,
        )

    def _object(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        plain = dict(pairs)
        if len(plain) == len(pairs):
            return plain
        self.suspect = True
        marked = DoubledKeys(plain)
        counts = Counter(key for key, _ in pairs)
        marked.doubled = tuple(key for key, count in counts.items() if count > 1)
        return marked

    def _impossible(self, text: str) -> NotANumber:
        self.suspect = True
        return NotANumber(text)

    def _float(self, text: str) -> float | NotANumber:
        number = float(text)
        return number if math.isfinite(number) else self._impossible(text)

    def _int(self, text: str) -> int | NotANumber:
        return int(text) if len(text) <= _MAX_DIGITS else self._impossible(text)
