# SPDX-License-Identifier: MIT
"""Text made safe to show: nothing in a name or a file may steer a terminal."""

from __future__ import annotations

import unicodedata


def safe(text: str) -> str:
    r"""Return `text` with every control character and direction override written out.

    >>> safe("pump\x1b[31m")
    'pump\\x1b[31m'
    """
    text = str(text)  # a tag as it prints
    if text.isprintable():  # most texts are, and none of those holds what is written out
        return text
    return "".join(_written_out(character) for character in text)


def one_line(text: str) -> str:
    r"""Return `text` as one line that is safe to show.

    >>> one_line("two\nlines")
    'two lines'
    """
    return safe(" ".join(text.split()))


def _written_out(character: str) -> str:
    if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp"):
        return character
    return character.encode("unicode_escape").decode("ascii")
