# SPDX-License-Identifier: MIT
"""Where the two ends go that a cut makes in a box."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wiretrack.electrical.quantities import parse_length_m
from wiretrack.errors import BadInputError, Hint
from wiretrack.exchange.texts import check_code
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import ALWAYS_JOINED, Link, Wiring
from wiretrack.model.words import PROTECTIVE
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.dividing import Pair, check_lengths, pair_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

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
