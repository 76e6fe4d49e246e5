# SPDX-License-Identifier: MIT
"""Ampacity of conductors in raceways by the NEC: table, ambient, adjustment and terminals."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding, missing, worst
from wiretrack.electrical.insulation_types import type_rows, unread_note
from wiretrack.electrical.limits import above, between, check_metal
from wiretrack.electrical.rules.ampacity_iec import ampacity_iec
from wiretrack.electrical.rules.current_carrying import Carrying, carrying, share_of, shared
from wiretrack.electrical.rules.load import Load, load_of
from wiretrack.electrical.rules.protection import for_conductor, largest_device
from wiretrack.electrical.rules.rooftop import NO_ROOF, Roof, roof_of
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
_COOLEST_C = 10.0  # NEC table 310.15(B)(1)(1), first row (reprint)
_HOTTEST_C = 85.0  # NEC table 310.15(B)(1)(1), last row (reprint)
_PARALLEL_FROM = parse_size("1/0 AWG")
_WIREWAY_FREE = 30  # NEC 376.22(B) (reprint; original not seen): of metal wireways


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
    """Return how many conductors of a run count as carrying current, at most (`carrying`)."""
    return carrying(run).most


def ampacity(wire: Wire, run: Run | None, code: Code) -> list[Finding]:
    """Return whether a conductor can carry its circuit's current, and suits its overcurrent device.

    Without a raceway there is no ampacity to hold a load against; the device is held against what
    the conductor could carry under the best conditions.
    """
    if not wire.carries_current or wire.size is None:
        return []
    if code.is_iec:
        return ampacity_iec(wire, run, code)
    if not code.is_nec:
        return []
    load, metal = load_of(wire.circuit, code), wire.conductor.metal
    source = code.at("ampacity")
    found = [_device(wire, run, code, load, metal)] if metal is not None else []
    if run is not None and (load is None or metal is None):
        lacking = [f"current of the circuit: state max_current of {wire.circuit.code}"] * (not load)
        lacking += ["metal"] * (metal is None)
        found.append(missing("ampacity", wire.name, lacking, source, "A"))
    elif run is not None and load is not None and metal is not None:
        found.insert(0, _for_load(wire, run, code, load, metal))
    found += [_sets(wire, code)] if wire.sets > 1 else []
    return worst(finding for finding in found if finding is not None)


def _sets(wire: Wire, code: Code) -> Finding | None:
    """Return what is wrong with parallel conductors, which must be alike and 1/0 AWG or larger.

    References
    ----------
    .. [1] NEC 310.10(G)(1) and (2), 310.10(H) in 2014 and 2017 (reprint; original not seen).
    """
    size, source = as_size(wire.conductor.size), code.at("parallel")
    words = f"one of {wire.sets} parallel sets"
    if size.area_mm2 < _PARALLEL_FROM.area_mm2:
        words += f" of {size.text}: they must be {_PARALLEL_FROM.text} or larger"
        return Finding("ampacity", wire.name, "fail", None, None, "A", source, words)
    if not wire.unlike:
        return None
    words += f" that differ in {', '.join(wire.unlike)}: they must be alike to share the current"
    outcome: Outcome = "doubt" if wire.unlike == ("length",) else "fail"
    return Finding("ampacity", wire.name, outcome, None, None, "A", source, words)


def _for_load(wire: Wire, run: Run, code: Code, load: Load, metal: str) -> Finding:
    """Return the finding on a conductor's share of the load; at most, then at least."""
    share = share_of(wire, run)
    try:
        found = _judge(wire, run, code, shared(load, share.most, share.why), metal)
        if share.most > 1:
            found = replace(
                found, source=f"{found.source}; {code.at('multiwire')}, {code.at('neutral')}"
            )
        if found.outcome == "fail" and share.state:
            least = _judge(wire, run, code, shared(load, share.least, share.why), metal)
            if least.outcome != "fail":
                return replace(found, outcome="doubt", reason=f"{found.reason}; {share.state}")
        return found
    except TableEntryError as error:
        source = code.at("ampacity")
        return Finding(
            "ampacity", wire.name, "doubt", load.derated_a, None, "A", source, str(error)
        )


