# SPDX-License-Identifier: MIT
"""Ampacity of conductors in raceways by the NEC: table, ambient, adjustment and terminals."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import unread_note
from wiretrack.electrical.findings import Clause, Finding, rule, worst
from wiretrack.electrical.limits import between
from wiretrack.electrical.rules.ampacity_iec import ampacity_iec
from wiretrack.electrical.rules.conditions import Conditions, conditions_of, table_ampacity
from wiretrack.electrical.rules.load import Load, by_share, load_of, share_of
from wiretrack.electrical.rules.protection import for_conductor, largest_device
from wiretrack.electrical.sizes import Size, as_size, parse_size, size_of_key
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.electrical.findings import Built, Case
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entity import Outcome

_TERMINAL_75_ABOVE_A = 100.0  # NEC 110.14(C)(1) (reprint): circuits above 100 A
_TERMINAL_75_ABOVE = parse_size("1 AWG")
_PARALLEL_FROM = parse_size("1/0 AWG")


def _cases(built: Built) -> Iterator[Case]:
    """Yield conductors with each raceway that they lie in, then those that lie in none."""
    inside = set()
    for run in built.runs:
        for wire in run.wires:
            inside.add(wire.name)
            yield wire.name, (wire, run, built.code)
    for wire in built.wires:
        if wire.name not in inside:
            yield wire.name, (wire, None, built.code)


@rule("ampacity", _cases)
def ampacity(wire: Wire, run: Run | None, code: Code) -> list[Finding]:
    """Return whether a conductor can carry its circuit's current, and suits its overcurrent device.

    A spare carries none. Without a raceway there is no ampacity to hold a load against; the device
    is held against what the conductor could carry under the best conditions.
    """
    if not wire.carries_current or wire.size is None or not wire.conductor.circuits:
        return []
    if code.is_iec:
        return ampacity_iec(wire, run, code)
    if not code.is_nec:
        return []
    load, metal = load_of(wire.circuit, code), wire.conductor.metal
    found = [_device(wire, run, code, load, metal)] if metal is not None else []
    if run is not None and (load is None or metal is None):
        lacking = [wire.lacking_current] * (not load)
        lacking += ["metal"] * (metal is None)
        found.append(_clause(wire, code.at("ampacity")).lacks(*lacking))
    elif run is not None and load is not None and metal is not None:
        found.insert(0, _for_load(wire, run, code, load, metal))
    found += [_sets(wire, code)] if wire.sets > 1 else []
    return worst(finding for finding in found if finding is not None)


def _clause(wire: Wire, source: str) -> Clause:
    return Clause("ampacity", wire.name, source, "A")


def _sets(wire: Wire, code: Code) -> Finding | None:
    """Return what is wrong with parallel conductors, which must be alike and 1/0 AWG or larger.

    Source: NEC 310.10(G)(1) and (2), 310.10(H) in 2014 and 2017 (reprint; original not seen).
    """
    size, clause = as_size(wire.conductor.size), _clause(wire, code.at("parallel"))
    words = f"one of {wire.sets} parallel sets"
    if size.area_mm2 < _PARALLEL_FROM.area_mm2:
        words += f" of {size.text}: they must be {_PARALLEL_FROM.text} or larger"
        return clause.finds("fail", words)
    if not wire.unlike:
        return None
    words += f" that differ in {', '.join(wire.unlike)}: they must be alike to share the current"
    return clause.finds("doubt" if wire.unlike == ("length",) else "fail", words)


def _for_load(wire: Wire, run: Run, code: Code, load: Load, metal: str) -> Finding:
    """Return the finding on a conductor's share of the load; at most, then at least."""
    share = share_of(wire, run.wires)
    try:
        found = by_share(load, share, lambda part: _judge(wire, run, code, part, metal))
        if share.most > 1:
            places = f"{code.at('multiwire')}, {code.at('neutral')}"
            found = replace(found, source=f"{found.source}; {places}")
        return found
    except TableEntryError as error:
        return _clause(wire, code.at("ampacity")).finds("doubt", str(error), load.derated_a)


