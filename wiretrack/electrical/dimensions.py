# SPDX-License-Identifier: MIT
"""Insulation and raceways by their printed types, and the dimensions that follow (NEC)."""

from __future__ import annotations

import re
from math import pi, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import between, shown
from wiretrack.electrical.tables import Row, load_table
from wiretrack.errors import AmbiguousError, TableEntryError
from wiretrack.late import dataclass
from wiretrack.model.kinds import RACEWAY_TYPE

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Wire


MM_PER_IN = 25.4  # exact: the international inch


@dataclass(frozen=True)
class Outside:
    """Cross-section of a conductor with its insulation, and where the figure comes from."""

    area_in2: float
    diameter_in: float
    source: str


def known_types(text: str | None) -> tuple[str, ...]:
    """Return the types printed on a conductor that the NEC's table lists.

    >>> known_types("USE-2/RHW-2"), known_types("THHN or THWN-2"), known_types("PV wire")
    (('USE-2', 'RHW-2'), ('THHN', 'THWN-2'), ('PV wire',))
    """
    if text is None:
        return ()
    listed = {row["type"].upper(): row["type"] for row in load_table("nec_insulation_types").rows}
    plain = re.sub(r"PV[\s-]*WIRE", "PV_WIRE", text.upper())
    words = [word.replace("PV_WIRE", "PV WIRE") for word in re.split(r"[\s/,;]+", plain)]
    return tuple(listed[word] for word in words if word in listed)


def type_rows(text: str | None) -> list[Row]:
    """Return the rows of the NEC's insulation table for the types printed on a conductor."""
    found = known_types(text)
    return [row for row in load_table("nec_insulation_types").rows if row["type"] in found]


def unread_note(text: str | None) -> str:
    """Return the confidence in a printed type's row, where it isn't one of the NEC's table."""
    rows = type_rows(text)
    low = bool(rows) and all(row["confidence"] == "low" for row in rows)
    return "; confidence in the figures of this type: low" if low else ""


def outside_of(wire: Wire) -> Outside | None:
    """Return a conductor's outside, or None if neither the record nor a table has it.

    A recorded diameter first (note 5): it is that of the wire that lies there. Else table 5,
    table 8 for bare ones (note 8), table 5A for compact ones. Source: NEC chapter 9 (reprint;
    original not seen).
    """
    diameter_mm = wire.conductor.outer_diameter_mm
    if diameter_mm is not None:
        between(0.1, 500, f"Outside diameter of {wire.name}", diameter_mm, "mm")
        diameter_in = diameter_mm / MM_PER_IN
        return Outside(pi / 4 * diameter_in**2, diameter_in, "note 5 (diameter as recorded)")
    text = wire.conductor.insulation
    key = wire.size.table_key if wire.size and wire.size.system != "mm2" else None
    if key is None or text is None:
        return None
    return _bare(wire, key) if wire.is_bare else _row(text, key)


def _bare(wire: Wire, key: str) -> Outside | None:
    construction = "solid" if wire.conductor.strands == 1 else "stranded"
    row = load_table("nec_ch9_table8").find(size=key, construction=construction)
    if row is None:
        return None
    diameter_in = float(row["diameter_in"])
    return Outside(pi / 4 * diameter_in**2, diameter_in, "table 8")


def _row(text: str, key: str) -> Outside | None:
    """Return the row of table 5 or 5A for printed types; the largest where several match."""
    compact = "compact" in text.lower()
    name, place = ("nec_ch9_table5a", "5A") if compact else ("nec_ch9_table5", "5")
    bare_of_covering = "without" in text.lower()
    rows = [
        row for row in load_table(name).rows
        if row["size"] == key and set(known_types(text)) & set(row["insulation"].split())
        and not (bare_of_covering and row.get("covering"))
    ]  # fmt: skip
    if not rows:
        return None
    row = max(rows, key=lambda row: float(row["area_in2"]))
    area = float(row["area_in2"])
    diameter = float(row["diameter_in"]) if row.get("diameter_in") else sqrt(4 * area / pi)
    return Outside(area, diameter, f"table {place}")


METAL_TYPES = ("EMT", "FMC", "IMC", "LFMC", "RMC")
PLASTIC_TYPES = ("ENT", "HDPE", "LFNC-B", "PVC-40", "PVC-80")
TYPES = (*METAL_TYPES, *PLASTIC_TYPES)


@dataclass(frozen=True)
class Bore:
    """The inside of a raceway."""

    type: str
    trade_size: str
    diameter_in: float
    area_in2: float


def raceway_type(text: str | None) -> str | None:
    """Return the type as the tables name it, or None if they don't know it.

    >>> raceway_type("rmc"), raceway_type("PVC sch 40"), raceway_type("PVC")
    ('RMC', 'PVC-40', None)
    """
    try:
        found = RACEWAY_TYPE.meant(text or "")
    except AmbiguousError:
        return None
    return found if found in TYPES else None


def parse_trade_size(text: str) -> str:
    """Return a trade size as table 4 writes it: ``3/4``, ``1``, ``1-1/4``.

    Raises `TableEntryError` if no raceway has such a size.

    >>> parse_trade_size('1 1/4"'), parse_trade_size("3/4 in")
    ('1-1/4', '3/4')
    """
    plain = re.sub(r"\s*(?:in|inch|inches|\"|″)\.?$", "", text.strip(), flags=re.IGNORECASE)
    plain = re.sub(r"\s+", "-", plain)
    sizes = tuple(dict.fromkeys(load_table("nec_ch9_table4").column("trade_size")))
    if plain not in sizes:
        raise TableEntryError("NEC chapter 9 table 4", shown(text), sizes)
    return plain


def bore_of(type_: str, trade_size: str) -> Bore:
    """Return the inside of a raceway by NEC chapter 9 table 4 (reprint; original not seen).

    Raises `TableEntryError` if the table has no such raceway; the sizes it has are named.
    """
    table = load_table("nec_ch9_table4")
    row = table.find(raceway=type_, trade_size=trade_size)
    if row is None:
        sizes = [f"{type_} {r['trade_size']}" for r in table.rows if r["raceway"] == type_]
        raise TableEntryError("NEC chapter 9 table 4", f"{type_} {trade_size}", sizes or TYPES)
    return Bore(type_, trade_size, float(row["inside_diameter_in"]), float(row["area_in2"]))
