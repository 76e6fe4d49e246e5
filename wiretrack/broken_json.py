# SPDX-License-Identifier: MIT
"""A text that is not JSON (RFC 8259): where it goes wrong, and what is wrong there, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import json

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
