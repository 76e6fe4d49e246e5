# SPDX-License-Identifier: MIT
"""Raceways: their fill by NEC chapter 9, the jam ratio of three conductors, and their bends."""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import (
    MM_PER_IN,
    TYPES,
    Bore,
    Outside,
    bore_of,
    outside_of,
    parse_trade_size,
    raceway_type,
)
from wiretrack.electrical.findings import Clause, Finding, raceways, rule
from wiretrack.electrical.limits import between
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Run
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entity import Outcome

JAM_LOW, JAM_HIGH = 2.8, 3.2  # NEC chapter 9 table 1, informational note 2 (reprint)
_SAME = 1e-9  # areas this close are printed the same
ROUND_UP = 0.8  # NEC chapter 9 table 1 note 7 (reprint; original not seen)
WIREWAY_PCT = 20.0  # NEC 376.22(A), 378.22 for nonmetallic ones (reprint; original not seen)


def fill_pct(count: int, nipple: bool = False) -> float:
    """Return the largest fill in percent for so many conductors.

    Source: NEC chapter 9 table 1 and note 4 (reprint; original not seen).

    >>> fill_pct(1), fill_pct(2), fill_pct(7), fill_pct(7, nipple=True)
    (53.0, 31.0, 40.0, 60.0)
    """
    key = "nipple" if nipple else str(min(count, 3))
    table = load_table("nec_ch9_table1")
    row = table.find(conductors=key)
    if row is None:
        raise TableEntryError(
            "NEC chapter 9 table 1", f"{key} conductors", table.column("conductors")
        )
    return float(row["fill_pct"])


@rule("raceway-fill", raceways)
def raceway_fill(run: Run, code: Code) -> list[Finding]:
    """Return the fill of a raceway against NEC chapter 9, of a wireway against article 376 or 378.

    The IEC sets no such figure, for conduit or for trunking. An abandoned conductor takes its
    room like any other: NEC 300.17 and chapter 9 table 1 speak of the conductors in the raceway,
    not of those in use (reprint; original not seen).
    """
    if not code.is_nec or not run.in_place or _is_open(run.raceway.type):
        return []
    source = code.nec("chapter 9 table 1")
    if run.is_wireway:
        source = code.at("plastic-wireway" if run.raceway.metal is False else "wireway-fill")
    bore, lacking = _inside(run)
    singles = [wire for wire in run.in_place if not wire.is_core]
    outsides = [outside_of(wire) for wire in singles]
    lacking += [
        f"insulation or outside diameter of {wire.name}"
        for wire, outside in zip(singles, outsides, strict=True)
        if outside is None
    ]
    cables = len(singles) < len(run.in_place)
    lacking += ["outside diameter of the multicore cable"] if cables else []
    known = [outside for outside in outsides if outside is not None]
    clause = Clause("raceway-fill", run.raceway.code, source, "%")
    return [_judge(run, bore, known, lacking, clause) if bore else clause.lacks(*lacking)]


@rule("raceway-jam", raceways)
def raceway_jam(run: Run, code: Code) -> list[Finding]:
    """Return whether three equal conductors may jam in the bends of a raceway.

    Source: NEC chapter 9 table 1, informational note 2; it is advice, so never more than a doubt.
    """
    outsides = [outside_of(wire) for wire in run.wires]
    bore, _ = _bore(run)
    known = [outside for outside in outsides if outside is not None]
    if bore is None or len(known) != 3 or len(outsides) != 3 or not _all_same(known):
        return []
    ratio = bore.diameter_in / known[0].diameter_in
    jams = JAM_LOW <= ratio <= JAM_HIGH
    source = f"{code.nec('chapter 9 table 1, informational note 2')} ({COMMON_PRACTICE.key})"
    limit = JAM_LOW if ratio < 3 else JAM_HIGH
    words = "between" if jams else "not between"
    reason = f"inside over outside diameter is {ratio:.2f}, {words} {JAM_LOW} and {JAM_HIGH}"
    reason += ": three conductors may wedge side by side in a bend" if jams else ""
    clause = Clause("raceway-jam", run.raceway.code, source)
    return [clause.finds("doubt" if jams else "pass", reason, round(ratio, 3), limit)]


def _is_open(type_: str | None) -> bool:
    """Return whether conductors lie there without a raceway around them."""
    return (type_ or "").strip().lower() in ("cable", "cable tray", "tray", "free air", "buried")


def _bore(run: Run) -> tuple[Bore | None, list[str]]:
    """Return the inside of the raceway, or what is missing to find it."""
    kind = raceway_type(run.raceway.type)
    if kind is None or run.raceway.trade_size is None:
        absent = [] if kind else [f"raceway type that table 4 lists ({', '.join(TYPES)})"]
        return None, absent + ([] if run.raceway.trade_size else ["trade size"])
    try:
        return bore_of(kind, parse_trade_size(run.raceway.trade_size)), []
    except TableEntryError as error:
        return None, [f"size in table 4 ({error})"]


