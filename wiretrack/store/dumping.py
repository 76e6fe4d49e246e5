# SPDX-License-Identifier: MIT
"""The whole registry as one site document; loading that document gives an equal registry."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.source import StoredSource
from wiretrack.store.writing import unpacked

if TYPE_CHECKING:
    from wiretrack.model.document import SiteDocument
    from wiretrack.store.store import Registry

Row = dict[str, Any]


def document(registry: Registry) -> SiteDocument:
    """Return everything that `registry` holds, in the order in which it came."""
    rows = registry.rows
    return replace(
        StoredSource(registry).everything(),
        rest={
            **{kind: procedures.dumped(registry, kind) for kind in NOUNS},
            "label_prints": tuple(unpacked(r, "legend") for r in rows(_LABEL_PRINTS)),
            "placed_labels": tuple(unpacked(r, "legend") for r in rows(_PLACED_LABELS)),
            "changes": tuple(unpacked(r, "old", "new") for r in rows(_CHANGES)),
        },
    )


_LABEL_PRINTS = """
    SELECT l.id, c.tag, l.side AS "end", l.form, l.stock, l.legend, l.file, l.at
    FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_PLACED_LABELS = """
    SELECT l.id, c.tag, l.side AS "end", l.print_id AS print, l.legend, l.takes_back, l.at, l.by
    FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_CHANGES = "SELECT id, at, by, what, record, action, old, new FROM changes ORDER BY seq"
