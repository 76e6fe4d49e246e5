# SPDX-License-Identifier: MIT
"""What people type, in the cells of sheets or behind a field's name, to values as files have them.

An empty cell is unknown. One that doesn't read as its kind keeps its text, so that the check of the
shape names it.
"""

from __future__ import annotations

import json
import re
import shlex
from datetime import date
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import AmbiguousError, BadInputError
from wiretrack.exchange.raw import Parser, drop
from wiretrack.model import kinds as k
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import TABLES

if TYPE_CHECKING:
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.fields import Kind

_TRUTHS = {word: True for word in ("true", "yes", "y", "x", "1")} | {
    word: False for word in ("false", "no", "n", "0")
}
_INTEGER = re.compile(r"[+-]?[0-9]{1,40}")
_NUMBER = re.compile(r"[+-]?[0-9]{1,40}(\.[0-9]{0,40})?([eE][+-]?[0-9]{1,3})?")


def read_cell(kind: str, text: str) -> Any:
    """Return the value that a cell of this kind holds.

    >>> read_cell("boolean", "Yes"), read_cell("list", "W1, north wall"), read_cell("list", "W1 W2")
    (True, ['W1', 'north wall'], ['W1', 'W2'])
    >>> read_cell("lengths", "3 m; 4.5m"), read_cell("pairs", "1-2, 3-4")
    (['3 m', '4.5m'], [['1', '2'], ['3', '4']])
    """
    reader = _READERS.get(kind)
    return reader(text) if reader else text


def _boolean(text: str) -> Any:
    return _TRUTHS.get(text.strip().lower(), text)


def _number(text: str) -> Any:
    plain = text.strip()
    if _INTEGER.fullmatch(plain):
        return int(plain)
    return float(plain) if _NUMBER.fullmatch(plain) else text


def _list(text: str) -> Any:
    """Split at commas or semicolons, else at spaces; what stands in quotation marks stays whole."""
    try:
        parts = _split(text, ",;\n")
        return parts if len(parts) > 1 else _split(text, " ,;\n")
    except ValueError:  # a quotation mark that is never closed
        return text


def _split(text: str, at: str) -> list[str]:
    words = shlex.shlex(text, posix=True)
    words.whitespace, words.whitespace_split, words.commenters = at, True, ""
    return [word.strip() for word in words]


def _codes(text: str) -> Any:
    """Read one code, or several with commas between them; a code with a comma stands in JSON."""
    if text.lstrip().startswith("["):
        return _json(text)
    several = re.split(r"[,;\n]", text)
    return [code.strip() for code in several] if len(several) > 1 else text


def _lengths(text: str) -> Any:
    """Split at commas, semicolons or spaces, but leave a number and the unit after it together."""
    lengths: list[str] = []
    for word in re.split(r"[,;\s]+", text.strip(" ,;")):
        if lengths and not re.search(r"[0-9]", word):
            lengths[-1] += f" {word}"
        else:
            lengths.append(word)
    return lengths


def _pairs(text: str) -> Any:
    """Read poles: ``1-2, 3-4``, the names of terminals one after another, or JSON.

    A bare number of poles, 1 to 4, has the terminals 1-2, 3-4, ... of a switching device
    (common practice).
    """
    if text.lstrip().startswith("["):
        return _json(text)
    number = re.fullmatch(r"\s*([1-4])\s*[pP]?\s*", text)
    if number:
        return [[str(2 * at - 1), str(2 * at)] for at in range(1, int(number[1]) + 1)]
    names = _list(text)
    if isinstance(names, str):
        return names
    dashed = [[end.strip() for end in name.split("-")] for name in names]
    if (len(names) == 1 or re.search("[,;\n]", text)) and {len(pair) for pair in dashed} == {2}:
        return dashed
    return [names[at : at + 2] for at in range(0, len(names), 2)]


def _json(text: str) -> Any:
    try:
        return Parser().parse(text)
    except (ValueError, RecursionError):
        return text


_READERS = {
    "boolean": _boolean,
    "integer": _number,
    "number": _number,
    "list": _list,
    "lengths": _lengths,
    "codes": _codes,
    "pairs": _pairs,
    "json": _json,
}


