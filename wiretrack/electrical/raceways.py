# SPDX-License-Identifier: MIT
"""Raceway types and trade sizes, with the inside dimensions of NEC chapter 9 table 4."""

from __future__ import annotations

import re
from dataclasses import dataclass

from wiretrack.electrical.quantities import shown
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError

METAL_TYPES = ("EMT", "FMC", "IMC", "LFMC", "RMC")
PLASTIC_TYPES = ("ENT", "HDPE", "LFNC-B", "PVC-40", "PVC-80")
TYPES = (*METAL_TYPES, *PLASTIC_TYPES)
_ALSO = {"LFNC": "LFNC-B", "PVC40": "PVC-40", "PVC80": "PVC-80", "GRC": "RMC"}


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
    if text is None:
        return None
    plain = re.sub(r"[\s-]*sch(?:edule)?\.?\s*", "-", text.strip(), flags=re.IGNORECASE).upper()
    plain = _ALSO.get(plain, plain)
    return plain if plain in TYPES else None


def parse_trade_size(text: str) -> str:
    """Return a trade size as table 4 writes it: ``3/4``, ``1``, ``1-1/4``.

    Raises
    ------
    TableEntryError
        If no raceway has such a size.

    >>> parse_trade_size('1 1/4"'), parse_trade_size("3/4 in")
    ('1-1/4', '3/4')
    """
    plain = re.sub(r"\s*(?:in|inch|inches|\"|″)\.?$", "", text.strip(), flags=re.IGNORECASE)
    plain = re.sub(r"\s+", "-", plain)
    sizes = tuple(dict.fromkeys(load_table("nec_ch9_table4").column("trade_size")))
    if plain not in sizes:
        raise TableEntryError("NEC chapter 9 table 4", shown(text), sizes)
    return plain


def bore_of(type_: str, trade_size: str, older: bool = False) -> Bore:
    """Return the inside of a raceway by NEC chapter 9 table 4 (reprint; original not seen).

    Parameters
    ----------
    type_, trade_size : str
        As `raceway_type` and `parse_trade_size` give them.
    older : bool
        For ENT alone: the dimensions of older printings.

    Raises
    ------
    TableEntryError
        If the table has no such raceway; the sizes it has are named.
    """
    name = f"{type_} older" if older and type_ == "ENT" else type_
    table = load_table("nec_ch9_table4")
    row = table.find(raceway=name, trade_size=trade_size)
    if row is None:
        sizes = [f"{type_} {r['trade_size']}" for r in table.rows if r["raceway"] == name]
        raise TableEntryError("NEC chapter 9 table 4", f"{type_} {trade_size}", sizes or TYPES)
    return Bore(type_, trade_size, float(row["inside_diameter_in"]), float(row["area_in2"]))
