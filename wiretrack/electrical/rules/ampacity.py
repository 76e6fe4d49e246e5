# SPDX-License-Identifier: MIT
"""Ampacity of conductors in raceways by the NEC: table, ambient, adjustment and terminals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding, missing
from wiretrack.electrical.insulation_types import type_rows
from wiretrack.electrical.limits import above, between, check_metal
from wiretrack.electrical.rules.ampacity_iec import ampacity_iec
from wiretrack.electrical.rules.load import Load, load_of
from wiretrack.electrical.sizes import Size, as_size, parse_size
from wiretrack.electrical.tables import load_table
from wiretrack.errors import OutOfRangeError, TableEntryError

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.verdicts import Outcome

# NEC table 310.16, its columns and its ambient temperature (reprint; original not seen).
RATINGS_C = (60, 75, 90)
BASE_AMBIENT_C = 30.0
_TERMINAL_75_ABOVE_A = 100.0  # NEC 110.14(C)(1) (reprint): circuits above 100 A
_TERMINAL_75_ABOVE = parse_size("1 AWG")
_PLACES = {
    "table": {2014: "table 310.15(B)(16)", 2020: "table 310.16"},
    "ambient": {2014: "table 310.15(B)(2)(a)", 2020: "table 310.15(B)(1)"},
    "adjustment": {2014: "table 310.15(B)(3)(a)", 2020: "table 310.15(C)(1)"},
}


def table_ampacity(size: Size | str, metal: str, rating_c: int) -> float:
    """Return the ampacity in A of a conductor in a raceway at 30 °C, at most three together.

    Raises
    ------
    TableEntryError
        If the table has no such conductor; the sizes it has are named. mm² are never converted.

    References
    ----------
    .. [1] NEC table 310.16, 310.15(B)(16) in 2014 and 2017 (reprint; original not seen).

    >>> table_ampacity("10 AWG", "Cu", 90)
    40.0
    """
    size = as_size(size)
    check_metal(metal)
    if rating_c not in RATINGS_C:
        raise OutOfRangeError("Temperature rating", rating_c, "°C", "60, 75 or 90 °C")
    table = load_table("nec_310_16")
    key = size.table_key if size.system != "mm2" else ""
    row = table.find(size=key, metal=metal)
    if row is None or not row[f"amp_{rating_c}c"]:
        held = [r["size"] for r in table.rows if r["metal"] == metal and r[f"amp_{rating_c}c"]]
        raise TableEntryError("NEC table 310.16", f"{size.text} {metal}, {rating_c} °C", held)
    return float(row[f"amp_{rating_c}c"])


def ambient_factor(ambient_c: float, rating_c: int) -> float:
    """Return the correction for an ambient temperature; 0 where the conductor may not be used.

    References
    ----------
    .. [1] NEC table 310.15(B)(1)(1) (reprint; original not seen). A row holds for all
       temperatures above the row before.

    >>> ambient_factor(41, 75), ambient_factor(60, 60)
    (0.82, 0.0)
    """
    between(-60, 85, "Ambient temperature", ambient_c, "°C")
    rows = load_table("nec_310_15_ambient").rows
    row = next(row for row in rows if ambient_c <= float(row["up_to_c"]))
    return float(row[f"factor_{rating_c}c"] or 0.0)


def adjustment_factor(count: int) -> float:
    """Return the factor for so many current-carrying conductors in a raceway above 24 in.

    References
    ----------
    .. [1] NEC table 310.15(C)(1) (reprint; original not seen).

    >>> adjustment_factor(3), adjustment_factor(7)
    (1.0, 0.7)
    """
    above(0, "Count of conductors", count, "")
    for row in load_table("nec_310_15_adjustment").rows:
        if count >= int(row["from_count"]) and (
            not row["to_count"] or count <= int(row["to_count"])
        ):
            return float(row["pct"]) / 100
    return 1.0


def current_carrying(run: Run) -> int:
    """Return how many conductors of a run count as carrying current.

    The neutral of a three-phase circuit, or of one with two lines, carries only the difference
    (310.15(E), earlier (B)(5)); protective and signal conductors don't count. Abandoned conductors
    count as the spare ones that the note under table 310.15(C)(1) names: somebody may use them
    again (reprint; original not seen).
    """
    count = 0
    for wire in run.in_place:
        if not wire.carries_current:
            continue
        if wire.conductor.function in ("N", "PEN", "M"):
            lines = [
                w for w in run.in_place
                if w.circuit.code == wire.circuit.code and w.conductor.function.startswith("L")
            ]  # fmt: skip
            count += len(lines) < 2
        else:
            count += 1
    return count


def ampacity(wire: Wire, run: Run, code: Code) -> list[Finding]:
    """Return whether a conductor can carry its circuit's current in this raceway."""
    if not wire.carries_current or wire.size is None:
        return []
    if code.is_iec:
        return ampacity_iec(wire, run, code)
    if not code.is_nec:
        return []
    load, metal = load_of(wire.circuit, code), wire.conductor.metal
    source = code.nec(_PLACES["table"])
    if load is None or metal is None:
        lacking = ["current of the circuit"] if load is None else []
        return [missing("ampacity", wire.name, lacking + ["metal"] * (metal is None), source, "A")]
    try:
        return [_judge(wire, run, code, load, metal)]
    except TableEntryError as error:
        return [
            Finding("ampacity", wire.name, "doubt", load.derated_a, None, "A", source, str(error))
        ]


