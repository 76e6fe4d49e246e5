# SPDX-License-Identifier: MIT
"""Which field of a form an error is about, so that it is said there; and how a page says it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.errors import BadInputError

_SENTENCE, _OPTION = re.compile(r"(?<=\.) "), re.compile(r"(?<![\w'-])--[a-z]")
_COMMAND = re.compile(r"(?: with|, or)?: ?wiretrack [a-z][^.;]*")


def field_at_fault(error: BadInputError, typed: Mapping[str, str]) -> str:
    """Return the field whose text the error is about; empty where it is about none alone.

    Errors name the value at fault, either whole or one word of it (a tag of a list).
    """
    named = getattr(error, "text", None) or getattr(error, "code", None)
    told = str(error)
    for name, text in typed.items():
        plain = text.strip()
        words = {plain, *plain.replace(",", " ").split(), *plain.split("=")} - {""}
        if any(word == named or f"'{word}'" in told for word in words):
            return name
    return ""


def without_commands(told: str) -> str:
    """Return a message without the command line, or the sentences on options, that it advises.

    What is wrong, its first sentence, stays whole.

    >>> without_commands("No fault is searched for. Begin with: wiretrack symptom start TAG")
    'No fault is searched for. Begin'
    >>> without_commands("isolate, then test it")
    'isolate, then test it'
    >>> without_commands("Other gear is under way. Go on by --switch. Nothing is lost.")
    'Other gear is under way. Nothing is lost.'
    """
    first, *others = _SENTENCE.split(_COMMAND.sub("", told))
    return " ".join([first, *(other for other in others if not _OPTION.search(other))])
