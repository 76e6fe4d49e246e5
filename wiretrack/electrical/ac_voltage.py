# SPDX-License-Identifier: MIT
"""The verdict on an AC voltage: the band that the supply fixes between the two functions read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.quantity_text import format_measured, format_voltage
from wiretrack.electrical.supplies import EARTHS, bands, systems_of
from wiretrack.model.knowledge import Verdict
from wiretrack.model.words import LINES
from wiretrack.sources import IEC_60364_6

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import Band, CircuitFacts, System
    from wiretrack.electrical.verdicts import Guard
    from wiretrack.model.knowledge import Outcome

SOURCE = IEC_60364_6.cite("6.4.3.6")


def ac_verdict(
    measured: Measured, facts: CircuitFacts, function: str, against: str | None, guard: Guard
) -> Verdict:
    """Return the verdict on a voltage read between two functions of an AC circuit, in V.

    It passes only where every supply that the record allows agrees, and fails only where none
    would have it.
    """
    number = measured.number or 0.0
    shown = f"{format_measured(measured)} on {function}" + (
        f" against {against}" if against else ""
    )
    if against is None:
        return _doubt(number, f"{shown}: state what the other lead touched", "against")
    if number < 0:
        return _doubt(number, f"{shown}: an AC reading has no sign; was the meter set to DC?")
    if not systems_of(facts):
        reason = f"{shown}: state the circuit's supply or its highest voltage"
        return _doubt(number, reason, "nominal voltage")
    choices = bands(facts, function, against)
    known = [(system, band) for system, band in choices if band is not None]
    if not known:
        return _doubt(number, f"{shown}: {_unfixed(facts, function, against)}", "against")
    if len(known) < len(choices) or _differ(known):
        return _of_many(number, shown, choices, guard)
    band = known[0][1]
    outcome = place(number, band, guard)
    told = _told(number, band, outcome, {function, against})
    if outcome == "fail" and facts.supply is None and band.nominal_v:
        told += "; if its supply is another, record it"
    return _judged(number, outcome, band, f"{shown}: {told}", guard)


def place(number: float, band: Band, guard: Guard) -> Outcome:
    """Return the outcome of a figure by a band: between its inner and outer bounds, a doubt."""
    if band.low_v + (guard.accept if band.low_v else 0) <= number <= band.high_v - guard.accept:
        return "pass"
    if number < band.lowest_v - guard.reject or number > band.highest_v + guard.reject:
        return "fail"
    return "doubt"


def right_between(band: Band) -> str:
    """Return the band in words."""
    if not band.low_v:
        return f"at most {format_voltage(band.high_v)}"
    return f"{format_voltage(band.low_v)} to {format_voltage(band.high_v)}"


def _differ(known: Sequence[tuple[System, Band]]) -> bool:
    return len({(band.low_v, band.high_v) for _, band in known}) > 1


def _of_many(
    number: float, shown: str, choices: Sequence[tuple[System, Band | None]], guard: Guard
) -> Verdict:
    """Return the verdict where the record allows several supplies, or several standards."""
    outcomes = [None if band is None else place(number, band, guard) for _, band in choices]
    first = next(band for _, band in choices if band is not None)
    told = f"{or_words(choices)} would be right"
    agreed = outcomes[0] if len(set(outcomes)) == 1 else None
    if agreed in ("pass", "fail"):
        return _judged(number, agreed, first, f"{shown}: {told}", guard)
    lacking = "supply" if len({system.name for system, _ in choices}) > 1 else "rules"
    of = {"supply": "the circuit's supply", "rules": "the rules of the site"}[lacking]
    source = "; ".join(dict.fromkeys(band.source for _, band in choices if band))
    return Verdict(
        "doubt", None, "V", f"{SOURCE}; {source}", f"{shown}: {told}; state {of}", number,
        missing=(lacking,),
    )  # fmt: skip


def or_words(choices: Sequence[tuple[System, Band | None]]) -> str:
    """Return the bands that the record allows in words, each with its supply and standard."""
    return " or ".join(dict.fromkeys(_choice(system, band) for system, band in choices))


def _choice(system: System, band: Band | None) -> str:
    if band is None:
        return f"no set voltage ({system.name})"
    return f"{right_between(band)} ({system.name}, {band.standard})"


def _judged(number: float, outcome: Outcome, band: Band, reason: str, guard: Guard) -> Verdict:
    nearer_low = band.low_v > 0 and number - band.low_v < band.high_v - number
    limit = band.low_v if nearer_low else band.high_v
    source = f"{SOURCE}; {band.source}"
    text = f"{reason}; {guard.because(outcome)}"
    return Verdict(outcome, limit, "V", source, text, number, guard.accept)


def _told(number: float, band: Band, outcome: Outcome, both: set[str]) -> str:
    right = f"{right_between(band)} is right ({band.system})"
    if outcome == "pass" or band.low_v <= number <= band.high_v:
        return right
    if band.nominal_v == 0 and outcome == "fail":
        return f"{right}; the line and the neutral may be crossed, or the neutral open"
    if band.nominal_v == 0:
        return f"{right}; look for a loose or long neutral"
    if outcome == "doubt":
        outer = f"{format_voltage(band.lowest_v)} to {format_voltage(band.highest_v)}"
        return f"{right}; {outer} is allowed for a time or at the far end; read at the board too"
    if number < band.lowest_v / 10:
        return f"{right}; the circuit may be off, or a conductor open"
    if number < band.lowest_v and both & set(EARTHS):
        return f"{right}; is PE connected? If the system is IT, record that"
    return right


def _unfixed(facts: CircuitFacts, function: str, against: str) -> str:
    """Return why no voltage between the two follows from the record."""
    both = {function, against}
    if both & set(EARTHS) and facts.earthing == "IT":
        return "in an IT system nothing fixes the voltage to PE; no limit is named"
    if both & set(EARTHS) and both & set(LINES):
        names = " or ".join(system.name for system in systems_of(facts))
        return f"{names}: the record doesn't say which point is connected to PE"
    return "what it should be doesn't follow from these two"


def _doubt(number: float, reason: str, *missing: str) -> Verdict:
    return Verdict("doubt", None, "V", SOURCE, reason, number, missing=missing)
