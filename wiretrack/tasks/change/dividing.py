# SPDX-License-Identifier: MIT
"""Putting a box into a raceway: one raceway becomes two, and every pull goes through both."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.continuity import LENGTH_TOLERANCE
from wiretrack.electrical.quantities import parse_degrees, parse_length_m
from wiretrack.electrical.quantity_text import own_length
from wiretrack.errors import BadInputError, Hint
from wiretrack.exchange.places import check_code
from wiretrack.late import dataclass
from wiretrack.model.entities import Pull, Raceway
from wiretrack.store import changing
from wiretrack.store.searching import is_called, resolve
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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
