# SPDX-License-Identifier: MIT
"""Extending circuits through a box: conductors are cut there, and their pieces landed."""

from __future__ import annotations

from dataclasses import field, replace
from functools import partial
from typing import TYPE_CHECKING

from wiretrack.electrical.tables import code_of
from wiretrack.errors import BadInputError, Hint
from wiretrack.exchange.places import check_code
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.kinds import ENCLOSURE_KIND
from wiretrack.model.tags import NO_TAG, format_tag
from wiretrack.model.words import ENCLOSURE_KINDS
from wiretrack.store import changing
from wiretrack.store.loading import add_coded, add_conductor
from wiretrack.store.searching import is_called, resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.cutting import (
    CutEnds,
    Divided,
    Division,
    divide,
    ends_in_box,
    joined,
    lengths_of,
)
from wiretrack.tasks.change.done import Done, moment_of_change, read_after, ringouts_touched
from wiretrack.tasks.change.retired import (
    conductor_in_service,
    refuse_retired_circuit,
    refuse_too_early,
)
from wiretrack.tasks.label.ends import labels_to_take_off

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.parts import End
    from wiretrack.store.store import Registry
    from wiretrack.tasks.change.cutting import Ends, Pair


@dataclass(frozen=True, kw_only=True)
class Extension:
    """Circuits or conductors to be led through a box; `new_box` is its kind where it is new."""

    what: tuple[str, ...]
    through: str
    new_box: str | None = None
    division: Division | None = None
    ends: CutEnds = field(default_factory=CutEnds)
    at: str | None = None


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One of the two conductors that a cut one became."""

    tag: str
    from_: str
    to: str
    length_m: float | None


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A conductor that was cut, and its pieces: the near one at its "from" end."""

    tag: str
    circuit: str
    function: str
    near: Piece
    far: Piece


@dataclass(frozen=True)
class Untouched:
    """A conductor that was not cut, and why."""

    tag: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Extended(Done):
    """What became of conductors that were led through a box."""

    box: str
    at: str
    raceway: Divided | None
    cut: Sequence[Cut]
    untouched: Sequence[Untouched]


def extend(registry: Registry, wanted: Extension, *, who: str | None = None) -> Extended:
    """Cut the conductors that pass the box, land the pieces there, retire what was cut.

    All of it is one durable change, or nothing. `BadInputError` if the box isn't on the way of a
    conductor, an end would be nowhere, a terminal can't be taken, or lengths can't be so.
    """
    at = moment_of_change(wanted.at)
    with registry.write(who):
        box = _box(registry, wanted)
        chosen = _chosen(registry, wanted.what)
        division = divide(registry, wanted.division, box) if wanted.division else None
        cut, untouched = _split(registry, chosen, box, named=wanted.what)
        refuse_too_early(registry, cut, at)
        ends = ends_in_box(registry, wanted.ends, box, cut)
        lengths = lengths_of(registry, wanted.ends.lengths, cut)
        pieces = [_cut(registry, c, ends[c.tag], lengths[c.tag], at) for c in cut]
        notes = [*(division.notes if division else ()), *ringouts_touched(registry, cut),
                 *read_after(registry, cut, at)]  # fmt: skip
    return Extended(
        box=box,
        at=at,
        raceway=division,
        cut=[_row(registry, conductor, pair) for conductor, pair in zip(cut, pieces, strict=True)],
        untouched=untouched,
        take_off=labels_to_take_off(registry, cut),
        notes=[*notes, *_open_paths(registry, cut, ends, box), *_conduit_body(registry, box)],
    ).with_left_to_do(registry, [tag for pair in pieces for tag in pair])


def _box(registry: Registry, wanted: Extension) -> str:
    """Return the code of the box, put into the registry now where it is said to be new."""
    if wanted.new_box is None:
        return resolve(registry, wanted.through, ("enclosure",)).code
    kind = ENCLOSURE_KIND.meant(wanted.new_box)
    if kind not in ENCLOSURE_KINDS:
        raise BadInputError(
            f"'{wanted.new_box}' is not a kind of box. Kinds: {', '.join(ENCLOSURE_KINDS)}."
        )
    code = check_code("The box's code", wanted.through)
    if code is None:
        raise BadInputError("The box has no code.", Hint("Name it with {through}."))
    if is_called(registry, "enclosure", code):
        raise BadInputError(f"There is a box {code} already.", Hint("Leave out {new_box}."))
    if wanted.division is None:
        raise BadInputError(
            f"Say where the new box {code} lies.",
            Hint("Give {raceway} and {into}: the raceway that it divides."),
        )
    add_coded(registry.db, "enclosures", Enclosure(code=code, kind=kind))
    return code


