# SPDX-License-Identifier: MIT
"""Whether an earthing conductor lies in a raceway, and whether it is thick enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.assemble import LINES
from wiretrack.electrical.dimensions import PLASTIC_TYPES, raceway_type
from wiretrack.electrical.findings import Clause, Finding, raceways, rule
from wiretrack.electrical.limits import above, check_metal
from wiretrack.electrical.quantity_text import format_area
from wiretrack.electrical.rules.ampacity import smallest_sufficient
from wiretrack.electrical.sizes import Size, size_of_key
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60364_5_54

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entities import Circuit
    from wiretrack.model.entity import Outcome

# Metal raceways that are an equipment earthing conductor by themselves: NEC 250.118 (reprint).
_EARTHING_RACEWAYS = ("RMC", "IMC", "EMT")
_EXEMPT_SYSTEMS = ("signal", "earthing")
_PV_FACTOR = 1.25 * 1.25  # NEC 690.8(A) and 690.9(B) (reprint): assumed device of a PV circuit


def smallest_earthing(overcurrent_a: float, metal: str) -> Size:
    """Return the smallest equipment earthing conductor for an overcurrent device.

    Raises `TableEntryError` if the device is above the table's 6000 A.

    Source: NEC table 250.122 (reprint; original not seen): the next row at or above the rating.

    >>> smallest_earthing(20, "Cu").text, smallest_earthing(30, "Cu").text
    ('12 AWG', '10 AWG')
    """
    above(0, "Rating of the overcurrent device", overcurrent_a, "A")
    check_metal(metal)
    row = load_table("nec_250_122").up_to("amp", overcurrent_a)
    if row is None:
        raise TableEntryError("NEC table 250.122", f"{overcurrent_a:g} A", ("6000 A",))
    return size_of_key(row[metal.lower()])


def protective_area_mm2(line_mm2: float) -> float:
    """Return the least area in mm² of a protective conductor of the line's metal.

    Source: IEC 60364-5-54:2011 table 54.2 (reprint; original not seen).

    >>> protective_area_mm2(4), protective_area_mm2(25), protective_area_mm2(70)
    (4, 16.0, 35.0)
    """
    above(0, "Area of the line conductor", line_mm2, "mm²")
    row = load_table("iec60364_5_54_pe").up_to("line_up_to_mm2", line_mm2)
    if row is None:
        return line_mm2 / 2
    return line_mm2 if row["pe"] == "same" else float(row["pe"])


@rule("earthing-size", raceways)
def earthing_size(run: Run, code: Code) -> list[Finding]:
    """Return whether the circuits in a raceway have an earthing conductor of the right size."""
    circuits = [c for c in run.circuits if c.system not in _EXEMPT_SYSTEMS]
    if not circuits or code.rules is None:
        return []
    earths = [wire for wire in run.wires if wire.conductor.function in ("PE", "PEN")]
    if not earths:
        return [_absent_nec(run, code) if code.is_nec else _absent_iec(run)]
    sized = [(wire, wire.size) for wire in earths if wire.size is not None]
    if not sized:
        return [Clause("earthing-size", run.raceway.code, _source(code)).lacks("size of the PE")]
    wire, size = max(sized, key=lambda pair: pair[1].area_mm2)
    if code.is_nec:
        return [_size_nec(run, code, circuits, wire, size)]
    return [_size_iec(run, wire, size)]


def _source(code: Code) -> str:
    return code.at("earthing-table") if code.is_nec else IEC_60364_5_54.cite("table 54.2")


def _absent_nec(run: Run, code: Code) -> Finding:
    kind, metal = raceway_type(run.raceway.type), run.raceway.metal
    source = code.nec("250.118 and 250.134")
    outcome: Outcome = "doubt"
    if kind in _EARTHING_RACEWAYS and metal is not False:
        outcome, reason = "pass", f"no conductor, but {kind} itself earths if its joints are sound"
    elif kind in PLASTIC_TYPES or metal is False:
        outcome, reason = "fail", "no earthing conductor in a raceway that isn't metal"
    elif metal:
        reason = f"no conductor; whether {run.raceway.type or 'this raceway'} may serve depends"
        reason += " on its length, size and fittings (250.118)"
    else:
        reason = "no earthing conductor; unknown: whether the raceway is metal"
    return _clause(run, source).finds(outcome, reason)


def _absent_iec(run: Run) -> Finding:
    reason = "no protective conductor among these; right only for double insulation, SELV, or a "
    reason += "metal raceway that serves as one"
    return _clause(run, IEC_60364_5_54.cite("543.2")).finds("doubt", reason)


def _clause(run: Run, source: str) -> Clause:
    return Clause("earthing-size", run.raceway.code, source, "mm2")


def _rating(circuit: Circuit, run: Run) -> float | None:
    """Return the overcurrent rating that governs: known, or assumed for PV from its current."""
    known = [w.protection.high_a for w in run.wires if w.circuit == circuit and w.protection]
    if known:
        return known[0]
    if circuit.overcurrent_a is not None:
        return circuit.overcurrent_a
    if circuit.system == "dc-pv" and circuit.module_isc_a is not None:
        return _PV_FACTOR * circuit.module_isc_a * (circuit.strings_in_parallel or 1)
    return None


def _size_nec(run: Run, code: Code, circuits: list[Circuit], wire: Wire, size: Size) -> Finding:
    """Return the finding by table 250.122, for the largest device in the raceway (250.122(C)).

    It grows with conductors that are larger than needed (250.122(B)), circuit by circuit.
    """
    ratings = {circuit.code: _rating(circuit, run) for circuit in circuits}
    unknown = [name for name, rating in ratings.items() if rating is None]
    known = [rating for rating in ratings.values() if rating is not None]
    metal, source = wire.conductor.metal, code.at("earthing-table")
    if metal is None or not known:
        lacking = ["metal of the PE"] if metal is None else []
        lacking += [f"rating of the overcurrent device of {name}" for name in unknown]
        return _clause(run, source).lacks(*lacking)
    needed = smallest_earthing(max(known), metal)
    largest = max((w.size.area_mm2 for w in run.wires if w.carries_current and w.size), default=0.0)
    capped = 0 < largest < needed.area_mm2
    limit = largest if capped else needed.area_mm2
    words = f"PE is {size.text}, {needed.text} {metal} needed for {max(known):g} A"
    words += "; no larger than the circuit conductors (250.122(A))" if capped else ""
    if size.area_mm2 < limit * 0.999:
        return _clause(run, source).finds("fail", words, round(size.area_mm2, 2), round(limit, 2))
    grown = [
        found for circuit in circuits
        if (rating := ratings[circuit.code]) is not None
        and (found := _upsized(run, code, circuit, rating, wire))
    ]  # fmt: skip
    worst = max(grown, key=lambda one: one.sure_mm2, default=None)
    if worst is not None and worst.most_mm2 > size.area_mm2 * 1.001:
        return _too_small(run, code, worst, size)
    if worst is not None and worst.most_mm2 > limit:
        words += f"; {worst.words}"
        limit, source = worst.most_mm2, f"{source} and 250.122(B)"
    words += f"; unknown: overcurrent device of {', '.join(unknown)}" if unknown else ""
    outcome: Outcome = "doubt" if unknown else "pass"
    return _clause(run, source).finds(outcome, words, round(size.area_mm2, 2), round(limit, 2))


@dataclass(frozen=True)
class _Grown:
    """The earthing conductor for upsized conductors: at least, and at most if unknowns are bad."""

    sure_mm2: float
    most_mm2: float
    words: str
    state: str


def _too_small(run: Run, code: Code, grown: _Grown, size: Size) -> Finding:
    """Return the finding on an earthing conductor that did not grow with the others."""
    source, area = code.at("earthing-upsized"), round(size.area_mm2, 2)
    words = f"PE is {size.text}; {grown.words}"
    if (code.edition or 2020) >= 2020:
        words += "; smaller only where a qualified person has sized it (exception)"
    if grown.sure_mm2 > size.area_mm2 * 1.001:
        return _clause(run, source).finds("fail", words, area, round(grown.sure_mm2, 2))
    words += f"; {grown.state}" if grown.state else ""
    return _clause(run, source).finds("doubt", words, area, round(grown.most_mm2, 2))


def _upsized(run: Run, code: Code, circuit: Circuit, rating_a: float, earth: Wire) -> _Grown | None:
    """Return what 250.122(B) asks for beside one circuit's conductors, or None if nothing more.

    Upsized is what is larger than the smallest size that carries the load under the corrections of
    310.15(B) and (C) and that the device may protect (240.4). Increases against voltage drop don't
    count for PV (690.45).
    """
    lines = [
        w for w in run.wires
        if w.circuit == circuit and w.conductor.function in LINES and w.size and w.conductor.metal
    ]  # fmt: skip
    if circuit.system == "dc-pv" or not lines:
        return None
    line = min(lines, key=lambda w: w.size.area_mm2 if w.size else 0.0)
    if earth.size and line.size and earth.size.area_mm2 >= line.size.area_mm2 * 0.999:
        return None  # never larger than the circuit conductors (250.122(A))
    least, most = smallest_sufficient(line, run, code, rating_a)
    if line.size is None or least is None or least.area_mm2 >= line.size.area_mm2 * 0.999:
        return None
    table = smallest_earthing(rating_a, earth.conductor.metal or "").area_mm2
    ceiling = line.size.area_mm2
    at_most = min(ceiling, table * ceiling / least.area_mm2)
    at_least = table if most is None else min(ceiling, max(table, table * ceiling / most.area_mm2))
    words = (
        f"{circuit.code} has {line.size.text} where {least.text} would do, so its PE grows alike"
    )
    state = _what_to_state(circuit) if at_least < at_most * 0.999 else ""
    return _Grown(at_least, at_most, words, state)


def _what_to_state(circuit: Circuit) -> str:
    facts = ["max_current"] * (circuit.max_current_a is None)
    facts += ["continuous"] * (circuit.continuous is None and not circuit.motor)
    words = f"state {', '.join(facts)} of {circuit.code} and " if facts else "state "
    return f"less if more is needed: {words}termination_rating of the devices at its ends"


def _size_iec(run: Run, wire: Wire, size: Size) -> Finding:
    """Return the finding by IEC 60364-5-54 table 54.2, for the largest line in the raceway."""
    lines = [w for w in run.wires if w.carries_current and w.size is not None]
    source = IEC_60364_5_54.cite("table 54.2")
    if not lines:
        return _clause(run, source).lacks("size of the lines")
    largest = max(lines, key=lambda w: w.size.area_mm2 if w.size else 0.0)
    line = largest.size.area_mm2 if largest.size else 0.0
    limit = protective_area_mm2(line)
    metals = {largest.conductor.metal, wire.conductor.metal}
    words = f"PE is {size.text}, {format_area(limit)} needed for a line of {format_area(line)}"
    if len(metals) > 1:
        words += "; the table holds for one metal, and these differ or are unknown"
        return _clause(run, source).finds("doubt", words, round(size.area_mm2, 2), round(limit, 2))
    right = size.area_mm2 >= limit * 0.999
    words += "" if right else "; smaller only by calculation (543.1.2)"
    outcome: Outcome = "pass" if right else "doubt"
    return _clause(run, source).finds(outcome, words, round(size.area_mm2, 2), round(limit, 2))
