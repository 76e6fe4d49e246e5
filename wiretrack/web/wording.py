# SPDX-License-Identifier: MIT
"""How pages word an error: with the labels of their fields, and beside the field it is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.errors import BadInputError, Hint, WiretrackError

# What forms call their fields; a hint that names another field leads nowhere on a page.
LABELS = {
    "tags": "The conductor (its tag; several in series, in order)",
    "against": "What it is in contact with: a tag, or raceway",
    "near": "Read at the near end",
    "far": "Read at the far end",
    "near_joined": "Read at the near end, far ends joined",
    "murray": "Arms, good:faulty",
    "varley": "Arms, good:set",
    "set": "Set at balance",
    "set_ohms": "Set at balance",
    "good": "The good conductor of the loop (its tag)",
    "loop": "Loop's resistance, if measured",
    "fault_ohms": "The fault's own resistance, if known",
    "raceway_ohms": "The raceway end to end, if it is in the way",
    "along": "Read end to end",
    "like": "A like conductor and its reading",
    "at": "Near end: the box where you measured",
    "leads": "Leads' resistance within the readings",
    "cell_temp": "Cells' temperature, at the back of a module",
    "beside": "Like strings read at the same moment",
    "temps": "Conductors' temperature",
}


def said(error: WiretrackError) -> str:
    """Return the whole message of an error, with labels for the fields that its hint names.

    What to do on the command line is left out.
    """
    return error.worded(advice)


def advice(hint: Hint) -> str:
    """Return a hint in a page's words; empty where it leads nowhere on a page."""
    return hint.worded(lambda name: f"“{LABELS[name]}”", lambda hint: "")


def field_at_fault(error: BadInputError, typed: Mapping[str, str]) -> str:
    """Return the field whose text the error is about; empty where it is about none alone.

    Errors name the value at fault, either whole or one word of it (a tag of a list).
    """
    told = error.what
    for name, text in typed.items():
        plain = text.strip()
        words = {plain, *plain.replace(",", " ").split(), *plain.split("=")} - {""}
        if any(word == error.value or f"'{word}'" in told for word in words):
            return name
    return ""
