# SPDX-License-Identifier: MIT
"""The wiring rules over the records of a site, and the markings that its code demands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.checks import check_document, markings_of
from wiretrack.registry.dumping import document
from wiretrack.registry.searching import resolve
from wiretrack.tags import format_tag

if TYPE_CHECKING:
    from wiretrack.registry.store import Registry


def check(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return what the rules of the site's code say: a row for each rule and subject.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called `what`.
    """
    wanted = _code(registry, what)
    return [finding.as_json() for finding in check_document(document(registry), wanted)]


def markings(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return every marking to be stuck on raceways and boxes, in order along each run."""
    wanted = _code(registry, what)
    return [marking.as_json() for marking in markings_of(document(registry), wanted)]


def counted(rows: list[dict[str, Any]]) -> dict[str, int]:
    """Return how many markings of each wording are to be ordered."""
    counts: dict[str, int] = {}
    for row in rows:
        wording = row["wording"] or "wording unknown"
        counts[wording] = counts.get(wording, 0) + 1
    return counts


def _code(registry: Registry, what: str | None) -> str | None:
    if what is None:
        return None
    named = resolve(registry, what)
    return format_tag(named.code) if named.what == "conductor" else named.code
