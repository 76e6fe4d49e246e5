# SPDX-License-Identifier: MIT
"""The cells of sheets and CSV files: what people write in them to values, and back.

An empty cell is unknown. One that doesn't read as its kind keeps its text, so that the check of the
shape names it.
"""

from __future__ import annotations

import json
import re
import shlex
from typing import Any

from wiretrack.exchange.raw import Parser

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
