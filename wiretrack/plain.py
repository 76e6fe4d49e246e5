# SPDX-License-Identifier: MIT
"""Text made safe to show, and the words that one is near to."""

from __future__ import annotations

import unicodedata
from _blake2 import blake2b  # hashlib has it too, and loads all of OpenSSL first
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


_COMPARED = 60  # characters of a word


def safe(text: str) -> str:
    r"""Return `text` with every control character and direction override written out.

    >>> safe("pump\x1b[31m")
    'pump\\x1b[31m'
    """
    text = str(text)  # a tag as it prints
    if text.isprintable():  # most texts are, and none of those holds what is written out
        return text
    return "".join(_written_out(character) for character in text)


def digest(text: str) -> str:
    """Return 32 hexadecimal digits that no other text has (BLAKE2b, RFC 7693)."""
    return blake2b(text.encode("utf-8", "surrogateescape"), digest_size=16).hexdigest()


def one_line(text: str) -> str:
    r"""Return `text` as one line that is safe to show.

    >>> one_line("two\nlines")
    'two lines'
    """
    return safe(" ".join(text.split()))


def few(words: Sequence[str], most: int, between: str = ", ") -> str:
    """Return the first words, and how many more there are.

    >>> few(["W1", "W2", "W3"], 2)
    'W1, W2 and 1 more'
    """
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return between.join(words[:most]) + more


def near(word: str, known: Iterable[str], most: int = 3, alike: float = 0.5) -> list[str]:
    """Return up to `most` words that one mistyped may be meant for, in any case; the nearest first.

    `alike` is the share of the characters that must be the same.

    >>> near("SLUISE", ["PUMP", "SLUICE", "sluice 2"]), near("x", ["PUMP"])
    (['SLUICE', 'sluice 2'], [])
    """
    from difflib import get_close_matches

    spelt = {each[:_COMPARED].casefold(): each for each in known}
    folded = word[:_COMPARED].casefold()
    return [spelt[each] for each in get_close_matches(folded, spelt, most, alike)]


def _written_out(character: str) -> str:
    if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp"):
        return character
    return character.encode("unicode_escape").decode("ascii")
