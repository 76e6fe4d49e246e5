# SPDX-License-Identifier: MIT
"""The logs of a dump into the registry: ring-outs, searches, labels, and the history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.procedure import NOUNS
from wiretrack.store import procedures
from wiretrack.store.writing import insert_all, packed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from sqlite_utils import Database

    IdOf = Callable[..., str]  # of a table, by code; or by another column

Row = dict[str, Any]


def load_logs(db: Database, rest: Mapping[str, Iterable[Mapping[str, Any]]], id_of: IdOf) -> None:
    """Add ring-outs, searches, labels and history, whose records are there by now."""
    for kind in NOUNS:
        procedures.load(db, kind, rest.get(kind, ()), id_of)
    printed, placed = rest.get("label_prints", ()), rest.get("placed_labels", ())
    insert_all(db, "label_prints", (_label_print(row, id_of) for row in printed))
    insert_all(db, "placed_labels", (_placed_label(row, id_of) for row in placed))
    insert_all(db, "changes", map(_change, rest.get("changes", ())))


def _label_print(label: Mapping[str, Any], id_of: IdOf) -> Row:
    return {
        "id": label["id"],
        "conductor_id": id_of("conductors", label["tag"], "tag"),
        "side": label["end"],
        "form": label["form"],
        "stock": label["stock"],
        "legend": _packed(label["legend"]),
        "file": label.get("file"),
        "at": label["at"],
    }


def _placed_label(label: Mapping[str, Any], id_of: IdOf) -> Row:
    return {
        "id": label["id"],
        "conductor_id": id_of("conductors", label["tag"], "tag"),
        "side": label["end"],
        "print_id": label.get("print"),
        "legend": _packed(label.get("legend")),
        "takes_back": label.get("takes_back"),
        "at": label["at"],
        "by": label.get("by"),
    }


def _change(change: Mapping[str, Any]) -> Row:
    row = {key: change.get(key) for key in ("id", "at", "by", "what", "record", "action")}
    return {**row, "old": _packed(change.get("old")), "new": _packed(change.get("new"))}


def _packed(value: object) -> str | None:
    return None if value is None else packed(value)
