# SPDX-License-Identifier: MIT
"""Replacing a conductor by a new one on the same terminals and the same route."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.limits import check_metal
from wiretrack.electrical.quantities import parse_length_m
from wiretrack.errors import BadInputError, Hint
from wiretrack.exchange.codecs import COLOUR, DIAMETER_MM, SIZE
from wiretrack.exchange.places import check_code, check_text
from wiretrack.late import dataclass
from wiretrack.model.tags import NO_TAG, format_tag
from wiretrack.store import changing
from wiretrack.store.loading import add_conductor
from wiretrack.tasks.change.done import Done, moment_of_change, read_after, ringouts_touched
from wiretrack.tasks.change.retired import (
    ABANDONED,
    ABANDONED_CAUTION,
    conductor_in_service,
    refuse_too_early,
)
from wiretrack.tasks.label.ends import labels_to_take_off

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

# What a like-for-like conductor shares with the old one. Its length is measured again: what was cut
# for the old one is not what was cut for it; the raceways' lengths still tell the route's.
LIKE_FOR_LIKE = ("size", "metal", "insulation", "strands", "colour", "core", "outer_diameter_mm")
MOST_STRANDS = 10_000


@dataclass(frozen=True, kw_only=True)
class Replacement:
    """A new conductor as somebody typed it; `None` is not stated."""

    tag: str
    same: bool = False
    abandoned: bool = False
    size: str | None = None
    metal: str | None = None
    insulation: str | None = None
    strands: int | None = None
    colour: str | None = None
    core: str | None = None
    outer_diameter: str | None = None
    length: str | None = None
    note: str | None = None
    at: str | None = None


@dataclass(frozen=True, kw_only=True)
class Replaced(Done):
    """A conductor in the place of another one: what it took over, and what isn't known of it."""

    tag: str
    follows: str
    at: str
    old: str
    circuit: str
    function: str
    from_: str
    to: str
    taken_over: Sequence[str]
    unknown: Sequence[str]


def replace_conductor(
    registry: Registry, wanted: Replacement, *, who: str | None = None
) -> Replaced:
    """Retire a conductor and put a new one, with a new tag, in its place: one durable change.

    What isn't stated of the new one is unknown, unless it is said to be the same. `BadInputError`
    if the old one is retired, or a fact can't be understood.
    """
    at = moment_of_change(wanted.at)
    stated = _stated(wanted)
    with registry.write(who):
        old = conductor_in_service(registry, wanted.tag)
        refuse_too_early(registry, [old], at)
        because = ABANDONED if wanted.abandoned else "replaced"
        changing.retire_conductor(registry, old.tag, at, because)
        new = _new(old, stated, same=wanted.same)
        tag = add_conductor(registry.db, new)
        notes = [*ringouts_touched(registry, [old]), *read_after(registry, [old], at)]
    taken_over = [name for name in LIKE_FOR_LIKE if wanted.same and name not in stated]
    return Replaced(
        tag=format_tag(tag),
        follows=str(old.tag),
        at=at,
        old=because,
        circuit=old.circuit,
        function=old.function,
        from_=new.from_end.place,
        to=new.to_end.place,
        taken_over=[name for name in taken_over if getattr(old, name) is not None],
        unknown=[name for name in (*LIKE_FOR_LIKE, "length_m") if getattr(new, name) is None],
        take_off=labels_to_take_off(registry, [old]) if wanted.abandoned else (),
        notes=notes,
        cautions=[ABANDONED_CAUTION] if wanted.abandoned else (),
    ).with_left_to_do(registry, [tag])


def _stated(wanted: Replacement) -> dict[str, object]:
    if wanted.size is None and not wanted.same:
        raise BadInputError(
            "The size of the new conductor isn't stated.",
            Hint("Give {size}, or {same} if it is like the old one."),
        )
    if wanted.metal is not None:
        check_metal(wanted.metal)
    if wanted.strands is not None and not 1 <= wanted.strands <= MOST_STRANDS:
        raise BadInputError(f"{wanted.strands} strands can't be. Give from 1 to {MOST_STRANDS}.")
    found = {
        "size": wanted.size and SIZE.read(wanted.size),
        "metal": wanted.metal,
        "insulation": check_code("The insulation", wanted.insulation),
        "strands": wanted.strands,
        "colour": wanted.colour and COLOUR.read(wanted.colour),
        "core": check_code("The core", wanted.core),
        "outer_diameter_mm": wanted.outer_diameter and DIAMETER_MM.read(wanted.outer_diameter),
        "length_m": wanted.length and parse_length_m(wanted.length),
        "note": check_text("The note", wanted.note),
    }
    return {name: value for name, value in found.items() if value is not None}


def _new(old: Conductor, stated: dict[str, object], *, same: bool) -> Conductor:
    """Return the new conductor: where the old one was, without its end marks, cable and length."""
    unknown: dict[str, Any] = dict.fromkeys((*LIKE_FOR_LIKE, "cable", "length_m", "note"))
    kept = {name: getattr(old, name) for name in LIKE_FOR_LIKE} if same else {}
    ends = {
        "from_end": replace(old.from_end, mark=None, crossed_at=None),
        "to_end": replace(old.to_end, mark=None, crossed_at=None),
    }
    facts = {**unknown, **kept, **stated, **ends}
    return replace(old, id=None, tag=NO_TAG, follows=old.tag, **facts)
