# SPDX-License-Identifier: MIT
"""Which ends have no label, and which labels no longer say what the record says.

Three facts are kept apart. A label is due; it is printed; it is placed, which somebody says who put
it on its wire. The print log keeps what each label said when it was printed, and what is said of
placed ones keeps what those written by hand say; that is compared with what the same label would
say now. One that says less than the record does now is still true. Neither log ever changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from wiretrack.labels.kinds import as_labelled_now
from wiretrack.model.entities import Conductor
from wiretrack.store import history, label_log
from wiretrack.store.source import site_of
from wiretrack.tasks.label.ends import SIDES, subjects

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from wiretrack.labels.subject import LabelSubject, Side
    from wiretrack.store.label_log import LoggedLabel
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
    """The label of one end: what the logs hold of it, beside what it would say now.

    `printed` is the one printed last, `placed` are those said to be on the wire, the last one last.
    Without `now` nothing is compared. `untrue_since` is the first change that can have made the
    label on the wire untrue.
    """

    printed: LoggedLabel | None = None
    placed: tuple[LoggedLabel, ...] = ()
    now: LabelSubject | None = None
    untrue_since: str | None = None

    @property
    def placed_ids(self) -> tuple[str, ...]:
        """What was said of placed labels and not taken back, by its id."""
        return tuple(one.id for one in self.placed if not one.taken_back)

    @property
    def on_wire(self) -> LoggedLabel | None:
        """The label that is on the wire."""
        return next((one for one in reversed(self.placed) if not one.taken_back), None)

    @property
    def printed_at(self) -> str | None:
        """When the last label was printed."""
        return self.printed.at if self.printed else None

    @property
    def placed_at(self) -> str | None:
        """When somebody said that the label is on the wire."""
        return self.on_wire.at if self.on_wire else None

    @property
    def print_is_on(self) -> bool:
        """Whether the label printed last is the one on the wire."""
        on, printed = self.on_wire, self.printed
        return on is not None and printed is not None and on.print_id == printed.id

    @cached_property
    def untrue(self) -> str | None:
        """What the label on the wire says otherwise than the record."""
        return self._untrue(self.on_wire)

    @cached_property
    def print_untrue(self) -> str | None:
        """What the label printed last says otherwise, where that isn't the one on the wire."""
        return None if self.print_is_on else self._untrue(self.printed)

    @property
    def holds(self) -> bool:
        """Return whether a label is on the end and still tells the truth."""
        return self.on_wire is not None and self.untrue is None

    @property
    def waits(self) -> bool:
        """Return whether a printed label that is true waits to be put on."""
        return self.printed is not None and not self.print_is_on and self.print_untrue is None

    @property
    def may_be_on(self) -> bool:
        """Return whether a label may be on the wire: one that was printed, unless taken back."""
        if self.on_wire or not self.printed:
            return self.on_wire is not None
        return all(one.print_id != self.printed.id for one in self.placed)

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

    def _untrue(self, label: LoggedLabel | None) -> str | None:
        """Return what a label says otherwise than the record, in words.

        Of a place its box alone is true too.
        """
        if label is None or self.now is None:
            return None
        boxes = {"this_place": self.now.this_box, "other_place": self.now.other_box}
        told = label.legend
        changes = [
            f"{word}: it says {told[name]}, the record {getattr(self.now, name) or 'none'}"
            for name, word in _WORDS.items()
            if told.get(name) and told[name] not in (getattr(self.now, name), boxes.get(name))
        ]
        return "; ".join(changes) or None


@dataclass(frozen=True)
class DueLabel:
    """An end whose label isn't on, or is untrue: why, and what is to be done about it.

    `to_print` says that one is to be printed first, `take_off` whose label may still be there.
    """

    tag: str
    end: Side
    place: str | None
    why: str
    detail: str | None
    printed_at: str | None
    placed_at: str | None
    to_print: bool
    take_off: str | None


@dataclass(frozen=True)
class OldLabel:
    """A label that may still be on a retired conductor."""

    tag: str
    end: Side
    place: str
    printed_at: str | None
    placed_at: str | None


def label_due(registry: Registry, what: str | None = None) -> list[DueLabel]:
    """Return the ends that `what` names whose label isn't on, or is untrue, and why.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    """
    return _due_rows(registry, subjects(registry, what))