@dataclass(frozen=True)
class _Conditions:
    """What a conductor meets in a raceway."""

    rating_c: int
    ambient_c: float
    count: int
    lacking: tuple[str, ...]

    @property
    def factor(self) -> float:
        return ambient_factor(self.ambient_c, self.rating_c) * adjustment_factor(self.count)


def _conditions(wire: Wire, run: Run) -> _Conditions:
    """Return the conditions; for an unknown one a value that flatters no conductor but 30 °C."""
    rating_c, lacking = _rating(wire, run.raceway.wet)
    ambient = run.raceway.ambient_c
    ambient = run.site.ambient_max_c if ambient is None else ambient
    if ambient is None:
        lacking.append("ambient temperature")
    count = 1 if run.is_nipple else current_carrying(run)
    return _Conditions(
        rating_c, BASE_AMBIENT_C if ambient is None else ambient, count,
        tuple(lacking),
    )  # fmt: skip


def _rating(wire: Wire, wet: bool | None) -> tuple[int, list[str]]:
    """Return the temperature rating that is sure, and what is missing for a better one."""
    rows = type_rows(wire.conductor.insulation)
    dry = max((int(row["dry_c"]) for row in rows), default=60)
    in_wet = max((int(row["wet_c"]) for row in rows if row["wet_c"]), default=60)
    if not rows:
        return 60, ["insulation type"]
    if wet is False:
        return dry, []
    if wet is None:
        return in_wet, [] if in_wet == dry else ["whether the raceway is wet"]
    return in_wet, [] if any(row["wet_c"] for row in rows) else ["a type for wet places"]


def _judge(wire: Wire, run: Run, code: Code, load: Load, metal: str) -> Finding:
    """Return the finding: the corrected ampacity, then what the terminals bear."""
    conditions = _conditions(wire, run)
    size = as_size(wire.conductor.size)
    corrected = table_ampacity(size, metal, conditions.rating_c) * conditions.factor
    warm = size.area_mm2 > _TERMINAL_75_ABOVE.area_mm2 or load.plain_a > _TERMINAL_75_ABOVE_A
    terminal = table_ampacity(size, metal, 75 if warm else 60)
    terminal_75 = table_ampacity(size, metal, 75)
    governs_derated = load.derated_a / max(corrected, 1e-9) >= load.plain_a / terminal
    figure, limit = (load.derated_a, corrected) if governs_derated else (load.plain_a, terminal)
    too_much = load.derated_a > corrected or load.plain_a > terminal_75
    outcome, note = _outcome(too_much, load.plain_a > terminal, conditions, warm)
    words = (
        f"{load.why}; {size.text} {metal} at {conditions.rating_c} °C: {corrected:.4g} A with "
        f"{conditions.ambient_c:g} °C and {conditions.count} current-carrying, "
        f"{terminal:g} A at its terminals{note}"
    )
    outcome, words = _protected(wire, code, outcome, words, min(corrected, terminal_75))
    source = f"{code.nec(_PLACES['table'])}, {_cited(code)}; {load.source}"
    return Finding(
        "ampacity", wire.name, outcome, round(figure, 3), round(limit, 2), "A", source, words
    )


def _cited(code: Code) -> str:
    wanted = (code.nec(_PLACES["ambient"]), code.nec(_PLACES["adjustment"]), "110.14(C)")
    return ", ".join(place.removeprefix(f"NEC {code.edition} ") for place in wanted)


def _outcome(
    too_much: bool, hot_terminal: bool, conditions: _Conditions, warm: bool
) -> tuple[Outcome, str]:
    lacking = ", ".join(conditions.lacking)
    if too_much:
        only_type = conditions.lacking and conditions.lacking != ("ambient temperature",)
        if only_type:
            return "doubt", f"; too little if so, but unknown: {lacking}"
        return "fail", "; take a larger conductor"
    if conditions.lacking and conditions.lacking != ("insulation type",):
        return "doubt", f"; unknown: {lacking}"
    if hot_terminal and not warm:
        return "doubt", "; enough only if the terminals are marked 75 °C: not recorded"
    return "pass", "; insulation taken as 60 °C" if lacking else ""


def _protected(
    wire: Wire, code: Code, outcome: Outcome, words: str, ampacity_a: float
) -> tuple[Outcome, str]:
    """Return the outcome, lowered to a doubt where the overcurrent device is too large."""
    rating, metal = wire.circuit.overcurrent_a, wire.conductor.metal or ""
    if rating is None or wire.size is None:
        return outcome, words
    row = load_table("nec_240_4_d").find(size=wire.size.table_key, metal=metal)
    allowed, place = next_standard_rating(ampacity_a), "240.4(B)"
    if row is not None and float(row["amp"]) < allowed:
        allowed, place = float(row["amp"]), "240.4(D)"
    if rating <= allowed:
        return outcome, words
    words += (
        f"; overcurrent device {rating:g} A above {allowed:g} A ({code.nec(place)}), right only "
        "where 240.4(G) allows it, as for motors"
    )
    return ("fail" if outcome == "fail" else "doubt"), words


def next_standard_rating(amperes: float) -> float:
    """Return the standard overcurrent rating at or next above an ampacity, up to 800 A.

    Above 800 A it is the next one below (NEC 240.4(C)).

    References
    ----------
    .. [1] NEC 240.4(B) and 240.6(A) (reprint; original not seen).

    >>> next_standard_rating(36.4), next_standard_rating(40)
    (40.0, 40.0)
    """
    above(0, "Ampacity", amperes, "A")
    ratings = [float(row["amp"]) for row in load_table("nec_240_6").rows]
    if amperes <= 800:
        return next(rating for rating in ratings if rating >= amperes)
    return max(rating for rating in ratings if rating <= amperes)
