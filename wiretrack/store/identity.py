# SPDX-License-Identifier: MIT
"""Identifiers: random for what people make, derived for what only exists within a parent.

An end, a pole, a terminal is the same thing in two copies of a registry exactly when its parent
and its place within the parent are the same; so its identifier follows from those two.
"""

from __future__ import annotations

import uuid
from hashlib import sha1


def new_id() -> str:
    """Return a new identifier, unique wherever registries meet (RFC 9562, UUID version 4)."""
    return str(uuid.uuid4())


def part_id(parent_id: str, part: str) -> str:
    """Return the identifier of the `part` of a record (RFC 9562, UUID version 5).

    >>> part_id("00000000-0000-4000-8000-000000000000", "end:from")
    'b20edee8-4fda-5650-8d6b-2cea05cce203'
    """
    parent = bytes.fromhex(parent_id.replace("-", ""))
    digest = sha1(parent + part.encode(), usedforsecurity=False).digest()[:16]
    text = f"{digest[:6].hex()}5{digest[6:].hex()[1:]}"
    text = f"{text[:16]}{int(text[16], 16) & 3 | 8:x}{text[17:]}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