def due_of(registry: Registry, found: Iterable[Conductor]) -> list[DueLabel]:
    """Return `label_due` of these conductors."""
    return _due_rows(registry, as_labelled_now(found, site_of(registry)))


def _due_rows(registry: Registry, wanted: list[LabelSubject]) -> list[DueLabel]:
    due = _due(registry, wanted)
    old = _old_labels(registry, {subject.tag for subject, _ in due})
    return [
        DueLabel(
            tag=subject.name,
            end=subject.end,
            place=subject.this_place,
            why=label.why,
            detail=label.detail,
            printed_at=label.printed_at,
            placed_at=label.placed_at,
            to_print=not label.waits,
            take_off=old.get((subject.tag, subject.end)),
        )
        for subject, label in due
    ]


def labels_to_take_off(registry: Registry, retired: Iterable[Conductor]) -> list[OldLabel]:
    """Return the labels that may still be on conductors just retired: printed, not taken back."""
    retired = list(retired)
    labels = labels_of(registry, retired)
    return [
        OldLabel(
            str(conductor.tag),
            side,
            end.place,
            label.printed_at,
            label.placed_at,
        )
        for conductor in retired
        for side, end in zip(SIDES, conductor.ends, strict=True)
        if (label := labels[conductor.tag, side]).may_be_on
    ]


def _old_labels(registry: Registry, tags: Collection[str]) -> dict[tuple[str, str], str]:
    """Return whose label may still be on the end of each of these that follows another conductor.

    By tag and side; the tag there is to be taken off when the new label goes on. A conductor that
    was drawn out took its labels along.
    """
    found: dict[tuple[str, str], str] = {}
    here = site_of(registry).find(Conductor, "tag", tags)
    before = [(new, new.earlier) for new in here if new.follows is not None]
    logs = _logged(registry, {old.tag for _, chain in before for old in chain})
    for new, chain in before:
        for side, end in zip(SIDES, new.ends, strict=True):
            for old in chain:
                box = dict(zip(SIDES, old.ends, strict=True))[side].enclosure
                if old.retired_because not in _LEFT_BEHIND or box != end.enclosure:
                    break
                if logs.get((old.tag, side), _NOTHING).may_be_on:
                    found[new.tag, side] = str(old.tag)
                    break
    return found


_LEFT_BEHIND = ("cut", "abandoned")
_NOTHING = EndLabel()


def due_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that need a label printed, as it would be now.

    Those whose true label is printed and waits to be put on aren't among them.
    """
    return [s for s, label in _due(registry, subjects(registry, what)) if not label.waits]


def labels_of(registry: Registry, found: Iterable[Conductor]) -> dict[tuple[str, str], EndLabel]:
    """Return the label of each end of these conductors, by tag and side."""
    of_tag: dict[str, Conductor] = {conductor.tag: conductor for conductor in found}
    logs = _logged(registry, of_tag)
    labels: dict[tuple[str, str], EndLabel] = {
        (tag, side): _NOTHING for tag in of_tag for side in SIDES
    }
    logged = [of_tag[tag] for tag in dict.fromkeys(tag for tag, _ in logs)]
    for now in as_labelled_now(logged, site_of(registry)) if logged else ():
        label = replace(logs.get((now.tag, now.end), _NOTHING), now=now)
        if label.untrue:
            since = history.first_change(registry, now.tag, label.placed_at or "")
            label = replace(label, untrue_since=since or label.placed_at)
        labels[now.tag, now.end] = label
    return labels


def _due(registry: Registry, wanted: list[LabelSubject]) -> list[tuple[LabelSubject, EndLabel]]:
    logs = _logged(registry, {now.tag for now in wanted})
    labels = (replace(logs.get((now.tag, now.end), _NOTHING), now=now) for now in wanted)
    return [(now, label) for now, label in zip(wanted, labels, strict=True) if not label.holds]


def _logged(registry: Registry, tags: Collection[str]) -> dict[tuple[str, str], EndLabel]:
    """Return what the logs hold of each end of these conductors, not yet compared."""
    found: dict[tuple[str, str], EndLabel] = {}
    for label in label_log.printed(registry, tags):
        found[label.tag, label.side] = EndLabel(printed=label)
    for label in label_log.placed(registry, tags):
        before = found.get((label.tag, label.side), _NOTHING)
        found[label.tag, label.side] = replace(before, placed=(*before.placed, label))
    return found