@dataclass(frozen=True)
class Conditions:
    """What a conductor meets in a raceway.

    `best_c` and `best_ambient_c` are what they would be if all that is unknown were favourable;
    `roof` is what the sun on a roof adds to both. `counted` are the conductors that carry current,
    not adjusted for up to `free`.
    """

    rating_c: int
    ambient_c: float
    counted: Carrying
    lacking: tuple[str, ...]
    best_c: int = 90
    best_ambient_c: float = BASE_AMBIENT_C
    roof: Roof = NO_ROOF
    free: int = 0

    @property
    def factor(self) -> float:
        """The factor under the conditions as far as they are known."""
        hot_c = self.ambient_c + self.roof.most_c
        return _warmed(hot_c, self.rating_c) * self.adjusted(self.counted.most)

    @property
    def best_factor(self) -> float:
        """The factor if all that is unknown were favourable."""
        warm_c = self.best_ambient_c + self.roof.least_c
        return _warmed(warm_c, self.best_c) * self.adjusted(self.counted.least)

    def adjusted(self, count: int) -> float:
        """Return the factor for so many conductors that carry current."""
        return 1.0 if count <= self.free else adjustment_factor(count)

    @property
    def state(self) -> tuple[str, ...]:
        """What would have to be stated for a better count or a cooler place."""
        same = self.adjusted(self.counted.most) == self.adjusted(self.counted.least)
        return (*self.roof.state, *(() if same else self.counted.state))

    @property
    def words(self) -> str:
        """The conditions as a reader sees them."""
        words = f"{self.ambient_c + self.roof.most_c:g} °C"
        if self.roof.most_c:
            words += f", {self.roof.most_c:g} of them for the sun on the roof,"
        words += f" and {self.counted.most} current-carrying"
        if self.free and self.counted.most > 3:
            words += " in a wireway"
        extra = self.counted.most + self.counted.nonlinear
        if self.adjusted(extra) != self.adjusted(self.counted.most):
            words += f", {extra} where most of the load is nonlinear"
        return words


def _warmed(ambient_c: float, rating_c: int) -> float:
    """Return the correction for a temperature that sun may have raised above the table's last."""
    return ambient_factor(ambient_c, rating_c) if ambient_c <= _HOTTEST_C else 0.0


@dataclass(frozen=True)
class Terminals:
    """What the terminals of a conductor bear: as far as is sure, and at most; what to state."""

    sure_a: float
    possible_a: float
    state: str = ""


def conditions_of(wire: Wire, run: Run | None, code: Code) -> Conditions:
    """Return the conditions; for an unknown one a value that flatters no conductor but 30 °C."""
    rating_c, lacking = _rating(wire, run.raceway.wet if run else None)
    rows = type_rows(wire.conductor.insulation)
    wet_for_sure = run is not None and run.raceway.wet is True
    best_c = rating_c if wet_for_sure and rows else max((int(r["dry_c"]) for r in rows), default=90)
    ambient = None
    if run is not None:
        ambient = run.raceway.ambient_c
        ambient = run.site.ambient_max_c if ambient is None else ambient
    if ambient is None:
        lacking.append("ambient temperature: state ambient of the raceway or ambient_max of site")
    counted = Carrying(1, 1) if run is None or run.is_nipple else carrying(run)
    free = _WIREWAY_FREE if run and run.is_wireway and run.raceway.metal is not False else 0
    return Conditions(
        rating_c, BASE_AMBIENT_C if ambient is None else ambient, counted, tuple(lacking), best_c,
        _COOLEST_C if ambient is None else ambient, roof_of(wire, run, code), free,
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
    return Finding(
        "ampacity", wire.name, outcome, round(load.derated_a if governs_derated else plain, 3),
        round(limit, 2), "A", source, words,
    )  # fmt: skip


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
    return "pass", "; insulation taken as 60 °C" if lacking else ""


def smallest_sufficient(
    wire: Wire, run: Run, code: Code, rating_a: float
) -> tuple[Size | None, Size | None]:
    """Return the smallest size that would do in a conductor's place: at least, and for sure.

    One that carries the load under the conditions there, and that the overcurrent device of
    `rating_a` may protect. The second size allows for all that isn't known: 60 °C terminals, a
    continuous load, one as high as the device. None where no size of the table would do.
    """
    load, conditions = load_of(wire.circuit, code), conditions_of(wire, run)
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
                    if _suffices(wire, size, metal, conditions, (derated, plain, rated), code,
                                 sure=sure)
                ),
                None,
            )
        )  # fmt: skip
    return found[0], found[1]


def _sizes(metal: str) -> list[Size]:
    """Return the sizes of table 310.16 from 14 AWG up, smallest first."""
    keys = [row["size"] for row in load_table("nec_310_16").rows if row["metal"] == metal]
    return [
        parse_size(f"{key} {'kcmil' if key.isdigit() and int(key) >= 250 else 'AWG'}")
        for key in keys
        if key not in ("18", "16")
    ]


def _suffices(
    wire: Wire, size: Size, metal: str, conditions: Conditions,
    wanted: tuple[float, float, float], code: Code, *, sure: bool,
) -> bool:  # fmt: skip
    """Return whether a size carries what is wanted: the load with and before corrections, rated."""
    derated, plain, rated = (amperes / wire.sets for amperes in wanted)
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
