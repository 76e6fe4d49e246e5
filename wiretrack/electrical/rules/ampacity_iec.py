# SPDX-License-Identifier: MIT
"""Current-carrying capacity of insulated conductors in conduit by IEC 60364-5-52, method B1."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Clause, Finding, worst
from wiretrack.electrical.limits import above, between, check_metal
from wiretrack.electrical.rules.load import Load, by_share, load_of, share_of
from wiretrack.electrical.rules.protection import for_conductor_iec
from wiretrack.electrical.sizes import Size, as_size
from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError, TableEntryError
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60364_5_52

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entity import Outcome

_THERMOSET = re.compile(r"XLPE|EPR|XHHW|XLPO|\bRHW|\bRHH|N2XY|NA2XY|H07Z|H1Z2Z2|EVI|FG16", re.I)
_MATERIALS = ("PVC", "XLPE")
_COOLEST_C = 10.0  # IEC 60364-5-52 table B.52.14, first row (reprint)
_PVC = re.compile(r"PVC|H07V|H05V|NYY|NYM|THW|THHN|\bTW\b", re.I)


def capacity_b1(size: Size | str, metal: str, insulation: str, loaded: int) -> tuple[float, str]:
    """Return the current-carrying capacity in A at 30 °C, and its citation.

    ``PVC`` is 70 °C at the conductor, ``XLPE`` 90 °C; 2 or 3 conductors of the circuit are
    loaded.

    Source: IEC 60364-5-52:2009 tables B.52.2 to B.52.5, method B1 (reprint; original not seen).

    >>> capacity_b1("4 mm2", "Cu", "PVC", 3)[0]
    28.0
    """
    size = as_size(size)
    check_metal(metal)
    if insulation not in ("PVC", "XLPE"):
        raise BadInputError(f"'{insulation}' is not insulation here. It is PVC or XLPE.")
    table = load_table("iec60364_5_52_b1")
    key = f"{size.number:g}" if size.system == "mm2" else ""
    row = table.find(area_mm2=key, metal=metal, insulation=insulation, loaded=str(loaded))
    if row is None:
        held = [r["area_mm2"] + " mm2" for r in table.rows if r["metal"] == metal]
        wanted = f"{size.text} {metal}, {loaded} loaded"
        raise TableEntryError("IEC 60364-5-52 method B1", wanted, list(dict.fromkeys(held)))
    return float(row["amp"]), IEC_60364_5_52.cite(f"table {row['table']}, method B1")


def ambient_factor_iec(ambient_c: float, insulation: str) -> float:
    """Return the correction for ambient temperature (IEC 60364-5-52 table B.52.14, reprint)."""
    between(-60, 80, "Ambient temperature", ambient_c, "°C")
    row = load_table("iec60364_5_52_ambient").up_to("up_to_c", ambient_c)
    return float((row and row[insulation.lower()]) or 0.0)


def grouping_factor(circuits: int) -> float:
    """Return the reduction for circuits in one conduit (table B.52.17 item 1, reprint)."""
    above(0, "Count of circuits", circuits, "")
    row = load_table("iec60364_5_52_grouping").up_to("circuits", circuits)
    if row is None:
        raise TableEntryError("IEC 60364-5-52 table B.52.17", f"{circuits} circuits", ("20",))
    return float(row["factor"])


def insulation_material(text: str | None) -> str | None:
    """Return ``PVC`` or ``XLPE`` for a printed type, or None if it doesn't tell."""
    if text is None:
        return None
    if _THERMOSET.search(text):
        return "XLPE"
    return "PVC" if _PVC.search(text) else None


