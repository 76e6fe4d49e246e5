# SPDX-License-Identifier: MIT
"""Texts from outside: what no text may hold, and how a strange value is shown in a message."""

from __future__ import annotations

import re

from wiretrack.errors import BadInputError
from wiretrack.plain import safe

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
