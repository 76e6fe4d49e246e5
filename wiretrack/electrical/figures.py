# SPDX-License-Identifier: MIT
"""Figures as people write them: decimal commas, groups of thousands, letters for the point."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import AmbiguousError
from wiretrack.late import pattern

if TYPE_CHECKING:
    import re

LONGEST = 60  # characters of a text that a message repeats; common practice
# A figure with commas in it, and what its commas can be.
_COMMAS = pattern(r"[0-9.,]*,[0-9.,]*")
_EITHER = pattern(r"[1-9][0-9]{0,2},[0-9]{3}")
_DECIMAL = pattern(r"(?:[0-9]*|[1-9][0-9]{0,2}(?:\.[0-9]{3})+),[0-9]+")
_GROUPED = pattern(r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+\.[0-9]+|(?:,[0-9]{3}){2,})")
# IEC 60062:2016, clause 4 (read as: memory): the letter stands for the decimal sign.
_CODED = pattern(r"([>≥=<+-]*\s*[0-9]*)([RkKMGT])([0-9]+)")


def without_commas(plain: str, name: str) -> str:
    """Return a text whose figures have a point for the decimal sign and no groups.

    Raises `AmbiguousError` if a comma may be either; both readings are named, of what is called
    `name`; `ValueError` if a comma can be neither.

    >>> [without_commas(each, "a voltage") for each in ("0,3", "1,200.5", "1.200,5 V")]
    ['0.3', '1200.5', '1200.5 V']
    """

    def figure(found: re.Match[str]) -> str:
        written = found[0]
        if _EITHER.fullmatch(written):
            signs = (written.replace(",", "."), written.replace(",", ""))
            readings = [f"{plain[: found.start()]}{each}{plain[found.end() :]}" for each in signs]
            raise AmbiguousError(shown(plain), f"can be read as {name} in two ways", readings)
        if _DECIMAL.fullmatch(written):
            return written.replace(".", "").replace(",", ".")
        if _GROUPED.fullmatch(written):
            return written.replace(",", "")
        raise ValueError("a comma stands where none can")

    return _COMMAS.sub(figure, plain)


def decoded(plain: str) -> str:
    """Return a resistance with a point where it has a letter of IEC 60062; another text as it is.

    >>> decoded("4K7"), decoded("R47"), decoded("0.42R")
    ('4.7K', '.47R', '0.42R')
    """
    return _CODED.sub(r"\1.\3\2", plain) if _CODED.fullmatch(plain) else plain


def shown(text: str) -> str:
    """Return `text` as it may stand in a message: printable, and not endless."""
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return clean if len(clean) <= LONGEST else f"{clean[:LONGEST]}…"
