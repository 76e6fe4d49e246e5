# SPDX-License-Identifier: MIT
"""Which ends have no label, and which labels no longer say what the record says.

Three facts are kept apart. A label is due; it is printed; it is placed, which somebody says who put
it on its wire. The print log keeps what each label said when it was printed, and what is said of
placed ones keeps what those written by hand say; that is compared with what the same label would
say now. One that says less than the record does now is still true. Neither log ever changes.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag
from wiretrack.tasks.label.ends import SIDES, subjects, subjects_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from wiretrack.labels.subject import LabelSubject
    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

NO_LABEL, PRINTED, UNTRUE = "no label", "printed, not yet on", "label no longer true"
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


@dataclass(frozen=True, kw_only=True)
class EndLabel:
    """The label of one end: what was printed last, what is on the wire, and what is untrue of each.

    `placed_at` is when somebody said that it is on the wire, `untrue` what of it isn't so now.
    `print_untrue` is what isn't so of the label printed last, where that isn't the one on the wire;
    `taken_back` says that it was on, and no longer is.
    """

    printed_at: str | None = None
    placed_at: str | None = None
    untrue: str | None = None
    untrue_since: str | None = None
    print_id: str | None = None
    placed_ids: tuple[str, ...] = ()
    print_is_on: bool = False
    print_untrue: str | None = None
    taken_back: bool = False

    @property
    def holds(self) -> bool:
        """Return whether a label is on the end and still tells the truth."""
        return self.placed_at is not None and self.untrue is None

    @property
    def waits(self) -> bool:
        """Return whether a printed label that is true waits to be put on."""
        return self.print_id is not None and not self.print_is_on and self.print_untrue is None

    @property
    def may_be_on(self) -> bool:
        """Return whether a label may be on the wire: one that was printed, unless taken back."""
        return self.placed_at is not None or (self.printed_at is not None and not self.taken_back)

    @property
    def why(self) -> str:
        """Return why the end is due."""
        if self.untrue:
            return UNTRUE
        return PRINTED if self.waits else NO_LABEL

    @property
    def detail(self) -> str | None:
        """Return what is no longer true, of the label on the wire or else of the printed one."""
        if self.untrue and self.waits:
            return f"{self.untrue}; a new one is printed"
        printed = self.print_untrue and f"the one printed isn't true now ({self.print_untrue})"
        return self.untrue or printed


def label_due(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return the ends that `what` names whose label isn't on, or is untrue, and why.

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
            "why": label.why,
            "detail": label.detail,
            "printed_at": label.printed_at,
            "placed_at": label.placed_at,
            "to_print": not label.waits,
            "take_off": old.get((subject.tag, subject.end)),
        }
        for subject, label in due
    ]


def old_labels(registry: Registry) -> dict[tuple[str, str], str]:
    """Return whose label may still be on the end of each conductor that follows another.

    By tag and side; the tag there is to be taken off when the new label goes on. A conductor that
    was drawn out took its labels along.
    """
    found: dict[tuple[str, str], str] = {}
    rows = registry.rows(_FOLLOWING)
    followed = {row["tag"]: row for row in rows}
    logs = _logs(registry) if rows else {}
    for tag, row in followed.items():
        for side in SIDES:
            here, old = row, row
            while old["old"] is not None and old["because"] in _LEFT_BEHIND:
                if old[f"old_{side}"] != here[side]:
                    break
                log = logs.get((old["old"], side))
                if log is not None and log.label().may_be_on:
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
        of.enclosure_id AS old_from, ot.enclosure_id AS old_to
    FROM conductors AS c JOIN conductors AS o ON o.id = c.follows_id
    JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
    JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
    JOIN ends AS of ON of.conductor_id = o.id AND of.side = 'from'
    JOIN ends AS ot ON ot.conductor_id = o.id AND ot.side = 'to'"""


