# SPDX-License-Identifier: MIT
"""A site file as it came, in plain dicts and lists, before its shape is checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import Fault, SiteFileError
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.texts import harmless, why_refused
from wiretrack.plain import safe

if TYPE_CHECKING:
    from pathlib import Path as FilePath

    from wiretrack.exchange.places import Faults, Path

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

    `suspect` says that it may hold what no file may; `absent` are CSV columns that are missing;
    `lost` are tables that couldn't be read, so that nobody can say what is in them.
    """

    data: dict[str, Any]
    faults: Faults
    suspect: bool = True
    absent: set[tuple[str, str]] = field(default_factory=set)
    lost: set[str] = field(default_factory=set)


def fatal(file: FilePath, place: str, message: str) -> SiteFileError:
    """Return the error for a file that can't be read any further."""
    return SiteFileError(safe(str(file)), [Fault(place, message)])


def read_text(file: FilePath, place: str = "") -> str:
    """Return the text of a UTF-8 file, with or without a byte order mark.

    Raises
    ------
    SiteFileError
        If the file can't be opened, is empty, too large, or isn't UTF-8.
    """
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
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at = f"the byte {content[error.start]:#04x} at offset {error.start}"
        message = f"The file is not UTF-8: {at}. Save it as UTF-8."
        raise fatal(file, place, message) from error


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
