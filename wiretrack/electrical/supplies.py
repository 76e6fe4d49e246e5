# SPDX-License-Identifier: MIT
"""Which supply a circuit has, and the band of voltage between any two of its functions.

Where the supply isn't recorded, `systems_of` returns every one that the record allows.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.strings import lacking_of, modules_of
from wiretrack.electrical.tables import load_table
from wiretrack.late import dataclass
from wiretrack.model.words import EARTHS, LINES, SUPPLIES
from wiretrack.sources import ANSI_C84_1, COMMON_PRACTICE, IEC_60038, IEC_60364_4_41, NEC

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.electrical.strings import Modules
    from wiretrack.model.entities import Circuit
    from wiretrack.model.parts import SiteFacts

_SAME_V = 0.5  # exact: nominal voltages are whole volts; 480/√3 is written 277
_SUPPLY = 0.10  # IEC 60038:2009, Table 1 (reprint): within 10 % of nominal at the supply
_USE = 0.14  # IEC 60038:2009, Table A.1 (from memory): the least at the load is 14 % below nominal
# common practice: half of the 5 % of voltage drop that NEC 210.19(A) and IEC 60364-5-52 recommend
# lies on the neutral.
_NEUTRAL_SHARE = 0.025
_TOUCH_V = 50.0  # IEC 60364-4-41, 414.1 (from memory): AC; above it touch is dangerous
_NEUTRAL_SOURCE = (
    f"{COMMON_PRACTICE.key}: half of the 5 % voltage drop of {NEC.key} 210.19(A) and "
    f"IEC 60364-5-52; above 50 V {IEC_60364_4_41.cite()}"
)
ANSI, IEC = "ANSI C84.1", "IEC 60038"
_STANDARDS = {"NEC": ANSI, "IEC": IEC}
_RANGES = ("a_least_use_v", "a_most_v", "b_least_use_v", "b_most_v")


@dataclass(frozen=True)
class CircuitFacts:
    """What the record says of a circuit's voltages; `functions` are those of its conductors.

    `max_voltage_v` of AC is the nominal one: between lines where it has more than one line. [V]
    """

    system: str | None = None
    max_voltage_v: float | None = None
    functions: frozenset[str] = frozenset()
    supply: str | None = None
    earthing: str | None = None
    rules: str | None = None
    solidly_earthed: bool | None = None
    modules: Modules | None = None


def circuit_facts(circuit: Circuit, functions: Iterable[str], site: SiteFacts) -> CircuitFacts:
    """Return what the record says of a circuit's voltages."""
    loose = "IT" if circuit.solidly_earthed is False else None
    return CircuitFacts(
        system=circuit.system,
        max_voltage_v=circuit.max_voltage_v,
        functions=frozenset(functions),
        supply=circuit.supply,
        earthing=circuit.earthing or loose or site.earthing,
        rules=site.rules,
        solidly_earthed=circuit.solidly_earthed,
        modules=None if lacking_of(circuit) else modules_of(circuit),
    )


@dataclass(frozen=True)
class System:
    """One supply that a circuit may have; voltages in V, `None` where it has no such point."""

    name: str
    form: str
    line_v: float | None
    neutral_v: float | None
    standards: tuple[str, ...]
    l2_is_high: bool = True


@dataclass(frozen=True)
class Band:
    """The voltage between two functions: right within, beyond the outer bounds wrong; in V."""

    nominal_v: float
    low_v: float
    high_v: float
    lowest_v: float
    highest_v: float
    source: str
    system: str
    standard: str


def systems_of(facts: CircuitFacts) -> tuple[System, ...]:
    """Return every supply that the record allows, most likely first; none if it says too little.

    A circuit of one phase with two lines of 240 V is one of a system with a midpoint, unless its
    supply is recorded.

    Source: ANSI C84.1-2016 and IEC 60038:2009, Table 1: the nominal systems (reprints); NEC
    408.3(E)(1): the high leg is phase B, here L2 (reprint).
    """
    if facts.supply in SUPPLIES:
        found = [system for system in _listed() if system.name == facts.supply]
    elif facts.max_voltage_v is None:
        return ()
    elif facts.system == "ac-1ph" and len(facts.functions.intersection(LINES)) < 2:
        found = _to_neutral(facts.max_voltage_v, facts.rules)
    else:
        found = _between_lines(facts, facts.max_voltage_v)
    return tuple(leg for system in found for leg in _legs(system, facts))


def bands(facts: CircuitFacts, one: str, other: str) -> tuple[tuple[System, Band | None], ...]:
    """Return each supply that the record allows with its band between two functions.

    A band is `None` where the supply fixes no voltage between the two. A supply stands twice where
    the site's rules are unknown and both standards list it.
    """
    return tuple(
        (system, _band(system, standard, facts, one, other))
        for system in systems_of(facts)
        for standard in _standards(system, facts.rules)
    )


