# SPDX-License-Identifier: MIT
"""Strands: no thick solid conductors in raceways, and fine ones on PV arrays that move."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import known_types
from wiretrack.electrical.findings import Clause, Finding, rule
from wiretrack.electrical.limits import check_strands
from wiretrack.electrical.sizes import parse_size
from wiretrack.electrical.tables import load_table, places_of
from wiretrack.model.words import ARRAYS
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.electrical.findings import Built, Case
    from wiretrack.electrical.runs import Wire
    from wiretrack.electrical.tables import Code

# NEC 310.106(C), in 2020 and later 310.3(C) (reprint).
_SOLID_BELOW = parse_size("8 AWG")


def _cases(built: Built) -> Iterator[Case]:
    in_raceway = {wire.name for run in built.runs for wire in run.wires}
    arrays = {box.code for box in built.document.enclosures if box.kind in ARRAYS}
    for wire in built.wires:
        at_array = bool(wire.conductor.between & arrays)
        yield wire.name, (wire, built.code, wire.name in in_raceway, at_array)


@rule("strands", _cases)
def strands(wire: Wire, code: Code, in_raceway: bool, at_array: bool = False) -> list[Finding]:
    """Return what the NEC says of a conductor's strands; the IEC sets no such figure.

    `at_array` tells whether one of its ends is at a PV array.
    """
    if not code.is_nec:
        return []
    check_strands(wire.conductor.strands)
    exposed = at_array or "PV wire" in known_types(wire.conductor.insulation)
    return [*_solid(wire, code, in_raceway), *(_tracking(wire, code) if exposed else [])]


def _solid(wire: Wire, code: Code, in_raceway: bool) -> list[Finding]:
    """Return whether a conductor of 8 AWG or more in a raceway is stranded."""
    size = wire.size
    if not in_raceway or size is None or size.area_mm2 < _SOLID_BELOW.area_mm2 * 0.999:
        return []
    count = wire.conductor.strands
    clause = Clause("strands", wire.name, code.at("stranded"), "strands")
    if wire.conductor.function == "PE":
        reason = (
            f"{size.text} PE: an earthing conductor may be solid or stranded, bare or insulated"
        )
        cited = f"{clause.source} and {places_of('earthing-solid')[2014]}"
        return [clause.finds("pass", reason, count, source=cited)]
    if count is None:
        return [clause.lacks("strand count", limit=2.0)]
    reason = f"{size.text} in a raceway with {count} strand{'s' if count > 1 else ''}; "
    reason += "8 AWG and larger must be stranded there, unless bare or permitted elsewhere"
    return [clause.finds("pass" if count > 1 else "fail", reason, count, 2.0)]


def _tracking(wire: Wire, code: Code) -> list[Finding]:
    """Return whether a PV conductor has the strands that moving parts of arrays ask for.

    The clause covers the moving parts of tracking arrays alone. On other conductors that end at an
    array, or of PV wire, the table is common practice, so a lower count is no more than a doubt.
    """
    if wire.circuit.system != "dc-pv" or wire.is_earth or wire.size is None:
        return []
    row = load_table("nec_690_31_strands").find(size=wire.size.table_key)
    if row is None or wire.size.system == "mm2" or wire.conductor.strands is None:
        return []
    table = code.nec({2014: "690.31", 2020: "table 690.31(C)(4)"})
    source = f"{table}; on arrays that don't move {COMMON_PRACTICE.key}"
    count, limit = wire.conductor.strands, float(row["strands"])
    scope = "asked for on the moving parts of tracking arrays"
    reason = f"{wire.size.text} with {count} strands; {limit:g} are {scope}"
    clause = Clause("strands", wire.name, source, "strands")
    return [clause.finds("pass" if count >= limit else "doubt", reason, count, limit)]
