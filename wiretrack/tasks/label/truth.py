# SPDX-License-Identifier: MIT
"""Which ends have no label, which labels are no longer true, and which old ones come off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.labels.subject import CONDUCTOR
from wiretrack.model.entities import Conductor
from wiretrack.store.source import site_of
from wiretrack.tasks.label.ends import conductors_asked

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.labels.subject import LabelSubject
    from wiretrack.model.entities import ConductorEnd
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

_LEFT_BEHIND = ("cut", "abandoned")  # a conductor that was drawn out took its labels along


@dataclass(frozen=True)
class DueLabel:
    """An end whose label isn't on, or is untrue: why, and what is to be done about it.

    `to_print` says that one is to be printed first, `take_off` whose label may still be there.
    """

    tag: str
    end: str
    place: str
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
    end: str
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
    asked = conductors_asked(registry, what)
    return _due_rows(asked.site, asked.ends)


def due_of(registry: Registry, found: Iterable[Conductor]) -> list[DueLabel]:
    """Return `label_due` of these conductors, as the record is now."""
    site = site_of(registry)
    return _due_rows(site, _ends_of(site, found))


def _ends_of(site: Site, found: Iterable[Conductor]) -> list[ConductorEnd]:
    tags = [conductor.tag for conductor in found]
    site.load(Conductor, "tag", tags)
    return [end for tag in tags for end in site.one(Conductor, tag).sides]


def _due_rows(site: Site, ends: list[ConductorEnd]) -> list[DueLabel]:
    site.load_labels([end.conductor.tag for end in ends])
    due = [end for end in ends if not end.label.holds]
    earlier = {old.tag for end in due for old in end.conductor.earlier}
    site.load_labels(earlier)
    return [
        DueLabel(
            tag=str(end.conductor.tag),
            end=end.side,
            place=end.here.place,
            why=end.label.why,
            detail=end.label.detail,
            printed_at=end.label.printed_at,
            placed_at=end.label.placed_at,
            to_print=not end.label.waits,
            take_off=_to_take_off(end),
        )
        for end in due
    ]


def labels_to_take_off(registry: Registry, retired: Iterable[Conductor]) -> list[OldLabel]:
    """Return the labels that may still be on conductors just retired: printed, not taken back."""
    site = site_of(registry)
    ends = _ends_of(site, retired)
    site.load_labels([end.conductor.tag for end in ends])
    return [
        OldLabel(
            str(end.conductor.tag),
            end.side,
            end.here.place,
            end.label.printed_at,
            end.label.placed_at,
        )
        for end in ends
        if end.label.may_be_on
    ]


def _to_take_off(end: ConductorEnd) -> str | None:
    """Return whose label may still be on an end that follows another conductor's, by its tag."""
    for old in end.conductor.earlier:
        before = next(one for one in old.sides if one.side == end.side)
        if old.retired_because not in _LEFT_BEHIND or before.here.enclosure != end.here.enclosure:
            return None
        if before.label.may_be_on:
            return str(old.tag)
    return None


def due_subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that need a label printed, as it would be now.

    Those whose true label is printed and waits to be put on aren't among them.
    """
    asked = conductors_asked(registry, what)
    ends = asked.ends
    asked.site.load_labels([end.conductor.tag for end in ends])
    return [
        subject
        for end, subject in zip(ends, CONDUCTOR.subjects(asked), strict=True)
        if not (end.label.holds or end.label.waits)
    ]
