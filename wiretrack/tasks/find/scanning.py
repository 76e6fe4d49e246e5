# SPDX-License-Identifier: MIT
"""From a photograph to the records its codes lead to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError
from wiretrack.labels.payload import read_payload
from wiretrack.labels.scan import read_codes
from wiretrack.model.tags import box_in, format_tag
from wiretrack.store.searching import resolve, tag_of
from wiretrack.tasks.find.conductors import show_conductor
from wiretrack.tasks.find.showing import show_enclosure

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry


def scan(registry: Registry, image: Path) -> list[dict[str, Any]]:
    """Return each code in the picture once: its payload, the tag or box in it, the record.

    A payload that holds neither, or one that this registry doesn't know, has `None` there.
    """
    payloads = dict.fromkeys(read_codes(image))
    return [_found(registry, payload) for payload in payloads]


def _found(registry: Registry, payload: str) -> dict[str, Any]:
    tag, box = read_payload(payload), box_in(payload)
    record = None
    try:
        if tag:
            record = show_conductor(registry, tag_of(registry, tag))
        elif box:
            named = resolve(registry, box, ("enclosure",))
            record = show_enclosure(registry, named.code)
    except NotFoundError:
        record = None
    return {
        "payload": payload,
        "tag": format_tag(tag) if tag else None,
        "enclosure": box,
        "record": record,
    }