def _chosen(registry: Registry, words: Sequence[str]) -> list[Conductor]:
    """Return the conductors in use that tags and circuits name, each once."""
    found: dict[str, Conductor] = {}
    for word in words:
        named = resolve(registry, word, ("circuit", "conductor"))
        if named.what == "circuit":
            refuse_retired_circuit(site_of(registry).one(Circuit, named.code))
            members = site_of(registry).one(Circuit, named.code).in_service
        else:
            members = [conductor_in_service(registry, named.code)]
        found |= {conductor.tag: conductor for conductor in members}
    if not found:
        raise BadInputError(f"{' '.join(words)} has no conductor in use. Nothing can be cut.")
    return list(found.values())


def _split(
    registry: Registry, chosen: Sequence[Conductor], box: str, *, named: Sequence[str]
) -> tuple[list[Conductor], list[Untouched]]:
    """Return the conductors that pass the box, and the others with the reason."""
    why = {c.tag: _why_not(registry, c, box) for c in chosen}
    cut = [c for c in chosen if why[c.tag] is None]
    untouched = [Untouched(format_tag(tag), reason) for tag, reason in why.items() if reason]
    if not cut:
        first = f"{untouched[0].tag} {untouched[0].why}"
        more = f", and so on for {len(untouched) - 1} more" if len(untouched) > 1 else ""
        raise BadInputError(
            f"No conductor of {' '.join(named)} passes {box}: {first}{more}.",
            Hint("To put the box into a raceway give {raceway} and {into}."),
        )
    return cut, untouched


def _why_not(registry: Registry, conductor: Conductor, box: str) -> str | None:
    """Return why a conductor isn't cut at the box, or `None` if it passes it."""
    if box in (conductor.from_end.enclosure, conductor.to_end.enclosure):
        return f"ends in {box} already"
    if conductor.pull is None:
        return "has no recorded route"
    if box in conductor.route.boxes:
        return None
    way = " → ".join(conductor.route.raceways) or "unknown"
    return f"runs by {way}, not through {box}"


def _conduit_body(registry: Registry, box: str) -> list[str]:
    """Return what the NEC asks of a conduit body in which conductors are joined.

    References
    ----------
    .. [1] NEC 314.16(C)(2) (reprint; original not seen): only those conduit bodies that their maker
       has marked with their volume may hold splices, taps or devices.
    """
    code = code_of(site_of(registry).facts)
    kind = site_of(registry).one(Enclosure, box).kind
    if kind != "conduit-body" or not code.is_nec:
        return []
    place = code.nec("314.16(C)(2)")
    return [
        f"{box} is a conduit body: conductors may be joined in it only if its maker has marked it"
        f" with its volume ({place}; reprint, original not seen)."
    ]


def _cut(registry: Registry, old: Conductor, ends: Ends, lengths: Pair, at: str) -> tuple[str, str]:
    """Retire one conductor and add its two pieces; return their tags, the "from" side's first.

    Of a cable that is cut the near piece keeps the name; what the far one is called isn't known.
    """
    changing.retire_conductor(registry, old.tag, at, "cut")
    piece = replace(old, id=None, tag=NO_TAG, note=None, follows=old.tag)
    outer = (replace(end, crossed_at=None) for end in (old.from_end, old.to_end))
    near = replace(piece, from_end=next(outer), to_end=ends[0], length_m=lengths[0])
    far = replace(piece, cable=None, from_end=ends[1], to_end=next(outer), length_m=lengths[1])
    return add_conductor(registry.db, near), add_conductor(registry.db, far)


def _row(registry: Registry, old: Conductor, pieces: tuple[str, str]) -> Cut:
    near, far = (
        Piece(tag=str(c.tag), from_=_place(c.from_end), to=_place(c.to_end), length_m=c.length_m)
        for c in map(partial(site_of(registry).one, Conductor), pieces)
    )
    return Cut(tag=str(old.tag), circuit=old.circuit, function=old.function, near=near, far=far)


def _place(end: End) -> str:
    return f"{end.enclosure} {end.terminal}" if end.terminal else f"{end.enclosure} ({end.state})"


def _open_paths(
    registry: Registry, cut: Sequence[Conductor], ends: dict[str, Ends], box: str
) -> list[str]:
    """Return a sentence for each way in which pieces are left unjoined, with their conductors."""
    found: dict[str, list[str]] = {}
    for conductor in cut:
        near, far = ends[conductor.tag]
        if joined(registry, box, near.terminal, far.terminal):
            continue
        why = f"the ends there are {near.state}"
        if near.terminal and far.terminal:
            why = f"no device connects {near.terminal} and {far.terminal} in the record"
        name = f"{conductor.circuit} {conductor.function}"
        found.setdefault(why, []).append(f"{name} ({format_tag(conductor.tag or '')})")
    return [f"Open in {box}, as {why}: {', '.join(names)}." for why, names in found.items()]