@dataclass(frozen=True)
class Terminals:
    """What the terminals of a conductor bear: as far as is sure, and at most; what to state."""

    sure_a: float
    possible_a: float
    state: str = ""


def terminals_of(wire: Wire, size: Size, metal: str, amperes: float) -> Terminals:
    """Return what the terminals of a conductor bear; `amperes` is what its circuit is rated for.

    By 110.14(C)(1): 60 °C up to 100 A and 1 AWG, else 75 °C, unless they are marked otherwise. No
    column above 75 °C is taken, whatever is marked on a terminal: its equipment decides.
    """
    warm = size.area_mm2 > _TERMINAL_75_ABOVE.area_mm2 or amperes > _TERMINAL_75_ABOVE_A
    stated, lacking = _marked_c(wire)
    usual = 75 if warm else 60
    best = 75 if stated is None or stated >= 75 else 60
    sure = best if stated is not None and not lacking else min(usual, best)
    words = ""
    if sure != best:
        words = f"state termination_rating of {', '.join(lacking) or 'the devices it ends at'}"
    return Terminals(
        table_ampacity(size, metal, sure), table_ampacity(size, metal, best), words
    )  # fmt: skip


def _marked_c(wire: Wire) -> tuple[float | None, list[str]]:
    """Return the lowest temperature marked on a conductor's terminals, and those without one."""
    marked: list[float] = []
    lacking: list[str] = []
    for end in wire.terminations:
        known = [d.termination_rating_c for d in end.devices if d.termination_rating_c is not None]
        for degrees in known:
            between(60, 105, f"Termination rating at {end.place}", degrees, "°C")
        marked += known
        lacking += [] if known else [end.place]
    return (min(marked) if marked else None), lacking


def _device(
    wire: Wire, run: Run | None, code: Code, load: Load | None, metal: str
) -> Finding | None:
    """Return what is wrong with the overcurrent device for this conductor; no load is needed."""
    if wire.protection is None:
        return None
    size, conditions = as_size(wire.conductor.size), conditions_of(wire, run, code)
    try:
        terminals = terminals_of(wire, size, metal, wire.protection.low_a)
        sure = table_ampacity(size, metal, conditions.rating_c) * conditions.factor
        best = table_ampacity(size, metal, conditions.best_c) * conditions.best_factor
    except TableEntryError:
        row = load_table("nec_240_4_d").find(size=size.table_key, metal=metal)
        if row is None:
            return None
        terminals, sure, best = Terminals(float(row["amp"]), float(row["amp"])), 1e3, 1e3
    sure_a = min(sure, terminals.sure_a) if run else min(best, terminals.possible_a)
    why = "; ".join(filter(None, (terminals.state, *conditions.lacking, *conditions.state)))
    return for_conductor(wire, load, sure_a, min(best, terminals.possible_a), code, why)


def _judge(wire: Wire, run: Run, code: Code, load: Load, metal: str) -> Finding:
    """Return the finding: the corrected ampacity, then what the terminals bear."""
    conditions = conditions_of(wire, run, code)
    size = as_size(wire.conductor.size)
    corrected = table_ampacity(size, metal, conditions.rating_c) * conditions.factor
    rated = max(load.plain_a, wire.protection.low_a if wire.protection else 0)
    terminals = terminals_of(wire, size, metal, rated)
    too_much = load.derated_a > corrected or load.plain_a > terminals.possible_a
    best = table_ampacity(size, metal, conditions.best_c) * conditions.best_factor
    might_do = load.derated_a <= best and load.plain_a <= terminals.possible_a
    outcome, note = _outcome(too_much, load, terminals, conditions, wire)
    if outcome == "fail" and might_do and conditions.state:
        outcome, note = "doubt", f"; too little if so, but unknown: {', '.join(conditions.state)}"
    plain = load.most_a if outcome == "doubt" and load.plain_a <= terminals.sure_a else load.plain_a
    governs_derated = load.derated_a / max(corrected, 1e-9) >= plain / terminals.sure_a
    limit = corrected if governs_derated else terminals.sure_a
    words = (
        f"{load.why}; {size.text} {metal} at {conditions.rating_c} °C: {corrected:.4g} A with "
        f"{conditions.words}, {terminals.sure_a:g} A at its terminals{note}"
    )
    source = f"{code.at('ampacity')}, {_cited(code, conditions)}; {load.source}"
    source += unread_note(wire.conductor.insulation)
    figure = round(load.derated_a if governs_derated else plain, 3)
    return _clause(wire, source).finds(outcome, words, figure, round(limit, 2))


