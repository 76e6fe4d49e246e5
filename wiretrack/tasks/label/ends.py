# SPDX-License-Identifier: MIT
"""The ends that a word names, what labels are wanted of them, which are due and which come off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint
from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONDUCTOR, Asked
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.labels.subject import LabelKind, LabelSubject
    from wiretrack.model.entities import ConductorEnd
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Which labels: of what, of which kind; `due` are conductors' ends that need one only."""

    what: str | None
    kind: str = CONDUCTOR.kind
    due: bool = False
    pitch_mm: float | None = None
    terminals: tuple[str, ...] = ()

    @property
    def plug(self) -> LabelKind:
        """The kind itself."""
        return KINDS[self.kind]


def asked(registry: Registry, wanted: Wanted) -> Asked:
    """Return of what labels are wanted, with the site that it is a record of.

    `NotFoundError` or `TagError` or `RetiredError` if nothing is called so, or it is a conductor
    that is no longer part of the work; `BadInputError` if nothing is named where something must be.
    """
    site, kind, word, part = site_of(registry), wanted.plug, wanted.what, None
    if word is None:
        if not kind.of_site:
            raise BadInputError("Say what to label.", Hint("Name it, or take {due}."))
        return Asked(site=site)
    if kind.of_parts:
        word, slash, behind = word.partition("/")
        part = behind if slash else None
    named = resolve(registry, word, kind.of)
    if kind.of_conductors and named.what == "conductor":
        conductor_in_service(registry, named.code)
    return Asked(
        site=site,
        what=named.what,
        code=named.code,
        part=part,
        pitch_mm=wanted.pitch_mm,
        terminals=wanted.terminals,
    )


def conductors_asked(registry: Registry, what: str | None = None) -> Asked:
    """Return what a word names, of which conductors' ends may be asked; the site without it."""
    if what is None:
        return Asked(site=site_of(registry))
    return asked(registry, Wanted(what=what))


_LEFT_BEHIND = ("cut", "abandoned")  # a conductor that was pulled out took its labels along


@dataclass(frozen=True)
class NamedEnd:
    """An end, and where it is."""

    tag: str
    end: str
    place: str


@dataclass(frozen=True)
class DueLabel(NamedEnd):
    """An end whose label isn't on, or is untrue: why, and what is to be done about it.

    `to_print` says that one is to be printed first, `take_off` whose label may still be there.
    """

    why: str
    detail: str | None
    printed_at: str | None
    placed_at: str | None
    to_print: bool
    take_off: str | None


@dataclass(frozen=True)
class OldLabel(NamedEnd):
    """A label that may still be on a retired conductor."""

    printed_at: str | None
    placed_at: str | None


def label_due(registry: Registry, what: str | None = None) -> list[DueLabel]:
    """Return the ends that `what` names whose label isn't on, or is untrue, and why."""
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