def _to_neutral(volts: float, rules: str | None) -> list[System]:
    """Return the supplies of a circuit with one line: its highest voltage is to the neutral.

    The NEC knows no system of 208, 240 or 480 V to the neutral, so there it may be the system's.
    """
    alike = [system for system in _listed() if _same(system.neutral_v, volts)]
    standards = tuple(dict.fromkeys(name for system in alike for name in system.standards))
    standards = standards or (_STANDARDS.get(rules or "", IEC),)
    found = [System(f"{volts:g}", "two-wire", None, volts, standards)]
    if rules == "NEC":
        found += [s for s in _between(volts, rules) if s.form in ("midpoint", "star")]
    return found


def _between_lines(facts: CircuitFacts, volts: float) -> list[System]:
    found = _between(volts, facts.rules)
    if facts.system == "ac-1ph":
        found = [system for system in found if system.form != "high leg"]
        found = [system for system in found if system.form == "midpoint"] or found
    else:
        found = [system for system in found if system.form != "midpoint"]
    if facts.functions.intersection(("N", "PEN")):
        found = [system for system in found if system.neutral_v is not None]
    if found:
        return found
    star_v = volts / sqrt(3)
    found = [System(f"{volts:g}Y/{star_v:.0f}", "star", volts, star_v, (IEC,))]
    if facts.system == "ac-1ph":
        name = f"{volts / 2:g}/{volts:g}"
        found.append(System(name, "midpoint", volts, volts / 2, (IEC,)))
    forms = {system.form for system in found}
    return [*found, *(s for s in _listed() if s.form in forms and _same(s.neutral_v, volts))]


def _between(volts: float, rules: str | None) -> list[System]:
    """Return the listed systems with these volts between lines: by the site's standard if any."""
    alike = [system for system in _listed() if _same(system.line_v, volts)]
    wanted = _STANDARDS.get(rules or "")
    return [system for system in alike if wanted in system.standards] or alike


def _same(one: float | None, other: float) -> bool:
    return one is not None and abs(one - other) <= _SAME_V


def _legs(system: System, facts: CircuitFacts) -> tuple[System, ...]:
    """Return a high-leg supply twice where L2 may be phase B or the second line of one phase."""
    one_phase = facts.system == "ac-1ph" and "L3" not in facts.functions
    if system.form != "high leg" or not one_phase or not {"L1", "L2"} <= facts.functions:
        return (system,)
    return (
        replace(system, name=f"{system.name} with L2 on phase B"),
        replace(system, name=f"{system.name} with L2 on phase C", l2_is_high=False),
    )


def _standards(system: System, rules: str | None) -> tuple[str, ...]:
    wanted = _STANDARDS.get(rules or "")
    if wanted is None:
        return system.standards
    return (wanted,) if wanted in system.standards else (IEC,)


def _band(system: System, standard: str, facts: CircuitFacts, one: str, other: str) -> Band | None:
    both = {one, other}
    to_earth = bool(both & set(EARTHS))
    if to_earth and (facts.earthing == "IT" or system.form == "three-wire"):
        return None
    if one == other or not both <= {*LINES, "N", *EARTHS}:
        return None
    lines = [function for function in (one, other) if function in LINES]
    if not lines:
        return _neutral_to_earth(system)
    if lines == ["L2"] and system.form == "high leg" and system.l2_is_high:
        band = _about((system.line_v or 0.0) * sqrt(3) / 2, standard, system.name)
        return replace(band, source=f"{band.source}; L2 is the high leg, {NEC.key} 408.3(E)(1)")
    volts = system.neutral_v if len(lines) == 1 else system.line_v
    return None if volts is None else _about(volts, standard, system.name)


def _about(volts: float, standard: str, system: str) -> Band:
    """Return the band about a nominal voltage: as tabulated, else by the IEC's percentages."""
    for row in load_table("ansi_c84_1").rows if standard == ANSI else ():
        if _same(float(row["nominal_v"]), volts):
            low, high, lowest, highest = (float(row[column]) for column in _RANGES)
            source = ANSI_C84_1.cite("Table 1, range A, service to utilization")
            return Band(float(row["nominal_v"]), low, high, lowest, highest, source, system, ANSI)
    low, high, lowest = (round(volts * share, 1) for share in (1 - _SUPPLY, 1 + _SUPPLY, 1 - _USE))
    source = IEC_60038.cite("Table 1, within 10 % of nominal")
    return Band(volts, low, high, lowest, high, source, system, IEC)


def _neutral_to_earth(system: System) -> Band | None:
    """Return how far the neutral and what is earthed may be apart."""
    if system.neutral_v is None:
        return None
    limit_v = _NEUTRAL_SHARE * system.neutral_v
    most_v, named = max(_TOUCH_V, limit_v), (_NEUTRAL_SOURCE, system.name, COMMON_PRACTICE.key)
    return Band(0.0, 0.0, limit_v, 0.0, most_v, *named)


@cache
def _listed() -> tuple[System, ...]:
    def volts(text: str) -> float | None:
        return float(text) if text else None

    return tuple(
        System(
            row["name"], row["form"], volts(row["line_v"]), volts(row["neutral_v"]),
            tuple(name for name in (ANSI, IEC) if row[name.split()[0].lower()] == "1"),
        )
        for row in load_table("nominal_systems").rows
    )  # fmt: skip
