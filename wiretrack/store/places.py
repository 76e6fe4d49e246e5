# SPDX-License-Identifier: MIT
"""Which device or terminal somebody means, however a place is written.

``MDP/Q4``, ``MDP Q4:4``, ``MDP Q4 4``, ``Q4 in MDP``, ``breaker 4 in MDP``, ``terminal 4 in MDP``,
or a code that is used once.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.errors import AmbiguousError, NotFoundError
from wiretrack.late import dataclass, pattern
from wiretrack.model.entity import Point
from wiretrack.model.kinds import DEVICE_KIND
from wiretrack.model.source import TABLE_OF
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.store.store import Registry

_IN = pattern(r"(.+?)[\s,]+(?:in|at|of|on)\s+(?:the\s+)?(.+)", re.IGNORECASE)
_NOUNS = {"terminal": "terminal", "term": "terminal", "device": "device", "pole": "terminal"}
PLACES = {what: TABLE_OF[what] for what in ("device", "terminal")}


@dataclass(frozen=True)
class Place:
    """A device or a terminal, `what` of the two it is, and its code in its box."""

    what: str
    point: Point

    @property
    def code(self) -> str:
        """It as files and people write it: ``BOX/CODE``."""
        return "/".join(self.point)


@dataclass(frozen=True)
class _Asked:
    """One way to read a text: the box, what is said to be in it, and its code there."""

    box: str
    code: str
    what: str = ""
    kind: str = ""

    def names(self, place: Place, kind: str | None, *, loosely: bool) -> bool:
        """Return whether it names this; `loosely`, where only the number of it is said."""
        if self.box.casefold() != place.point.enclosure.casefold():
            return False
        if self.what not in ("", place.what) or (self.kind and kind not in (self.kind, None)):
            return False
        code, said = place.point.terminal.casefold(), self.code.casefold()
        if not loosely:
            return code in (said, re.sub(r"\s*[\s/:]\s*", ":", said))
        if not self.what or not re.fullmatch("[0-9]+", said):
            return False
        number = re.search(r"([0-9]+)\Z", code.rpartition(":")[2])
        return number is not None and int(number[1]) == int(said)


def place_called(
    registry: Registry, text: str, what: tuple[str, ...] = tuple(PLACES),
    *, with_poles: bool = False,
) -> Place:  # fmt: skip
    """Return the device or terminal that `text` names; where both do, the first of `what`."""
    readings = [*_readings(text)]
    things = _things(registry, {asked.box for asked in readings}, what, with_poles)
    for loosely in (False, True):
        found = {
            place: None
            for asked in readings
            for place, kind in things
            if asked.names(place, kind, loosely=loosely)
        }
        if not found and not loosely:
            anywhere = "{}.code = ? COLLATE NOCASE"
            rows = _found(registry, anywhere, [text.strip()], what, with_poles)
            found = {place: None for place, _ in rows}
        for kind in what:
            of_kind = [place for place in found if place.what == kind]
            if len(of_kind) > 1:
                why = f"names {len(of_kind)} {PLACES[kind]}"
                raise AmbiguousError(text, why, sorted(place.code for place in of_kind))
            if of_kind:
                return of_kind[0]
    if not things:
        boxes = [row["code"] for row in registry.rows("SELECT code FROM enclosures LIMIT 20000")]
        readings = [replace(a, box=box) for a in readings for box in near(a.box, boxes, 1, 0.7)]
        things = _things(registry, {asked.box for asked in readings}, what, with_poles)
    known = [place.code for place, _ in things]
    close = [each for asked in readings for each in near(f"{asked.box}/{asked.code}", known)]
    noun = " or ".join(what) + (" with poles" if with_poles else "")
    raise NotFoundError(noun, text, [*dict.fromkeys(close)][:3])


def _readings(text: str) -> Iterator[_Asked]:
    """Yield each box, and thing in it, that a text may mean: codes may have any sign in them."""
    plain = " ".join(text.split())
    for at, sign in enumerate(plain):
        box, code = plain[:at].strip(" ,"), plain[at + 1 :].strip(" ,")
        if sign in "/ " and box and code:
            yield from _said(box, code)
    spoken = _IN.fullmatch(plain)
    if spoken:
        yield from _said(spoken[2], spoken[1])


def _said(box: str, words: str) -> Iterator[_Asked]:
    """Yield what is said to be in a box: a code, or what it is and a code: ``breaker 13``."""
    yield _Asked(box, words)
    for at in (at for at, sign in enumerate(words) if sign == " "):
        noun, code = words[:at].casefold(), words[at + 1 :]
        if noun in _NOUNS:
            yield _Asked(box, code, _NOUNS[noun])
        elif (kind := DEVICE_KIND.meant(noun)) in DEVICE_KIND.words:
            yield _Asked(box, code, "device", kind)


_DEVICES = (
    "SELECT e.code AS box, d.code, d.kind FROM devices AS d"
    " JOIN enclosures AS e ON e.id = d.enclosure_id WHERE "
)
_WITH_POLES = " AND EXISTS (SELECT 1 FROM poles AS p WHERE p.device_id = d.id)"
_TERMINALS = (
    "SELECT e.code AS box, t.code, NULL AS kind FROM terminals AS t"
    " JOIN enclosures AS e ON e.id = t.enclosure_id WHERE "
)


def _things(
    registry: Registry, boxes: set[str], what: tuple[str, ...], with_poles: bool
) -> list[tuple[Place, str | None]]:
    """Return what is in boxes of these codes, in whatever case, each with its kind."""
    holes = ", ".join("?" * len(boxes))
    wanted = f"e.id IN (SELECT id FROM enclosures WHERE code COLLATE NOCASE IN ({holes}))"
    return _found(registry, wanted, [*boxes], what, with_poles)


def _found(
    registry: Registry, wanted: str, given: list[str], what: tuple[str, ...], with_poles: bool
) -> list[tuple[Place, str | None]]:
    of = {
        "device": _DEVICES + wanted.format("d") + (_WITH_POLES if with_poles else ""),
        "terminal": _TERMINALS + wanted.format("t"),
    }
    return [
        (Place(each, Point(row["box"], row["code"])), row["kind"])
        for each in what
        for row in registry.rows(of[each], given)
    ]
