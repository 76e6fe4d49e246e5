# SPDX-License-Identifier: MIT
"""What a box makes two of: a raceway that it lies in, and conductors that are cut there."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.continuity import LENGTH_TOLERANCE
from wiretrack.electrical.quantities import parse_degrees, parse_length_m
from wiretrack.electrical.quantity_text import own_length
from wiretrack.errors import BadInputError, Hint
from wiretrack.exchange.places import check_code
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor, Pull, Raceway
from wiretrack.model.entity import Point
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import ALWAYS_JOINED, Link, Wiring
from wiretrack.model.words import PROTECTIVE
from wiretrack.store import changing
from wiretrack.store.searching import is_called, resolve, tag_of
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

UNKNOWN = "?"
Pair = tuple["float | None", "float | None"]


@dataclass(frozen=True, kw_only=True)
class Division:
    """A raceway to be divided, and what is said of its two pieces, its "from" side first."""

    raceway: str
    into: str
    lengths: str | None = None
    bends: str | None = None


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One of the two raceways that another one became."""

    code: str
    from_: str
    to: str
    length_m: float | None
    bends_deg: float | None


@dataclass(frozen=True, kw_only=True)
class Divided:
    """A raceway that was divided, its pieces, and the pulls that go through both."""

    divided: str
    into: tuple[Piece, ...]
    pulls: Sequence[str]
    notes: Sequence[str]


def divide(registry: Registry, division: Division, box: str) -> Divided:
    """Divide a raceway at `box`, inside the write under way; return its pieces and its pulls."""
    code = resolve(registry, division.raceway, ("raceway",)).code
    old = site_of(registry).one(Raceway, code)
    _check_place(registry, old, box)
    names = _names(registry, code, division.into)
    lengths = pair_of("the two lengths", division.lengths, parse_length_m)
    check_lengths(f"raceway {code}", lengths, old.length_m)
    bends = pair_of("the bends", division.bends, _bends)
    _check_bends(code, bends, old.bends_deg)
    first_walls, second_walls, note = _walls(old, lengths[0])
    first = replace(old, code=names[0], to_enclosure=box, length_m=lengths[0],
                    bends_deg=bends[0], walls_m=first_walls)  # fmt: skip
    second = replace(old, code=names[1], from_enclosure=box, length_m=lengths[1],
                     bends_deg=bends[1], walls_m=second_walls, id=None)  # fmt: skip
    pulls = changing.divide_raceway(registry, code, first, second)
    into = tuple(
        Piece(
            code=r.code, from_=r.from_enclosure, to=r.to_enclosure, length_m=r.length_m,
            bends_deg=r.bends_deg,
        )
        for r in (first, second)
    )  # fmt: skip
    return Divided(
        divided=code,
        into=into,
        pulls=pulls,
        notes=[note] if note else [],
    )


def pair_of(what: str, text: str | None, parse: Callable[[str], float]) -> Pair:
    """Return two values written ``ONE,OTHER``; ``?`` is unknown, and so are both without a text."""
    if text is None:
        return None, None
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2:
        raise BadInputError(
            f"'{text}' is not {what}. Write both with a comma between them, ? where one is unknown."
        )
    one, other = (None if part in (UNKNOWN, "") else parse(part) for part in parts)
    return one, other


def check_lengths(what: str, pieces: Pair, whole_m: float | None) -> None:
    """Refuse pieces that are longer together than the whole can be.

    A stated length may be off by `LENGTH_TOLERANCE` (common practice).
    """
    if whole_m is None:
        return
    total = sum(length_m or 0.0 for length_m in pieces)
    if total > whole_m * (1 + LENGTH_TOLERANCE):
        shown = " and ".join(own_length(length_m) for length_m in pieces if length_m is not None)
        raise BadInputError(
            f"{shown} can't be cut from the {own_length(whole_m)} of {what} (a stated length is off"
            f" by at most {LENGTH_TOLERANCE * 100:g} %, common practice). Measure again, or"
            " write ?."
        )


def _check_place(registry: Registry, old: Raceway, box: str) -> None:
    if box in (old.from_enclosure, old.to_enclosure):
        raise BadInputError(
            f"{box} is at the end of raceway {old.code} already.",
            Hint("Leave out {raceway} and {into}."),
        )
    for pull in site_of(registry).at(Pull, "raceway", old.code):
        if box in pull.route.boxes:
            raise BadInputError(
                f"Pull {pull.code} passes {box} already, elsewhere than in {old.code}.",
                Hint("Name another box, or leave out {raceway} and {into}."),
            )