def _inside(run: Run) -> tuple[Bore | None, list[str]]:
    """Return the inside of a raceway or of a wireway, or what is missing to find it."""
    if not run.is_wireway:
        return _bore(run)
    code, sides = run.raceway.code, (run.raceway.width_mm, run.raceway.height_mm)
    named = list(zip(("width", "height"), sides, strict=True))
    lacking = [f"{side} inside: state {side} of {code}" for side, mm in named if mm is None]
    for side, mm in named:
        if mm is not None:
            between(1, 10_000, f"The {side} of {code}", mm, "mm")
    width_mm, height_mm = sides
    if width_mm is None or height_mm is None:
        return None, lacking
    area_in2 = width_mm * height_mm / MM_PER_IN**2
    return Bore("wireway", f"{width_mm:g} x {height_mm:g} mm", 0.0, area_in2), []


def _judge(
    run: Run, bore: Bore, known: list[Outside], lacking: list[str], clause: Clause
) -> Finding:
    """Return the finding on a raceway whose inside is known."""
    count = _count(run)
    total = sum(outside.area_in2 for outside in known)
    limit = WIREWAY_PCT if run.is_wireway else fill_pct(count, nipple=bool(run.is_nipple))
    figure = 100 * total / bore.area_in2
    taken = f"{len(known)} of {count} conductors" if len(known) != count else f"{count} conductors"
    sums = f"{taken} take {total:.4f} of {bore.area_in2:.3f} in²"
    outcome, why = _outcome(run, bore, known, figure, limit, bool(lacking))
    if lacking and outcome == "pass":
        outcome, why = "doubt", f"; unknown: {', '.join(lacking)}"
    left = f" ({len(run.abandoned)} of them abandoned)" if run.abandoned else ""
    reason = f"{sums}{left}, {figure:.1f} % of at most {limit:g} %{why}"
    tables = () if run.is_wireway else ("table 4",)
    places = (f"chapter 9 {o.source}" if run.is_wireway else o.source for o in known)
    cited = ", ".join((clause.source, *tables, *dict.fromkeys(places)))
    return clause.finds(outcome, reason, round(figure, 2), limit, cited)


def _outcome(
    run: Run, bore: Bore, known: list[Outside], figure: float, limit: float, lacking: bool
) -> tuple[Outcome, str]:
    """Return the outcome for the conductors whose outside is known, and why."""
    if figure <= limit + _SAME:
        return "pass", ""
    if run.is_wireway:
        return "fail", "; take a larger wireway or fewer conductors"
    if not run.is_nipple and not lacking and _rounds_up(_count(run), known, bore, limit):
        return "pass", "; note 7 rounds the count of equal conductors up to this many"
    if run.is_nipple is None and figure <= fill_pct(_count(run), nipple=True):
        return "doubt", "; right only if it is at most 24 in long (note 4): length unknown"
    return "fail", "; take a larger raceway or fewer conductors"


def _count(run: Run) -> int:
    """Return how many count for table 1, at the least: a cable counts as one conductor (note 9).

    Cores whose cable isn't recorded may all be of one, or of a cable that is.
    """
    cores = [wire.conductor for wire in run.in_place if wire.is_core]
    cables = {core.cable for core in cores if core.cable}
    return len(run.in_place) - len(cores) + (len(cables) or bool(cores))


def _rounds_up(count: int, known: list[Outside], bore: Bore, limit: float) -> bool:
    """Return whether equal conductors are allowed by the round-up of note 7."""
    return _all_same(known) and count <= rounded(limit / 100 * bore.area_in2 / known[0].area_in2)


def _all_same(known: list[Outside]) -> bool:
    return all(abs(outside.area_in2 - known[0].area_in2) < _SAME for outside in known)


def rounded(count: float) -> int:
    """Return a count of equal conductors, a fraction of 0.8 or more rounded up."""
    whole = floor(count + _SAME)
    return whole + 1 if count - whole >= ROUND_UP - _SAME else whole


# The table lists liquidtight nonmetallic and PVC once, whatever their wall.
_LISTED_AS = {"LFNC-B": "LFNC", "PVC-40": "PVC", "PVC-80": "PVC"}


@rule("bends", raceways)
def bends(run: Run, code: Code) -> list[Finding]:
    """Return the bends of one raceway between its two boxes against the NEC's 360 degrees.

    The figure stands in section .26 of each raceway's article; the IEC has none, and cable trays
    and troughs fall under other articles.
    """
    if not code.is_nec:
        return []
    row = load_table("nec_bends").find(raceway=_name(run.raceway.type))
    if row is None:
        return []
    clause = Clause("bends", run.raceway.code, code.nec(row["section"]), "°")
    figure, limit = run.raceway.bends_deg, float(row["degrees"])
    if figure is None:
        return [clause.lacks("degrees of bend", limit=limit)]
    between(0, 36_000, "Sum of bends", figure, "°")
    box = "; set a pull point in between" if figure > limit else ""
    reason = f"{figure:g}° of bend between boxes, at most {limit:g}°{box}"
    return [clause.finds("fail" if figure > limit else "pass", reason, figure, limit)]


def _name(text: str | None) -> str:
    kind = raceway_type(text) or (text or "").strip().upper()
    return _LISTED_AS.get(kind, kind)
