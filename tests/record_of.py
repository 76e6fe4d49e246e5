# SPDX-License-Identifier: MIT
"""A record as `show --json` writes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.encoding import document
from wiretrack.tasks.find.showing import show

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def record_of(registry: Registry, what: str) -> dict[str, Any]:
    found: dict[str, Any] = document(show(registry, what))
    return found