def _names(registry: Registry, old: str, into: str) -> tuple[str, str]:
    """Return the codes of the two pieces; one of them may go on under the old code."""
    found = [check_code("The raceway's code", part) for part in into.split(",")]
    if len(found) != 2 or None in found or found[0] == found[1]:
        raise BadInputError(
            f"'{into}' is not the codes of two raceways. Write them like {old}A,{old}B."
        )
    for code in found:
        if code != old and is_called(registry, "raceway", code or ""):
            raise BadInputError(f"There is a raceway {code} already. Choose another code.")
    return str(found[0]), str(found[1])


def _check_bends(code: str, bends: Pair, whole_deg: float | None) -> None:
    known = [bend for bend in bends if bend is not None]
    if whole_deg is not None and sum(known) > whole_deg:
        shown = " and ".join(f"{bend:g}°" for bend in known)
        raise BadInputError(
            f"Bends of {shown} are more than the {whole_deg:g}° of the whole of {code}.",
            Hint("Count them again, or leave out {bends}."),
        )


def _bends(text: str) -> float:
    degrees = parse_degrees(text)
    if not 0 <= degrees <= 3600:
        raise BadInputError(f"Bends of '{text}' can't be. Write degrees from 0 to 3600.")
    return degrees


def _walls(
    old: Raceway, first_m: float | None
) -> tuple[tuple[float, ...], tuple[float, ...], str | None]:
    """Return the walls of both pieces, and what to say where they can't be placed."""
    if not old.walls_m:
        return (), (), None
    if first_m is None:
        walls = ", ".join(own_length(at_m) for at_m in old.walls_m)
        note = (
            f"The walls of {old.code} (at {walls} from {old.from_enclosure}) are no longer placed:"
            " the length of its first piece isn't known."
        )
        return (), (), note
    before = tuple(at_m for at_m in old.walls_m if at_m < first_m)
    beyond = tuple(round(at_m - first_m, 9) for at_m in old.walls_m if at_m > first_m)
    return before, beyond, None


MOST_IN_A_RANGE = 200
_RANGE = re.compile(r"(.*?)(\d+)-(\d+)")
Ends = tuple[End, End]


@dataclass(frozen=True, kw_only=True)
class CutEnds:
    """What was said of the ends in the box: a scheme, single conductors, and all the others."""

    terminals: str | None = None
    land: tuple[str, ...] = ()
    others: str | None = None
    lengths: tuple[str, ...] = ()


def ends_in_box(
    registry: Registry, said: CutEnds, box: str, cut: Sequence[Conductor]
) -> dict[str, Ends]:
    """Return the two new ends of each conductor by its tag: the near piece's, the far piece's."""
    found = _by_scheme(said.terminals, cut) | _by_tag(registry, said.land, cut)
    for conductor in cut:
        tag = conductor.tag
        if tag not in found and said.others is None:
            raise BadInputError(
                f"Say where the ends of {format_tag(tag)} go in {box}.",
                Hint("Give {terminals}, or {land}, or {capped}, or {loose}."),
            )
    _check_terminals(registry, box, cut, found)
    return {c.tag: _ends(box, found.get(c.tag), said.others) for c in cut}


def lengths_of(
    registry: Registry, texts: Sequence[str], cut: Sequence[Conductor]
) -> dict[str, Pair]:
    """Return the lengths in m of both pieces by tag, as far as they are stated.

    A text is ``NEAR,FAR`` for all, or ``TAG=NEAR,FAR`` for one; ``?`` is unknown. `BadInputError`
    if one can't be understood, or the pieces are longer than the whole.
    """
    tags = [c.tag for c in cut]
    found: dict[str, Pair] = {}
    for text in sorted(texts, key=lambda text: "=" in text):
        word, equals, value = text.rpartition("=")
        pair = pair_of("the lengths of two pieces", value, parse_length_m)
        found |= dict.fromkeys([_cut_tag(registry, word, tags)] if equals else tags, pair)
    for conductor in cut:
        tag = conductor.tag
        found.setdefault(tag, (None, None))
        check_lengths(format_tag(tag), found[tag], conductor.length_m)
    return found


def _by_scheme(text: str | None, cut: Sequence[Conductor]) -> dict[str, tuple[str, str]]:
    """Return the terminals of ``TB1:1-3`` or ``TB1:1,TB1:2,PE:4``, a conductor each in order."""
    if text is None:
        return {}
    names = [name for part in text.split(",") for name in _numbered(part)]
    if len(names) != len(cut):
        tags = ", ".join(str(c.tag) for c in cut)
        raise BadInputError(
            f"'{text}' is {len(names)} terminal{'s' * (len(names) != 1)} for {len(cut)}"
            f" conductor{'s' * (len(cut) != 1)}. Name one for each of: {tags}."
        )
    return {c.tag: (name, name) for c, name in zip(cut, names, strict=True)}


