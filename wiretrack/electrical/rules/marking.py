# SPDX-License-Identifier: MIT
"""Where raceways and boxes of PV DC circuits need their marking, place by place (NEC 690.31)."""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Clause, Finding, raceways, rule
from wiretrack.electrical.limits import check_length
from wiretrack.electrical.quantity_text import format_length
from wiretrack.electrical.tables import load_table
from wiretrack.errors import OutOfRangeError
from wiretrack.late import dataclass
from wiretrack.model.words import ARRAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.electrical.runs import Run
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entities import Enclosure

END_INSET_M = 0.3  # common practice: how far from a box or a wall the first marking sits
LETTERS, BACKGROUND = "white", "red"
# An array is no box: nobody takes its conductors for another system's.
_PLACE = {2014: "690.31(G)(3) and (4)", 2020: "690.31(D)(2)"}


@dataclass(frozen=True)
class Marking:
    """One marking to stick on: on which raceway or box, how far along it, and with what words.

    `at_m` is measured from the raceway's first box; None on a box, or where the length is unknown.
    """

    on: str
    at_m: float | None
    wording: str | None
    source: str
    note: str = ""


def spacing_m() -> float:
    """Return the most that may lie between two markings: 3 m (10 ft), NEC 690.31 (reprint)."""
    return float(load_table("nec_690_31_marking").rows[0]["spacing_m"])


def wording(code: Code) -> str | None:
    """Return the words that an edition asks for, or None where the edition is unknown."""
    row = load_table("nec_690_31_marking").find(edition=str(code.edition))
    return row["wording"] if row else None


def letters_mm() -> float:
    """Return the least height of the markings' capitals, in mm: 9.5 (3/8 in), NEC 690.31."""
    return float(load_table("nec_690_31_marking").rows[0]["letters_mm"])


def places_along(length_m: float, walls_m: Iterable[float] = ()) -> list[float]:
    """Return where along a raceway markings sit, in m from its first end.

    Every section between boxes and walls is marked, near both its ends (so on each side of a wall),
    and in between at equal distances of at most 3 m. A short section has one, in its middle.

    Raises `OutOfRangeError` if the length is impossible, or a wall isn't between the ends.

    Source: NEC 690.31(D)(2) in 2020 and 2023, (G)(4) in 2014 and 2017 (reprints).
    """
    check_length(length_m, "Length of the raceway")
    walls = sorted(set(walls_m))
    for wall in walls:
        if not 0 < wall < length_m:
            raise OutOfRangeError("Place of a wall", wall, "m", f"between 0 and {length_m:g} m")
    cuts = [0.0, *walls, length_m]
    return [place for low, high in pairwise(cuts) for place in _section(low, high)]


def markings(run: Run, code: Code) -> list[Marking]:
    """Return every marking that a raceway with PV DC circuits needs, and its two boxes."""
    if not code.is_nec or not run.has_pv:
        return []
    source, words, note = code.nec(_PLACE), wording(code), _note(code)
    raceway, length_m = run.raceway, run.raceway.length_m
    first, last = (
        [Marking(name, None, words, source, f"on its cover; {note}")] if is_marked else []
        for name, _, is_marked in _boxes(run)
    )
    if length_m is None:
        every = f"every {format_length(spacing_m())} and in each section"
        every += f"; its length is unknown; {note}"
        return [*first, Marking(raceway.code, None, words, source, every), *last]
    try:
        places = places_along(length_m, raceway.walls_m)
    except OutOfRangeError as error:
        return [*first, Marking(raceway.code, None, words, source, f"{error} {note}"), *last]
    along = [Marking(raceway.code, round(place, 2), words, source, note) for place in places]
    return [*first, *along, *last]


def site_markings(runs: Iterable[Run], code: Code) -> list[Marking]:
    """Return the markings of many runs, a box that several share only once."""
    seen: set[str] = set()
    listed = []
    for run in runs:
        for marking in markings(run, code):
            if marking.on != run.raceway.code:
                if marking.on in seen:
                    continue
                seen.add(marking.on)
            listed.append(marking)
    return listed


@rule("marking", raceways)
def marking(run: Run, code: Code) -> list[Finding]:
    """Return the findings on one raceway and its boxes: whether their markings are put up.

    It is a doubt until somebody has looked and stated `marked` of each.
    """
    if not code.is_nec or not run.has_pv:
        return []
    boxes = [
        _box(name, box.marked if box else None, code)
        for name, box, is_marked in _boxes(run)
        if is_marked
    ]
    return [_along(run, code), *boxes]


def _boxes(run: Run) -> Iterator[tuple[str, Enclosure | None, bool]]:
    """Yield the boxes at both ends by code, and whether such a box is marked."""
    named = (run.raceway.from_enclosure, run.from_box), (run.raceway.to_enclosure, run.to_box)
    return ((code, box, box is None or box.kind not in ARRAYS) for code, box in named)


def _along(run: Run, code: Code) -> Finding:
    marked, length_m = run.raceway.marked, run.raceway.length_m
    clause = Clause("marking", run.raceway.code, code.nec(_PLACE), "markings")
    needed = None if length_m is None else float(len(places_along(length_m, run.raceway.walls_m)))
    if marked is not None:
        return _stated(clause, marked, needed)
    if needed is None:
        return clause.lacks("length of the raceway")
    reason = f"{needed:g} along it, at most {format_length(spacing_m())} apart and on each side of "
    reason += "walls; not needed where the purpose is evident; look whether they are there and "
    reason += "state marked: "
    reason += wording(code) or "unknown: edition"
    return clause.finds("doubt", reason, limit=needed)


def _box(name: str, marked: bool | None, code: Code) -> Finding:
    clause = Clause("marking", name, code.nec(_PLACE), "marking")
    if marked is not None:
        return _stated(clause, marked, 1.0)
    reason = "one on its cover; not needed where the purpose is evident; look whether it is there "
    reason += "and state marked"
    return clause.finds("doubt", reason, limit=1.0)


def _stated(clause: Clause, marked: bool, needed: float | None) -> Finding:
    if marked:
        return clause.finds("pass", "stated to be marked", needed, needed)
    return clause.finds("fail", "stated not to be marked", 0.0, needed)


def _section(low: float, high: float) -> list[float]:
    span = high - low - 2 * END_INSET_M
    gaps = ceil(span / spacing_m() - 1e-9)
    if gaps < 1:
        return [(low + high) / 2]
    return [low + END_INSET_M + span * i / gaps for i in range(gaps + 1)]


def _note(code: Code) -> str:
    row = load_table("nec_690_31_marking").find(edition=str(code.edition))
    row = row or load_table("nec_690_31_marking").rows[0]
    reflective = ", reflective" if row["reflective"] == "yes" and code.edition else ""
    note = f"white capitals of {row['letters_mm']} mm (3/8 in) or more on red{reflective}"
    return note if code.edition else f"{note}; unknown: edition, which decides the words"