def due_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that need a label printed, as it would be now.

    Those whose true label is printed and waits to be put on aren't among them.
    """
    return [s for s, label in _due(registry, subjects(registry, what)) if not label.waits]


def labels_of(registry: Registry, found: Iterable[Conductor]) -> dict[tuple[str, str], EndLabel]:
    """Return the label of each end of these conductors, by tag and side."""
    of_tag = {conductor.tag or "": conductor for conductor in found}
    logs = _logs(registry, of_tag if len(of_tag) <= _FEW else None)
    labels: dict[tuple[str, str], EndLabel] = {
        (tag, side): EndLabel() for tag in of_tag for side in SIDES
    }
    logged = [of_tag[tag] for tag in dict.fromkeys(tag for tag, _ in logs) if tag in of_tag]
    for subject in subjects_of(registry, logged) if logged else ():
        label = _compared(subject, logs)
        labels[subject.tag, subject.end] = _dated(registry, subject.tag, label)
    return labels


def _due(registry: Registry, wanted: list[LabelSubject]) -> list[tuple[LabelSubject, EndLabel]]:
    logs = _logs(registry)
    compared = ((subject, _compared(subject, logs)) for subject in wanted)
    return [(subject, label) for subject, label in compared if not label.holds]


@dataclass
class _Log:
    """What the logs hold of one end: its last print, and what was said of placed labels."""

    printed: Mapping[str, Any] | None = None
    placed: tuple[Mapping[str, Any], ...] = ()

    def label(self) -> EndLabel:
        """Return the end's label, not yet compared with the record."""
        standing = [row for row in self.placed if not row["taken_back"]]
        own = self.printed["id"] if self.printed else None
        is_on = bool(standing and own and standing[-1]["print_id"] == own)
        return EndLabel(
            printed_at=self.printed["at"] if self.printed else None,
            placed_at=standing[-1]["at"] if standing else None,
            placed_ids=tuple(row["id"] for row in standing),
            print_id=own,
            print_is_on=is_on,
            taken_back=not is_on and any(row["print_id"] == own for row in self.placed),
        )

    def on_wire(self) -> Mapping[str, Any] | None:
        """Return what was last said of a placed label that still stands."""
        return next((row for row in reversed(self.placed) if not row["taken_back"]), None)


def _compared(subject: LabelSubject, logs: Mapping[tuple[str, str], _Log]) -> EndLabel:
    log = logs.get((subject.tag, subject.end))
    if log is None:
        return EndLabel()
    label, on = log.label(), log.on_wire()
    untrue = _untrue(subject, on) if on else None
    printed = log.printed if log.printed and not label.print_is_on else None
    return replace(
        label, untrue=untrue, print_untrue=_untrue(subject, printed) if printed else None
    )


def _untrue(subject: LabelSubject, row: Mapping[str, Any]) -> str | None:
    """Return what a label says otherwise than the record, in words."""
    told = json.loads(row["legend"])
    told = told if isinstance(told, dict) else {}
    changes = [
        f"{word}: it says {told[name]}, the record {getattr(subject, name) or 'none'}"
        for name, word in _WORDS.items()
        if told.get(name) and told[name] not in _sayings(subject, name)
    ]
    return "; ".join(changes) or None


def _sayings(subject: LabelSubject, name: str) -> tuple[str | None, ...]:
    """Return what a true label may say of one thing: the record, or of a place its box alone."""
    boxes = {"this_place": subject.this_box, "other_place": subject.other_box}
    return getattr(subject, name), boxes.get(name)


def _dated(registry: Registry, tag: str, label: EndLabel) -> EndLabel:
    """Return an untrue label with the first change after it was placed that can have made it so."""
    if label.untrue is None:
        return label
    row = registry.row(_CHANGED, {"tag": tag, "placed": label.placed_at})
    return replace(label, untrue_since=(row and row["at"]) or label.placed_at)


_CHANGED = """
    SELECT min(x.at) AS at FROM changes AS x JOIN conductors AS c ON c.tag = :tag
    WHERE x.at >= :placed AND x.action = 'changed' AND (x.what = 'site'
        OR x.record IN (c.id, c.circuit_id)
        OR x.record IN (SELECT e.id FROM ends AS e WHERE e.conductor_id = c.id))"""


_FEW = 4000


def _logs(registry: Registry, tags: Collection[str] | None = None) -> dict[tuple[str, str], _Log]:
    """Return what the logs hold of each end of these conductors; of all, where none are named."""
    where = "" if tags is None else f" AND c.tag IN ({', '.join('?' * len(tags))})"
    found: dict[tuple[str, str], _Log] = {}
    for row in registry.rows(_PRINTS.format(where), sorted(tags or ())):
        found.setdefault((row["tag"], row["side"]), _Log()).printed = row
    for row in registry.rows(_PLACED.format(where), sorted(tags or ())):
        found.setdefault((row["tag"], row["side"]), _Log()).placed += (row,)
    return found


_PRINTS = (
    "SELECT c.tag, l.side, l.id, l.legend, l.at FROM label_prints AS l"
    " JOIN conductors AS c ON c.id = l.conductor_id WHERE 1{} ORDER BY l.at, l.rowid"
)
_PLACED = (
    "SELECT c.tag, l.side, l.id, l.print_id, coalesce(l.legend, p.legend) AS legend, l.at,"
    " EXISTS (SELECT 1 FROM placed_labels AS t WHERE t.takes_back = l.id) AS taken_back"
    " FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id"
    " LEFT JOIN label_prints AS p ON p.id = l.print_id"
    " WHERE l.takes_back IS NULL{} ORDER BY l.at, l.id"
)