def _numbered(part: str) -> list[str]:
    found = _RANGE.fullmatch(part.strip())
    if not found:
        return [_terminal(part)]
    name, first, last = found[1], int(found[2]), int(found[3])
    if not first <= last < first + MOST_IN_A_RANGE:
        raise BadInputError(
            f"'{part.strip()}' is no row of terminals. Write the lower number first, like TB1:1-4."
        )
    return [_terminal(f"{name}{number}") for number in range(first, last + 1)]


def _by_tag(
    registry: Registry, texts: Sequence[str], cut: Sequence[Conductor]
) -> dict[str, tuple[str, str]]:
    """Return the terminals of ``TAG=TERMINAL`` or ``TAG=NEAR,FAR``."""
    tags = [c.tag for c in cut]
    found: dict[str, tuple[str, str]] = {}
    for text in texts:
        word, equals, value = text.partition("=")
        if not equals or value.count(",") > 1:
            raise BadInputError(
                f"'{text}' doesn't say where an end goes. Write TAG=TERMINAL, or TAG=NEAR,FAR."
            )
        names = [_terminal(name) for name in value.split(",")]
        found[_cut_tag(registry, word, tags)] = (names[0], names[-1])
    return found


def _cut_tag(registry: Registry, word: str, tags: Sequence[str]) -> str:
    tag = tag_of(registry, word)
    if tag not in tags:
        known = ", ".join(format_tag(tag) for tag in tags)
        raise BadInputError(f"{format_tag(tag)} is not cut here. Name one of: {known}.")
    return tag


def _terminal(text: str) -> str:
    found = check_code("The terminal", text)
    if found is None:
        raise BadInputError("A terminal has no name. Name it, like TB1:4.")
    return found


def _check_terminals(
    registry: Registry, box: str, cut: Sequence[Conductor], found: Mapping[str, tuple[str, str]]
) -> None:
    there: dict[str, Conductor] = {}
    for conductor in cut:
        near, far = found.get(conductor.tag, (None, None))
        for terminal in dict.fromkeys((near, far)):
            if terminal is None:
                continue
            place = Point(box, terminal)
            check_free(registry, place, conductor)
            first = there.setdefault(terminal, conductor)
            if not may_meet(registry, place, first, conductor):
                raise BadInputError(
                    f"{box} {terminal} can't take both {format_tag(first.tag or '')}"
                    f" ({first.circuit} {first.function}) and {format_tag(conductor.tag or '')}"
                    f" ({conductor.circuit} {conductor.function}). Name a terminal for each."
                )
        if near is not None and near == far:
            check_no_bypass(registry, Point(box, near), conductor.tag)


def _ends(box: str, terminals: tuple[str, str] | None, others: str | None) -> Ends:
    if terminals is None:
        return End(enclosure=box, state=others), End(enclosure=box, state=others)
    near, far = (End(enclosure=box, terminal=name, state="landed") for name in terminals)
    return near, far


def check_free(registry: Registry, place: Point, conductor: Conductor) -> None:
    """Refuse a terminal that holds an end of another circuit or function.

    Ends on a bus or a splice may meet, and so may protective conductors.
    """
    for link in Wiring(site_of(registry)).at(place):
        if link.what == "conductor" and not may_meet(registry, place, link, conductor):
            raise BadInputError(
                f"{place} is taken by {link.name}"
                f" ({link.circuit} {link.function}). Name another terminal for"
                f" {conductor.circuit} {conductor.function}."
            )


def may_meet(registry: Registry, place: Point, one: Conductor | Link, other: Conductor) -> bool:
    """Return whether ends of two conductors may lie on one terminal."""
    theirs = one.served if isinstance(one, Link) else one.circuits
    if one.function == other.function and not {*theirs}.isdisjoint(other.circuits):
        return True
    if one.function in PROTECTIVE and other.function in PROTECTIVE:
        return True
    return any(pole.kind in ALWAYS_JOINED for pole in _poles(registry, place))


def check_no_bypass(registry: Registry, place: Point, tag: str) -> None:
    """Refuse both pieces of a conductor on one terminal of one pole: that leads past the device."""
    for pole in _poles(registry, place):
        if pole.kind not in ALWAYS_JOINED:
            raise BadInputError(
                f"Both pieces of {format_tag(tag)} on {place} lead past"
                f" {pole.name}. Name the terminal of each: TAG={place.terminal},"
                f"{pole.beyond(place).terminal}."
            )


def joined(registry: Registry, box: str, one: str | None, other: str | None) -> bool:
    """Return whether two terminals of a box are one, or have a device's pole between them."""
    if one is None or other is None:
        return False
    place = Point(box, one)
    poles = _poles(registry, place)
    return one == other or any(pole.beyond(place).terminal == other for pole in poles)


def _poles(registry: Registry, place: Point) -> list[Link]:
    return [link for link in Wiring(site_of(registry)).at(place) if link.what == "device"]