def ampacity_iec(wire: Wire, run: Run | None, code: Code) -> list[Finding]:
    """Return whether a conductor in conduit suits its circuit's current and its device (IEC).

    IEC 60364-4-43 433.1: the design current is at most the rating of the device, and that at most
    the capacity of the conductor; the first is judged once for the circuit.
    """
    if run is None:
        return _outside(wire)
    load, metal = load_of(wire.circuit, code), wire.conductor.metal
    clause = Clause("ampacity", wire.name, IEC_60364_5_52.key, "A")
    found: list[Finding | None] = []
    if load is None or metal is None:
        lacking = [wire.lacking_current] * (not load)
        lacking += ["metal"] * (metal is None)
        found.append(clause.lacks(*lacking))
    try:
        if metal is not None:
            capacity = _capacity(wire, run, metal)
            if load is not None:
                share = share_of(wire, run.wires)
                found.append(
                    by_share(load, share, lambda part: _judge(wire, part, capacity, metal))
                )
            why, cited = ", ".join(capacity.lacking), capacity.source
            found.append(for_conductor_iec(wire, capacity.sure_a, capacity.best_a, cited, why))
    except TableEntryError as error:
        found.append(clause.finds("doubt", str(error), load.derated_a if load else None))
    return worst(finding for finding in found if finding is not None)


def _outside(wire: Wire) -> list[Finding]:
    """Return a doubt where the device is above what method B1 allows under the best conditions.

    In no recorded raceway the method of installation isn't known, so nothing is certain.
    """
    metal, known = wire.conductor.metal, insulation_material(wire.conductor.insulation)
    material, loaded = known or "XLPE", 3 if wire.circuit.system == "ac-3ph" else 2
    try:
        amperes, source = capacity_b1(wire.conductor.size, metal or "", material, loaded)
    except TableEntryError:
        return []
    best = amperes * ambient_factor_iec(_COOLEST_C, material)
    found = for_conductor_iec(wire, best, best, source, "")
    if found is None:
        return []
    words = f"{found.reason}; in no raceway of the record: state its pull"
    return [replace(found, outcome="doubt", reason=words)]


@dataclass(frozen=True)
class _Capacity:
    """What a conductor carries here: as far as is sure, and if all unknown were favourable."""

    sure_a: float
    best_a: float
    words: str
    source: str
    lacking: tuple[str, ...]
    known: bool


def _capacity(wire: Wire, run: Run, metal: str) -> _Capacity:
    known = insulation_material(wire.conductor.insulation)
    insulation, lacking = known or "PVC", [] if known else ["insulation, assumed to be PVC"]
    ambient = run.ambient_c
    if ambient is None:
        lacking.append("ambient temperature, assumed to be 30 °C: state ambient or ambient_max")
    loaded = 3 if wire.circuit.system == "ac-3ph" else 2
    capacity, source = capacity_b1(wire.conductor.size, metal, insulation, loaded)
    best, _ = capacity_b1(wire.conductor.size, metal, known or "XLPE", loaded)
    circuits = len(  # each of parallel sets heats the others as a circuit does
        {(w.circuit.code, w.conductor.parallel_set) for w in run.wires if w.carries_current}
    )
    degrees = 30.0 if ambient is None else ambient
    group = grouping_factor(circuits)
    cool = _COOLEST_C if ambient is None else degrees
    coolest = max(ambient_factor_iec(cool, kind) for kind in ([known] if known else _MATERIALS))
    return _Capacity(
        capacity * ambient_factor_iec(degrees, insulation) * group, best * coolest * group,
        f"with {circuits} circuit{'s' if circuits != 1 else ''} at {degrees:g} °C",
        f"{source}, tables B.52.14 and B.52.17", tuple(lacking), known is not None,
    )  # fmt: skip


def _judge(wire: Wire, load: Load, capacity: _Capacity, metal: str) -> Finding:
    lacking, limit = capacity.lacking, capacity.sure_a
    outcome = _outcome(load.derated_a, limit, lacking, capacity.known)
    material = insulation_material(wire.conductor.insulation) or "PVC"
    words = (
        f"{load.why}; {wire.conductor.size} {metal} {material}: {limit:.4g} A in conduit "
        f"{capacity.words}"
    )
    words += f"; unknown: {', '.join(lacking)}" if lacking else ""
    cited = f"{capacity.source}; {load.source}"
    clause = Clause("ampacity", wire.name, cited, "A")
    return clause.finds(outcome, words, round(load.derated_a, 3), round(limit, 2))


def _outcome(needed_a: float, limit_a: float, lacking: tuple[str, ...], known: bool) -> Outcome:
    """Return the outcome; PVC taken for unknown insulation is safe, 30 °C for ambient isn't."""
    if needed_a > limit_a:
        return "fail" if known else "doubt"
    return "doubt" if any(fact.startswith("ambient") for fact in lacking) else "pass"
