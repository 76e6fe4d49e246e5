# SPDX-License-Identifier: MIT
"""Looking things up by words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag, is_plain_tag
from wiretrack.store import searching

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

FIND_LIMIT = searching.FIND_LIMIT


def _is_tagged(hit: searching.Hit) -> bool:
    """Return whether it has a tag: a reading may be of a device or a circuit."""
    return hit.what == "conductor" or (hit.what == "reading" and is_plain_tag(hit.code))


def find(registry: Registry, text: str) -> list[dict[str, Any]]:
    """Return what carries all words of `text`, best first: rows of ``what``, ``code``, ``text``.

    No more than `FIND_LIMIT` are returned.
    """
    return [
        {
            "what": hit.what,
            "code": format_tag(hit.code) if _is_tagged(hit) else hit.code,
            "text": hit.text,
        }
        for hit in searching.find(registry, text)
    ]
