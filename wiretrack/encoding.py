# SPDX-License-Identifier: MIT
"""JSON: the one way from a dataclass to the document that scripts read; what is wrong in a text."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import json
    from collections.abc import Mapping

INLINE = "*"


def document(result: Any) -> Any:
    """Return a result as it is written in JSON.

    A dataclass becomes an object of its fields, in their order, and of the properties that its
    class names in `ALSO`. A field ``from_`` is written ``from``; one whose metadata has
    ``{"json": None}`` is left out, ``{"json": NAME}`` renames one, and the fields of one with
    ``{"json": INLINE}`` stand beside the others. ``{"blank": WORD}`` is what is written for `None`
    or nothing; ``{"blank": None}`` leaves it out then; ``{"written": FUNCTION}`` makes of a value
    what is written. An `as_json` of the result's own comes first. What is written as a word (a
    tag) is a subclass of `str` and is written as it prints.

    >>> from dataclasses import dataclass
    >>> @dataclass
    ... class Leg:
    ...     from_: str
    ...     to: str
    >>> document([Leg("MDB", "PH1")])
    [{'from': 'MDB', 'to': 'PH1'}]
    """
    own = getattr(result, "as_json", None)
    if own is not None:
        return document(own())
    if is_dataclass(result) and not isinstance(result, type):
        named: dict[str, Any] = {}
        for field in fields(result):
            key = field.metadata.get("json", field.name.rstrip("_"))
            value = getattr(result, field.name)
            if value in (None, ()) and "blank" in field.metadata:
                value = field.metadata["blank"]
                key = None if value is None else key
            elif "written" in field.metadata:
                value = field.metadata["written"](value)
            if key == INLINE:
                named |= document(value)
            elif key is not None:
                named[key] = document(value)
        return named | {
            name: document(getattr(result, name)) for name in getattr(result, "ALSO", ())
        }
    return _plain(result)


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return document(value.value)
    if isinstance(value, str):
        return str(value)
    if isinstance(value, dict):
        found: Mapping[Any, Any] = value
        return {str(key): document(inner) for key, inner in found.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [document(inner) for inner in value]
    return value


# What is wrong with a text that is no JSON (RFC 8259), by the library's message.
_MEANINGS = {
    "Expecting value": "A value is missing here.",
    "Expecting property name enclosed in double quotes": "A key in double quotes is missing here.",
    "Expecting ':' delimiter": "A colon is missing here.",
    "Expecting ',' delimiter": "A comma or a closing bracket is missing here.",
    "Invalid control character at": "A text holds a control character or a line break here.",
    "Invalid \\escape": "A backslash stands before a character that needs none.",
    "Invalid \\uXXXX escape": "Four hexadecimal digits are missing after \\u.",
    "Extra data": "Something follows after the end of the document.",
    "Illegal trailing comma before end of object": "A comma stands before a closing bracket.",
    "Illegal trailing comma before end of array": "A comma stands before a closing bracket.",
}


def position(error: json.JSONDecodeError) -> str:
    """Return where a text goes wrong."""
    return f"line {error.lineno}, column {error.colno}"


def meaning(error: json.JSONDecodeError) -> str:
    """Return what is wrong there."""
    at_end = error.pos >= len(error.doc.rstrip())
    if error.msg.startswith("Unterminated string") or (at_end and "Expecting" in error.msg):
        return "The file breaks off here. It looks cut off; fetch or write it again."
    return f"The file is not JSON. {_MEANINGS.get(error.msg, 'It goes wrong here.')}"