# A spreadsheet takes a cell that begins with one of these for a formula (OWASP, "CSV Injection"),
# unless it is a number with a sign, and perhaps a unit after it.
_FORMULA = re.compile(r"'*(?![+-][0-9.]+ ?[A-Za-z]*\Z)[=+\-@\t\r]")


def inert(cell: str) -> str:
    """Return a cell that starts no formula: one that would gets an apostrophe, as people write it.

    >>> inert("=A1"), inert("-W1"), inert("'=A1"), inert("W1"), inert("-21 C")
    ("'=A1", "'-W1", "''=A1", 'W1', '-21 C')
    """
    return f"'{cell}" if _FORMULA.match(cell) else cell


def bare(cell: str) -> str:
    """Return a cell as it was before `inert`.

    >>> bare("'=A1"), bare("'W1"), bare("=A1")
    ('=A1', "'W1", '=A1')
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def write_cell(kind: str, value: Any) -> str:
    """Return the text of a cell; reading it again gives the same value."""
    if value is None:
        return ""
    if kind == "json":
        return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    if kind == "codes":
        several = [value] if isinstance(value, str) else value
        if any(re.search(r"[,;\n]", code) or code.startswith("[") for code in several):
            return json.dumps(several, ensure_ascii=False)
        return ",".join(several)
    if kind == "list":
        return ", ".join(map(_quoted, value))
    if kind == "pairs":
        names = [name for pair in value for name in pair]
        if any("-" in name or _quoted(name) != name for name in names):
            return json.dumps(value, ensure_ascii=False)
        if len(value) == 1:  # a spreadsheet would make a date of 1-2
            return " ".join(names)
        return ", ".join("-".join(pair) for pair in value)
    if kind == "lengths":
        return " ".join(value)
    return str(value).lower() if isinstance(value, bool) else str(value)


def _quoted(name: str) -> str:
    """Return a name as an entry of a list, in quotation marks where it needs them."""
    if re.fullmatch(r"[\w@%+=:./-]+", name):
        return name
    return "'" + name.replace("'", "'\"'\"'") + "'"


def take_words(raw: RawSite) -> None:
    """Put the words and days of a sheet as a site file has them; a fault for what may be several.

    What is neither keeps its text, so that the check of the shape names it.
    """
    tables: list[tuple[type, tuple[str | int, ...], Any]] = [
        (SiteFacts, ("site",), raw.data.get("site", {}))
    ]
    tables += [
        (of, (table, number), row)
        for of, table in TABLES.items()
        for number, row in enumerate(raw.data.get(table, ()))
    ]
    for of, path, row in tables:
        for fact in flat_facts(of):
            holder = row.get(fact.outer) if fact.outer else row
            text = holder.get(fact.inner) if isinstance(holder, dict) else None
            if not isinstance(text, str) or not (fact.kind.words or fact.kind in _DAYS):
                continue
            try:
                holder[fact.inner] = as_filed(fact.kind, text)
            except AmbiguousError as error:
                place = (*path, *fact.key.split("."))
                raw.faults.add(place, str(error))
                drop(raw.data, place)


def as_filed(kind: Kind, text: str) -> Any:
    """Return the value of this kind that is meant, as a site file has it; else the text as it is.

    A word may be one of those that people use beside it, and a day or a time may be written as
    `days.typed` reads it. Quantities, sizes and colours are read from files in the same way.

    Raises `AmbiguousError` if it may mean several.

    >>> as_filed(k.ENCLOSURE_KIND, "box"), as_filed(k.DATE, "24.4.2025"), as_filed(k.NAME, "box")
    ('junction-box', '2025-04-24', 'box')
    """
    if kind.words:
        return kind.meant(text)
    read = _DAYS.get(kind)
    if read is None or re.match(kind.schema["pattern"], text):
        return text
    try:
        return read(text)
    except AmbiguousError:
        raise
    except BadInputError:
        return text


def _day_or_time(text: str) -> str:
    found = days.typed(text)
    return days.typed_time(text) if type(found) is not date else found.isoformat()


_DAYS = {
    k.DATE: lambda text: days.typed_day(text).isoformat(),
    k.TIME: days.typed_time,
    k.DAY_OR_TIME: _day_or_time,
}