def _cited(code: Code, conditions: Conditions) -> str:
    wanted = [code.at(place) for place in ("ambient", "adjustment", "terminals")]
    wanted[1:1] = [code.at("roof")] if conditions.roof.most_c else []
    wanted += [code.at("wireway-adjustment")] if conditions.free else []
    return ", ".join(place.removeprefix(f"NEC {code.edition} ") for place in wanted)


def _outcome(
    too_much: bool, load: Load, terminals: Terminals, conditions: Conditions, wire: Wire
) -> tuple[Outcome, str]:
    lacking = ", ".join(conditions.lacking)
    if too_much:
        only_type = any("ambient" not in fact for fact in conditions.lacking)
        if only_type:
            return "doubt", f"; too little if so, but unknown: {lacking}"
        return "fail", "; take a larger conductor"
    if conditions.lacking and conditions.lacking != ("insulation type",):
        return "doubt", f"; unknown: {lacking}"
    if load.plain_a > terminals.sure_a:
        return "doubt", f"; enough only if its terminals are marked 75 °C: {terminals.state}"
    if load.most_a > terminals.sure_a:
        note = f"; not enough for a continuous load: state continuous of {wire.circuit.code}"
        note += f", or {terminals.state}" if load.most_a <= terminals.possible_a else ""
        return "doubt", note
    return "pass", "; insulation assumed to be of 60 °C" if lacking else ""


def smallest_sufficient(
    wire: Wire, run: Run, code: Code, rating_a: float
) -> tuple[Size | None, Size | None]:
    """Return the smallest size that would do in a conductor's place: at least, and for sure.

    One that carries the load under the conditions there, and that the overcurrent device of
    `rating_a` may protect. The second size allows for all that isn't known: 60 °C terminals, a
    continuous load, one as high as the device. None where no size of the table would do.
    """
    load, conditions = load_of(wire.circuit, code), conditions_of(wire, run, code)
    metal = wire.conductor.metal or ""
    found: list[Size | None] = []
    for sure in (False, True):
        derated, plain = (load.derated_a, load.most_a if sure else load.plain_a) if load else (
            (rating_a, rating_a) if sure else (0.0, 0.0)
        )  # fmt: skip
        rated = 0.0 if wire.circuit.motor else rating_a
        found.append(
            next(
                (
                    size for size in _sizes(metal)
                    if _suffices(wire, size, conditions, (derated, plain, rated), code, sure=sure)
                ),
                None,
            )
        )  # fmt: skip
    return found[0], found[1]


def _sizes(metal: str) -> list[Size]:
    """Return the sizes of table 310.16 from 14 AWG up, smallest first."""
    keys = [row["size"] for row in load_table("nec_310_16").rows if row["metal"] == metal]
    return [size_of_key(key) for key in keys if key not in ("18", "16")]


def _suffices(
    wire: Wire, size: Size, conditions: Conditions, wanted: tuple[float, float, float],
    code: Code, *, sure: bool,
) -> bool:  # fmt: skip
    """Return whether a size carries what is wanted: the load with and before corrections, rated."""
    derated, plain, rated = (amperes / wire.sets for amperes in wanted)
    metal = wire.conductor.metal or ""
    terminals = terminals_of(wire, size, metal, max(wanted))
    at_terminals = terminals.sure_a if sure else terminals.possible_a
    rating_c, factor = (
        (conditions.rating_c, conditions.factor) if sure
        else (conditions.best_c, conditions.best_factor)
    )  # fmt: skip
    corrected = table_ampacity(size, metal, rating_c) * factor
    thinner = replace(wire, conductor=replace(wire.conductor, size=size.text), sets=1)
    allowed, _ = largest_device(thinner, min(corrected, at_terminals), code)
    return derated <= corrected and plain <= at_terminals and rated <= allowed
