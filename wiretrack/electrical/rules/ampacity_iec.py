# SPDX-License-Identifier: MIT
"""Current-carrying capacity of insulated conductors in conduit by IEC 60364-5-52, method B1."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding, missing
from wiretrack.electrical.limits import above, between, check_metal
from wiretrack.electrical.rules.load import Load, load_of
from wiretrack.electrical.sizes import Size, as_size
from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError, TableEntryError
from wiretrack.sources import IEC_60364_5_52

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.verdicts import Outcome

_THERMOSET = re.compile(r"XLPE|EPR|XHHW|XLPO|\bRHW|\bRHH|N2XY|NA2XY|H07Z|H1Z2Z2|EVI|FG16", re.I)
_PVC = re.compile(r"PVC|H07V|H05V|NYY|NYM|THW|THHN|\bTW\b", re.I)


def capacity_b1(size: Size | str, metal: str, insulation: str, loaded: int) -> tuple[float, str]:
    """Return the current-carrying capacity in A at 30 °C, and its citation.

    Parameters
    ----------
    insulation : {"PVC", "XLPE"}
        70 °C or 90 °C at the conductor.
    loaded : {2, 3}
        Loaded conductors of the circuit.

    References
    ----------
    .. [1] IEC 60364-5-52:2009 tables B.52.2 to B.52.5, method B1 (reprint; original not seen).

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
    rows = load_table("iec60364_5_52_ambient").rows
    row = next(row for row in rows if ambient_c <= float(row["up_to_c"]))
    return float(row[insulation.lower()] or 0.0)


def grouping_factor(circuits: int) -> float:
    """Return the reduction for circuits in one conduit (table B.52.17 item 1, reprint)."""
    above(0, "Count of circuits", circuits, "")
    for row in load_table("iec60364_5_52_grouping").rows:
        if circuits <= int(row["circuits"]):
            return float(row["factor"])
    raise TableEntryError("IEC 60364-5-52 table B.52.17", f"{circuits} circuits", ("20",))


def insulation_material(text: str | None) -> str | None:
    """Return ``PVC`` or ``XLPE`` for a printed type, or None if it doesn't tell."""
    if text is None:
        return None
    if _THERMOSET.search(text):
        return "XLPE"
    return "PVC" if _PVC.search(text) else None


def ampacity_iec(wire: Wire, run: Run, code: Code) -> list[Finding]:
    """Return whether a conductor in conduit can carry its circuit's current (IEC)."""
    load, metal, source = load_of(wire.circuit, code), wire.conductor.metal, IEC_60364_5_52.key
    if load is None or metal is None:
        lacking = ["current of the circuit"] if load is None else []
        return [missing("ampacity", wire.name, lacking + ["metal"] * (metal is None), source, "A")]
    try:
        return [_judge(wire, run, load, metal)]
    except TableEntryError as error:
        return [
            Finding("ampacity", wire.name, "doubt", load.derated_a, None, "A", source, str(error))
        ]


def _judge(wire: Wire, run: Run, load: Load, metal: str) -> Finding:
    known = insulation_material(wire.conductor.insulation)
    insulation, lacking = known or "PVC", [] if known else ["insulation, taken as PVC"]
    ambient = run.raceway.ambient_c
    ambient = run.site.ambient_max_c if ambient is None else ambient
    if ambient is None:
        lacking.append("ambient temperature, taken as 30 °C")
    loaded = 3 if wire.circuit.system == "ac-3ph" else 2
    capacity, source = capacity_b1(wire.conductor.size, metal, insulation, loaded)
    circuits = sum(circuit.system not in ("signal", "earthing") for circuit in run.circuits)
    degrees = 30.0 if ambient is None else ambient
    limit = capacity * ambient_factor_iec(degrees, insulation) * grouping_factor(circuits)
    outcome = _outcome(load.derated_a, limit, lacking, known is not None)
    words = (
        f"{load.why}; {wire.conductor.size} {metal} {insulation}: {limit:.4g} A in conduit with "
        f"{circuits} circuit{'s' if circuits != 1 else ''} at {degrees:g} °C"
    )
    words += f"; unknown: {', '.join(lacking)}" if lacking else ""
    cited = f"{source}, tables B.52.14 and B.52.17; {load.source}"
    return Finding(
        "ampacity", wire.name, outcome, round(load.derated_a, 3), round(limit, 2), "A", cited, words
    )


def _outcome(needed_a: float, limit_a: float, lacking: list[str], known: bool) -> Outcome:
    """Return the outcome; PVC taken for unknown insulation is safe, 30 °C for ambient isn't."""
    if needed_a > limit_a:
        return "fail" if known else "doubt"
    return "doubt" if any(fact.startswith("ambient") for fact in lacking) else "pass"
