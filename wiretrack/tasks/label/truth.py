# SPDX-License-Identifier: MIT
"""Which ends have no label, and which labels no longer say what the record says.

Three facts are kept apart. A label is due; it is printed; it is placed, which somebody says who put
it on its wire. The print log keeps what each label said when it was printed, and what is said of
placed ones keeps what those written by hand say; that is compared with what the same label would
say now. One that says less than the record does now is still true. Neither log ever changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.labels.kinds import as_labelled_now
from wiretrack.model.entities import Conductor
from wiretrack.store import history, label_log
from wiretrack.store.source import site_of
from wiretrack.tasks.label.ends import SIDES, subjects

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

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
    new = [conductor for conductor in here if conductor.follows is not None]
    before = {conductor.tag: conductor.earlier for conductor in new}
    logs = _logs(registry, {old.tag for chain in before.values() for old in chain})
    for conductor in new:
        for side in SIDES:
            for old in before[conductor.tag]:
                left = old.retired_because in _LEFT_BEHIND
                if not left or _box(old, side) != _box(conductor, side):
                    break
                log = logs.get((old.tag, side))
                if log is not None and log.label().may_be_on:
                    found[conductor.tag, side] = str(old.tag)
                    break
    return found


_LEFT_BEHIND = ("cut", "abandoned")


def _box(conductor: Conductor, side: Side) -> str:
    return (conductor.from_end if side == "from" else conductor.to_end).enclosure


def due_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that need a label printed, as it would be now.

    Those whose true label is printed and waits to be put on aren't among them.
    """
    return [s for s, label in _due(registry, subjects(registry, what)) if not label.waits]


def labels_of(registry: Registry, found: Iterable[Conductor]) -> dict[tuple[str, str], EndLabel]:
    """Return the label of each end of these conductors, by tag and side."""
    of_tag: dict[str, Conductor] = {conductor.tag: conductor for conductor in found}
    logs = _logs(registry, of_tag)
    labels: dict[tuple[str, str], EndLabel] = {
        (tag, side): EndLabel() for tag in of_tag for side in SIDES
    }
    logged = [of_tag[tag] for tag in dict.fromkeys(tag for tag, _ in logs) if tag in of_tag]
    for subject in as_labelled_now(logged, site_of(registry)) if logged else ():
        label = _compared(subject, logs)
        labels[subject.tag, subject.end] = _dated(registry, subject.tag, label)
    return labels


def _due(registry: Registry, wanted: list[LabelSubject]) -> list[tuple[LabelSubject, EndLabel]]:
    logs = _logs(registry, {subject.tag for subject in wanted})
    compared = ((subject, _compared(subject, logs)) for subject in wanted)
    return [(subject, label) for subject, label in compared if not label.holds]


@dataclass
class _Log:
    """What the logs hold of one end: its last print, and what was said of placed labels."""

    printed: LoggedLabel | None = None
    placed: tuple[LoggedLabel, ...] = ()

    def label(self) -> EndLabel:
        """Return the end's label, not yet compared with the record."""
        standing = [one for one in self.placed if not one.taken_back]
        own = self.printed.id if self.printed else None
        is_on = bool(standing and own and standing[-1].print_id == own)
        return EndLabel(
            printed_at=self.printed.at if self.printed else None,
            placed_at=standing[-1].at if standing else None,
            placed_ids=tuple(one.id for one in standing),
            print_id=own,
            print_is_on=is_on,
            taken_back=not is_on and any(one.print_id == own for one in self.placed),
        )

    def on_wire(self) -> LoggedLabel | None:
        """Return what was last said of a placed label that still stands."""
        return next((one for one in reversed(self.placed) if not one.taken_back), None)


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


def _untrue(subject: LabelSubject, label: LoggedLabel) -> str | None:
    """Return what a label says otherwise than the record, in words."""
    told = label.legend
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
    since = history.first_change(registry, tag, label.placed_at or "")
    return replace(label, untrue_since=since or label.placed_at)


def _logs(registry: Registry, tags: Collection[str | None]) -> dict[tuple[str, str], _Log]:
    """Return what the logs hold of each end of these conductors."""
    found: dict[tuple[str, str], _Log] = {}
    for label in label_log.printed(registry, tags):
        found.setdefault((label.tag, label.side), _Log()).printed = label
    for label in label_log.placed(registry, tags):
        found.setdefault((label.tag, label.side), _Log()).placed += (label,)
    return found
