# SPDX-License-Identifier: MIT
"""How the site in use counts and speaks: its time zone, its unit of length, its rules' words.

A process serves one registry. What it says is asked once a thread needs it.
"""

from __future__ import annotations

import re
import threading
from typing import TYPE_CHECKING

from wiretrack.late import dataclass, pattern

if TYPE_CHECKING:
    from collections.abc import Callable

# What the program writes, and what a site under the NEC reads: NEC article 100 (reprint).
NEC_WORDS = {
    "equipment earthing conductor": "equipment grounding conductor",
    "protective conductor": "equipment grounding conductor",
    "earthing conductor": "equipment grounding conductor",
    "protective earthing": "equipment grounding",
    "earthed (grounded)": "grounded",
    "earth electrode": "grounding electrode",
    "earth fault": "ground fault",
    "earth-fault": "ground-fault",
    "unearthed": "ungrounded",
    "earthing": "grounding",
    "earthed": "grounded",
    "earths": "grounds",
    "earth": "ground",
}
_EITHER = "|".join(f"[{word[0]}{word[0].upper()}]{re.escape(word[1:])}" for word in NEC_WORDS)
_AN = pattern(r"\b([Aa])n(?= ground)")
_A = pattern(r"\b([Aa])(?= equipment grounding)")
_WORDS = pattern(rf"(?<!\w)'[^']*'(?!\w)|\b({_EITHER})(?=s?\b|(?<=\)))")


@dataclass(frozen=True)
class Manner:
    """What a site says of itself; `None` where it doesn't."""

    time_zone: str | None = None
    units: str | None = None
    rules: str | None = None


_manner = Manner()
_asked = threading.local()


def use_once_asked(read: Callable[[], Manner]) -> None:
    """Go by what `read` returns; it is asked once this thread needs it."""
    _asked.read = read


def never_ask(read: Callable[[], Manner]) -> None:
    """Ask `read` no more: what it reads is closed."""
    if _asked.__dict__.get("read") == read:
        _asked.__dict__.clear()


def use(manner: Manner) -> None:
    """Go by this from now on: it is of the registry that is in use."""
    global _manner
    _asked.__dict__.clear()
    _manner = manner


def here() -> Manner:
    """Return the manner of the site in use."""
    read = _asked.__dict__.pop("read", None)
    if read is not None:
        use(read())
    return _manner


def words(text: str) -> str:
    """Return a sentence of the program in the words of the site's rules; quotations stay.

    >>> use(Manner(rules="NEC"))
    >>> words("The protective conductors of 'earth rod' are earthed.")
    "The equipment grounding conductors of 'earth rod' are grounded."
    >>> use(Manner())
    >>> words("earth fault")
    'earth fault'
    """
    if here().rules != "NEC":
        return text
    return _A.sub(r"\1n", _AN.sub(r"\1", _WORDS.sub(_nec_word, text)))


def _nec_word(found: re.Match[str]) -> str:
    if found[1] is None:
        return found[0]
    word = NEC_WORDS[found[1].lower()]
    return word.capitalize() if found[1][0].isupper() else word
