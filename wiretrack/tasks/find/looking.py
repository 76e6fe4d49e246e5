# SPDX-License-Identifier: MIT
"""Looking things up by words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag
from wiretrack.store import searching

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

FIND_LIMIT = searching.FIND_LIMIT
_TAGGED = ("conductor", "reading")


def find(registry: Registry, text: str) -> list[dict[str, Any]]:
    """Return what carries all words of `text`, best first: rows of ``what``, ``code``, ``text``.

    No more than `FIND_LIMIT` are returned.
    """
    return [
        {
            "what": hit.what,
            "code": format_tag(hit.code) if hit.what in _TAGGED else hit.code,
            "text": hit.text,
        }
        for hit in searching.find(registry, text)
    ]
