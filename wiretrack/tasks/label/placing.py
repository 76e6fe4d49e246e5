# SPDX-License-Identifier: MIT
"""Noting that labels are on their wires, and taking that back."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, FieldError
from wiretrack.labels.subject import label_subject
from wiretrack.late import dataclass
from wiretrack.store import label_log
from wiretrack.tasks.label.ends import NamedEnd, conductors_asked

if TYPE_CHECKING:
    from wiretrack.model.entities import ConductorEnd
    from wiretrack.store.store import Registry

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
            more = f" and {len(ends) - _NAMED} more" if len(ends) > _NAMED else ""
            told.append(f"{why.of_several}: {', '.join(ends[:_NAMED])}{more}. {why.hint}")
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
