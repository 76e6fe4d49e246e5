# SPDX-License-Identifier: MIT
"""One cell of a CSV file to a value of a site file, and back; an empty cell is unknown.

A cell that doesn't read as its kind keeps its text, so that the check of the shape names it.
"""

from __future__ import annotations

import json
import re
import shlex
from typing import Any

from wiretrack.exchange.json_source import Parser

_TRUTHS = {"true": True, "false": False}
_INTEGER = re.compile(r"[+-]?[0-9]{1,40}")
_NUMBER = re.compile(r"[+-]?[0-9]{1,40}(\.[0-9]{0,40})?([eE][+-]?[0-9]{1,3})?")


def read_cell(kind: str, text: str) -> Any:
    """Return the value that a cell of this kind holds.

    >>> read_cell("boolean", "TRUE"), read_cell("list", "W1 'north wall'")
    (True, ['W1', 'north wall'])
    >>> read_cell("lengths", "3 m 4.5m"), read_cell("pairs", "1 2 3 4")
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
    try:
        return shlex.split(text)
    except ValueError:  # a quotation mark that is never closed
        return text


def _codes(text: str) -> Any:
    """Read one code, or several with commas between them; a code with a comma stands in JSON."""
    if text.lstrip().startswith("["):
        return _json(text)
    return [code.strip() for code in text.split(",")] if "," in text else text


def _lengths(text: str) -> Any:
    """Split at spaces, but leave a number and the unit after it together."""
    lengths: list[str] = []
    for word in text.split():
        if lengths and not re.search(r"[0-9]", word):
            lengths[-1] += f" {word}"
        else:
            lengths.append(word)
    return lengths


def _pairs(text: str) -> Any:
    names = _list(text)
    if isinstance(names, str):
        return names
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


def write_cell(kind: str, value: Any) -> str:
    """Return the text of a cell; reading it again gives the same value."""
    if value is None:
        return ""
    if kind == "json":
        return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    if kind == "codes":
        several = [value] if isinstance(value, str) else value
        if any("," in code or code.startswith("[") for code in several):
            return json.dumps(several, ensure_ascii=False)
        return ",".join(several)
    if kind == "list":
        return shlex.join(value)
    if kind == "pairs":
        return shlex.join(name for pair in value for name in pair)
    if kind == "lengths":
        return " ".join(value)
    return str(value).lower() if isinstance(value, bool) else str(value)
