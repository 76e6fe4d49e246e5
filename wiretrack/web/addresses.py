# SPDX-License-Identifier: MIT
"""Addresses of pages, and the part of a list that an address asks for."""

from __future__ import annotations

from urllib.parse import quote

from flask import request

from wiretrack.model.tags import looks_like_tag

_FOLDERS = {
    "conductor": "/",
    "subject": "/subjects/",
    "circuit": "/circuits/",
    "enclosure": "/enclosures/",
    "raceway": "/raceways/",
    "pull": "/pulls/",
    "tests": "/tests/",
    "ringout": "/ringouts/",
    "search": "/searches/",
    "trouble": "/trouble?q=",
    "fault": "/faults/",
    "tree": "/trees/",
    "string": "/strings/",
}


def address_of(what: str, code: str) -> str:
    """Return the address of a page.

    >>> address_of("circuit", "PV 1/2")
    '/circuits/PV%201%2F2'
    """
    if what in ("subject", "reading"):  # what a reading is of; most are of conductors
        what = "conductor" if looks_like_tag(code) else "subject"
    return _FOLDERS[what] + quote(code, safe="")


HIGHEST = 2**62


def number_asked(name: str) -> int:
    """Return a number of the address; 0 for what is none."""
    typed = request.args.get(name, "")
    is_number = typed.isascii() and typed.isdecimal() and len(typed) < 19
    return min(int(typed), HIGHEST) if is_number else 0
