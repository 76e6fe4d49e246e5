# SPDX-License-Identifier: MIT
"""Colour codes of IEC 60757, and the conductor functions of IEC 60445 with their colours."""

from __future__ import annotations

import re
from functools import lru_cache

from wiretrack.electrical.limits import shown
from wiretrack.electrical.tables import load_table
from wiretrack.errors import QuantityError, TableEntryError
from wiretrack.late import dataclass
from wiretrack.plain import near

_MOST_PARTS = 4


@dataclass(frozen=True)
class Function:
    """What a conductor is in its circuit, with the colours IEC 60445 gives it."""

    code: str
    name: str
    colours: tuple[str, ...]
    live: bool


@lru_cache(maxsize=1024)
def parse_colour(text: str) -> str:
    """Return the colour's code: two letters each, several in the order of IEC 60757's table.

    Codes and English names are read: ``gnye``, ``RD``, ``red``, ``red/blue``, ``green-yellow``.

    Raises `QuantityError` if `text` isn't a colour; the nearest codes are named.

    >>> parse_colour("BURD"), parse_colour("yellow/green"), parse_colour("purple")
    ('RDBU', 'GNYE', 'VT')
    """
    parts = _parts(text)
    unique = list(dict.fromkeys(parts))
    if not parts or len(unique) != len(parts) or len(parts) > _MOST_PARTS:
        raise QuantityError(shown(text), "a colour", _examples(text))
    return _join(unique)


@lru_cache(maxsize=1024)
def colour_parts(code: str) -> tuple[str, ...]:
    """Return the single colours of a code; green-yellow counts as one.

    >>> colour_parts("RDBU"), colour_parts("GNYE"), colour_parts("BUGNYE")
    (('RD', 'BU'), ('GNYE',), ('BU', 'GNYE'))
    """
    code = parse_colour(code)
    singles = [code[i : i + 2] for i in range(0, len(code), 2)]
    if "GN" in singles and "YE" in singles:
        return (*(s for s in singles if s not in ("GN", "YE")), "GNYE")
    return tuple(singles)


def colour_name(code: str) -> str:
    """Return the English name of a colour.

    >>> colour_name("GNYE"), colour_name("RDBU")
    ('green-yellow', 'red-blue')
    """
    names = {row["code"]: row["name"] for row in load_table("iec60757_colours").rows}
    return "-".join(names[part] for part in colour_parts(code))


def codes_of(text: str) -> list[str]:
    """Return what codes with a colour begin with; nothing where `text` names none.

    >>> codes_of("red")[:2], codes_of("yellow/green"), codes_of("pump")
    (['RD', 'BKRD'], ['GNYE'], [])
    """
    try:
        code = parse_colour(text)
    except QuantityError:
        return []
    others = (other for other in colour_codes() if len(other + code) == 4)
    return [code, *(other + code for other in others if other != code)]


def colour_codes() -> tuple[str, ...]:
    """Return the codes of IEC 60757 in the order of its table."""
    return load_table("iec60757_colours").column("code")


def function_of(code: str) -> Function:
    """Return what IEC 60445 says of a conductor function.

    Raises `TableEntryError` if it isn't one of the functions.
    """
    table = load_table("iec60445_functions")
    row = table.find(function=code)
    if row is None:
        raise TableEntryError("The list of functions", shown(code), table.column("function"))
    return Function(code, row["name"], tuple(row["colours"].split()), row["live"] == "yes")


def _parts(text: str) -> list[str]:
    """Return the single codes in `text`, or an empty list if one isn't known."""
    whole = _names().get(" ".join(text.lower().split()))
    if whole:
        return [whole]
    words = [word for word in re.split(r"[\s/+-]+", text.strip()) if word]
    parts: list[str] = []
    for word in words:
        found = _word(word)
        if not found:
            return []
        parts += found
    return parts


def _word(word: str) -> list[str]:
    names = _names()
    if word.lower() in names:
        return [names[word.lower()]]
    pairs = [word.upper()[i : i + 2] for i in range(0, len(word), 2)]
    return pairs if all(pair in colour_codes() for pair in pairs) else []


def _names() -> dict[str, str]:
    rows = [row for row in load_table("iec60757_colours").rows if len(row["code"]) == 2]
    names = {row["name"]: row["code"] for row in rows}
    names |= {row["also"]: row["code"] for row in rows if row["also"]}
    return names | {"gray": "GY"}


def _join(parts: list[str]) -> str:
    order = {code: place for place, code in enumerate(colour_codes())}
    if "GN" in parts and "YE" in parts:
        rest = [part for part in parts if part not in ("GN", "YE")]
        return "".join(sorted(rest, key=order.__getitem__)) + "GNYE"
    return "".join(sorted(parts, key=order.__getitem__))


def _examples(text: str) -> str:
    words = {**{code.lower(): code for code in colour_codes()}, **_names()}
    close = dict.fromkeys(words[word] for word in near(text.strip(), words, 2))
    return " or ".join(close) if close else "RD, GNYE or RDBU (IEC 60757)"
