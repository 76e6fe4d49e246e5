# SPDX-License-Identifier: MIT
"""Which ends have no label, and which labels no longer say what the record says.

The print log keeps what each label said when it was printed; that is compared with what the same
label would say now. The log itself never changes: a new print is what makes an end right again.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack.tags import format_tag
from wiretrack.tasks.label_ends import SIDES, subjects, subjects_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from wiretrack.labels.subject import LabelSubject
    from wiretrack.records import Conductor
    from wiretrack.registry.store import Registry

NO_LABEL, UNTRUE = "no label", "label no longer true"
_WORDS = {
    "circuit": "circuit",
    "function": "function",
    "title": "title",
    "this_place": "this end",
    "other_place": "other end",
    "size": "size",
    "colour": "colour",
    "payload": "code",
}


@dataclass(frozen=True)
class EndLabel:
    """The label of one end: when it was last printed, what of it is no longer true, since when."""

    printed_at: str | None
    untrue: str | None = None
    untrue_since: str | None = None

    @property
    def holds(self) -> bool:
        """Return whether the end has a label that still tells the truth."""
        return self.printed_at is not None and self.untrue is None


def label_due(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return the ends that `what` names whose label is missing or untrue, and why.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    """
    return _due_rows(registry, subjects(registry, what))


def due_of(registry: Registry, found: Iterable[Conductor]) -> list[dict[str, Any]]:
    """Return `label_due` of these conductors."""
    return _due_rows(registry, subjects_of(registry, found))


def _due_rows(registry: Registry, wanted: list[LabelSubject]) -> list[dict[str, Any]]:
    due = _due(registry, wanted)
    old = old_labels(registry)
    return [
        {
            "tag": format_tag(subject.tag),
            "end": subject.end,
            "place": subject.this_place,
            "why": UNTRUE if label.untrue else NO_LABEL,
            "detail": label.untrue,
            "printed_at": label.printed_at,
            "take_off": old.get((subject.tag, subject.end)),
        }
        for subject, label in due
    ]


def old_labels(registry: Registry) -> dict[tuple[str, str], str]:
    """Return whose label is still on the end of each conductor that follows another.

    By tag and side; the tag there is to be taken off when the new label goes on. A conductor that
    was drawn out took its labels along.
    """
    found: dict[tuple[str, str], str] = {}
    rows = registry.rows(_FOLLOWING)
    followed = {row["tag"]: row for row in rows}
    for tag, row in followed.items():
        for side in SIDES:
            here, old = row, row
            while old["old"] is not None and old["because"] in _LEFT_BEHIND:
                if old[f"old_{side}"] != here[side]:
                    break
                if old[f"printed_{side}"]:
                    found[tag, side] = format_tag(old["old"])
                    break
                if old["old"] not in followed:
                    break
                old = followed[old["old"]]
    return found


_LEFT_BEHIND = ("cut", "abandoned")
_FOLLOWING = """
    SELECT c.tag, o.tag AS old, o.retired_because AS because,
        f.enclosure_id AS "from", t.enclosure_id AS "to",
        of.enclosure_id AS old_from, ot.enclosure_id AS old_to,
        EXISTS (SELECT 1 FROM label_prints AS l WHERE l.conductor_id = o.id AND l.side = 'from')
            AS printed_from,
        EXISTS (SELECT 1 FROM label_prints AS l WHERE l.conductor_id = o.id AND l.side = 'to')
            AS printed_to
    FROM conductors AS c JOIN conductors AS o ON o.id = c.follows_id
    JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
    JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
    JOIN ends AS of ON of.conductor_id = o.id AND of.side = 'from'
    JOIN ends AS ot ON ot.conductor_id = o.id AND ot.side = 'to'"""


def due_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that need a label, as it would be printed now."""
    return [subject for subject, _ in _due(registry, subjects(registry, what))]


def labels_of(registry: Registry, found: Iterable[Conductor]) -> dict[tuple[str, str], EndLabel]:
    """Return the label of each end of these conductors, by tag and side."""
    of_tag = {conductor.tag or "": conductor for conductor in found}
    printed = _last_prints(registry, of_tag if len(of_tag) <= _FEW else None)
    labels: dict[tuple[str, str], EndLabel] = {
        (tag, side): EndLabel(None) for tag in of_tag for side in SIDES
    }
    labelled = [of_tag[tag] for tag in dict.fromkeys(tag for tag, _ in printed) if tag in of_tag]
    for subject in subjects_of(registry, labelled) if labelled else ():
        label = _compared(subject, printed)
        labels[subject.tag, subject.end] = _dated(registry, subject.tag, label)
    return labels


def _due(registry: Registry, wanted: list[LabelSubject]) -> list[tuple[LabelSubject, EndLabel]]:
    printed = _last_prints(registry)
    compared = ((subject, _compared(subject, printed)) for subject in wanted)
    return [(subject, label) for subject, label in compared if not label.holds]


def _compared(subject: LabelSubject, printed: dict[tuple[str, str], dict[str, Any]]) -> EndLabel:
    row = printed.get((subject.tag, subject.end))
    if row is None:
        return EndLabel(None)
    told = json.loads(row["legend"])
    told = told if isinstance(told, dict) else {}
    changes = [
        f"{word}: it says {told[name] or 'nothing'}, the record {getattr(subject, name) or 'none'}"
        for name, word in _WORDS.items()
        if name in told and (told[name] or None) != (getattr(subject, name) or None)
    ]
    return EndLabel(row["at"], "; ".join(changes) or None)


def _dated(registry: Registry, tag: str, label: EndLabel) -> EndLabel:
    """Return an untrue label with the first change after its print that can have made it so."""
    if label.untrue is None:
        return label
    row = registry.row(_CHANGED, {"tag": tag, "printed": label.printed_at})
    return replace(label, untrue_since=(row and row["at"]) or label.printed_at)


_CHANGED = """
    SELECT min(x.at) AS at FROM changes AS x JOIN conductors AS c ON c.tag = :tag
    WHERE x.at >= :printed AND x.action = 'changed' AND (x.what = 'site'
        OR x.record IN (c.id, c.circuit_id)
        OR x.record IN (SELECT e.id FROM ends AS e WHERE e.conductor_id = c.id))"""


_FEW = 4000


def _last_prints(
    registry: Registry, tags: Collection[str] | None = None
) -> dict[tuple[str, str], dict[str, Any]]:
    """Return the last print of each end of these conductors; of all, where none are named."""
    sql = (
        "SELECT c.tag, l.side, l.legend, l.at FROM label_prints AS l"
        " JOIN conductors AS c ON c.id = l.conductor_id"
    )
    where = "" if tags is None else f" WHERE c.tag IN ({', '.join('?' * len(tags))})"
    rows = registry.rows(f"{sql}{where} ORDER BY l.at, l.rowid", sorted(tags or ()))
    return {(row["tag"], row["side"]): row for row in rows}
