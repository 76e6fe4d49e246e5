# SPDX-License-Identifier: MIT
"""The address of the page of each kind of thing."""

from __future__ import annotations

from urllib.parse import quote

_FOLDERS = {
    "conductor": "/",
    "reading": "/",
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
    return _FOLDERS[what] + quote(code, safe="")
