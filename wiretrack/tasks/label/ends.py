# SPDX-License-Identifier: MIT
"""The ends that a word names, and their labels: wanted, due, put on, taken off."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, FieldError, Hint
from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONDUCTOR, Asked, label_subject
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.plain import few
from wiretrack.store import label_log
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
    """Return of what labels are wanted, with the site that it is a record of."""
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


_NAMED = 3  # ends that a refusal names for each reason


@dataclass(frozen=True)
class _Why:
    """Why it can't be noted that a label is on: of one end, over several, and what to do."""

    of_one: str
    of_several: str
    hint: str


UNKNOWN = _Why("isn't identified", "Not identified", "Ring it out or land it first.")
NEVER = _Why(
    "has no printed label",
    "No printed label",
    "Print one first, or say that it was written by hand.",
)
PRINT_UNTRUE = _Why(
    "has a printed label that is no longer true",
    "Printed label no longer true",
    "Print it again first.",
)


@dataclass(frozen=True)
class Ends:
    """Which ends are meant: both of whatever is named, or one; `seen` is where a page showed it."""

    what: str
    end: str | None = None
    seen: str | None = None


@dataclass(frozen=True)
class PlacedEnd(NamedEnd):
    """An end whose label goes on; `by_hand`: nobody printed it."""

    by_hand: bool


@dataclass(frozen=True)
class LeftOut(NamedEnd):
    """An end for which it can't be said that a label is on: why, and what to do."""

    why: str
    detail: str | None
    hint: str


@dataclass(frozen=True)
class Placing:
    """What there is to note: labels that go on, those noted already, and ends left out with why."""

    placed: list[PlacedEnd] = field(default_factory=list)
    already: list[NamedEnd] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    rows: list[dict[str, Any]] = field(default_factory=list, metadata={"json": None})  # to be kept

    @property
    def count(self) -> int:
        """Return the number of ends."""
        return len(self.placed) + len(self.already) + len(self.left_out)


@dataclass(frozen=True)
class TakenBack:
    """The ends that are noted as having no label on."""

    taken_back: list[NamedEnd]


def look_at_labels(registry: Registry, ends: Ends, *, by_hand: bool = False) -> Placing:
    """Return which labels of these ends can be noted as on their wires.

    A label that was printed must still be true. One written by hand (`by_hand`) is taken to say
    what the record says now. An end that isn't identified has no label of its own. `NotFoundError`
    or `TagError` or `BadInputError` if nothing is called so, or it has no such end.
    """
    found = Placing()
    for end in _labelled(registry, ends):
        row, label = _named(end), end.label
        why, detail = _why_not(end, by_hand)
        if why:
            found.left_out.append(LeftOut(*row, why.of_one, detail, why.hint))
        elif label.holds and (by_hand or not label.waits):
            found.already.append(NamedEnd(*row))
        else:
            kept: dict[str, Any] = {"tag": end.conductor.tag, "end": end.side}
            if by_hand:
                kept["legend"] = label_subject(end).said(text_only=True)
            else:
                kept["print_id"] = label.printed and label.printed.id
            found.rows.append(kept)
            found.placed.append(PlacedEnd(*row, by_hand))
    return found


def place_labels(
    registry: Registry,
    ends: Ends,
    *,
    by_hand: bool = False,
    leave_out: bool = False,
    who: str | None = None,
) -> Placing:
    """Note as one durable change that the labels of these ends are on.

    With `leave_out` the ends for which that can't be said are left out; without it, nothing is
    noted then. `NotFoundError` or `TagError` or `BadInputError` if nothing is called so, or it
    can't be said of an end.
    """
    with registry.write(who):
        found = look_at_labels(registry, ends, by_hand=by_hand)
        if found.left_out and not (leave_out and (found.rows or found.already)):
            raise BadInputError(why_left_out(found))
        label_log.add_placed(registry, found.rows, who=who)
    return found


def take_back_labels(registry: Registry, ends: Ends, *, who: str | None = None) -> TakenBack:
    """Note as one durable change that no label is on these ends: a mistake, or it came off."""
    with registry.write(who):
        taken, rows = [], []
        for end in _labelled(registry, ends):
            if end.label.placed_ids:
                taken.append(NamedEnd(*_named(end)))
            rows += [
                {"tag": end.conductor.tag, "end": end.side, "takes_back": placed}
                for placed in end.label.placed_ids
            ]
        if not rows:
            raise BadInputError(
                f"No label of {ends.what} is noted as on. There is nothing to take back."
            )
        label_log.add_placed(registry, rows, who=who)
    return TakenBack(taken)


def why_left_out(found: Placing) -> str:
    """Return in one line of which ends it can't be noted that a label is on, and why."""
    if len(found.left_out) == 1:
        (row,) = found.left_out
        detail = f" ({row.detail})" if row.detail else ""
        return f"The {row.end} end of {row.tag} in {row.place} {row.why}{detail}. {row.hint}"
    told = [f"{len(found.left_out)} of {found.count} ends can't be noted as labelled."]
    for why in (UNKNOWN, NEVER, PRINT_UNTRUE):
        ends = [f"{r.tag} {r.end}" for r in found.left_out if r.why == why.of_one]
        if ends:
            told.append(f"{why.of_several}: {few(ends, _NAMED)}. {why.hint}")
    return " ".join(told)


def _named(end: ConductorEnd) -> tuple[str, str, str]:
    return str(end.conductor.tag), end.side, end.here.place


def _why_not(end: ConductorEnd, by_hand: bool) -> tuple[_Why | None, str | None]:
    """Return why it can't be noted that the label of an end is on, and what is untrue of it."""
    label = end.label
    if not end.is_identified:
        return UNKNOWN, None
    if by_hand or label.holds or label.waits:
        return None, None
    if label.printed is None:
        return NEVER, None
    return PRINT_UNTRUE, label.untrue if label.print_is_on else label.print_untrue


def _labelled(registry: Registry, ends: Ends) -> list[ConductorEnd]:
    """Return these ends; one that is no longer where it was seen is refused."""
    asked = conductors_asked(registry, ends.what)
    chosen = [end for end in asked.ends if ends.end in (None, end.side)]
    asked.site.load_labels([end.conductor.tag for end in chosen])
    if ends.seen is not None and [end.here.place for end in chosen] != [ends.seen]:
        raise FieldError("place", "The end was changed since. Look at its label again.")
    if not chosen:
        side = f"{ends.end} end" if ends.end else "conductor's end"
        raise BadInputError(f"{ends.what} has no {side} that could carry a label.")
    return chosen
