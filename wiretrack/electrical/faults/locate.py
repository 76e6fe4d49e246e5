# SPDX-License-Identifier: MIT
"""From readings to a place on the line and the box to open; how much too much a conductor reads."""

from __future__ import annotations

from dataclasses import replace
from math import copysign, hypot, sqrt
from typing import TYPE_CHECKING, Literal

from wiretrack.electrical.continuity import CONTACT_OHM, JOINT_OHM
from wiretrack.electrical.faults import methods
from wiretrack.electrical.faults.line import (
    Estimate,
    Input,
    distance_at,
    estimate,
    line_inputs,
    shifted,
    total_m,
    total_ohms,
)
from wiretrack.electrical.quantity_text import own_length
from wiretrack.errors import BadInputError, FaultLocationError
from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from wiretrack.electrical.faults.line import Line, Section


# Which readings each method needs, beside the line itself.
NEEDED = {
    "one-end": ("near",),
    "both-ends": ("near", "far"),
    "blavier": ("near", "joined"),
    "murray": ("good_arm", "bad_arm"),
    "varley": ("good_arm", "bad_arm", "set"),
    "capacitance": ("near", "far"),
}
_LOOPS = ("murray", "varley")
_SURE = 3.0  # JCGM 100:2008, table G.1: k = 3 is 99.7 %; beyond it readings are refused
DEAD_SHORT = Input("fault", CONTACT_OHM / 2, CONTACT_OHM / 2 / 3**0.5)  # common practice: 0 to 0.1


@dataclass(frozen=True)
class Position:
    """A distance from the near end, and the section of the line that it falls in."""

    section: Section
    before_m: float
    in_section_m: float

    @property
    def nearest_box(self) -> str:
        """The box of the section that is nearer: the pull point to open first."""
        near = self.in_section_m <= self.section.length_m / 2
        return self.section.from_box if near else self.section.to_box


@dataclass(frozen=True)
class Located:
    """A fault's place: `low_m` to `high_m` is where it lies with k = 2."""

    method: str
    distance: Estimate
    low_m: float
    high_m: float
    place: Position
    reach: tuple[Section, ...]
    fault_ohm: float | None = None

    @property
    def distance_m(self) -> float:
        """The most likely distance from the near end, on the line."""
        return self.place.before_m + self.place.in_section_m


def locate(method: str, line: Line, readings: Mapping[str, Input], good: Line = ()) -> Located:
    """Return where on `line` the fault lies.

    `method` is one of `NEEDED`. `line` is the faulty conductor, with its return path where the
    reading goes out and back; `good` the good one of a loop test. `readings` are as `NEEDED`
    has them, leads subtracted, each with its standard uncertainty; ``loop`` and ``fault`` may
    be added. [ohm, F, or any unit for ratio arms]

    Raises `BadInputError` if a reading lacks or is impossible by itself; `FaultLocationError`
    if no place on the line agrees with the readings.

    Source: the method's own in `methods.METHODS`; JCGM 100:2008, 5.1.2 and 5.1.3.
    """
    _check(method, readings, good)
    given = dict(readings)
    if method == "one-end" and "fault" not in given:
        given["fault"] = DEAD_SHORT
    inputs = [replace(item, name=name) for name, item in given.items()]
    inputs += line_inputs([line, good])
    fault_ohm = _fault_ohm(method, line, inputs)
    place = _placer(method, line, good)
    found = estimate(place, inputs)
    if method == "blavier":
        found = _with_a_root(line, found, {item.name: item.value for item in inputs})
    return _on_line(method, line, found, fault_ohm)


def position_at(line: Sequence[Section], distance_m: float) -> Position:
    """Return the section of a line that a distance from its near end falls in."""
    before_m = 0.0
    for section in line[:-1]:
        if distance_m <= before_m + section.length_m:
            return Position(section, before_m, distance_m - before_m)
        before_m += section.length_m
    return Position(line[-1], before_m, distance_m - before_m)


def _check(method: str, readings: Mapping[str, Input], good: Line) -> None:
    if method not in NEEDED:
        raise BadInputError(f"'{method}' is not a method. Methods: {', '.join(NEEDED)}.")
    lacking = [name for name in NEEDED[method] if name not in readings]
    if lacking:
        raise BadInputError(f"The method {method} lacks {', '.join(lacking)}. Measure it.")
    if method in _LOOPS and not good and "loop" not in readings:
        raise BadInputError("A loop test needs its good conductor. Name it, or give the loop.")


def _placer(method: str, line: Line, good: Line) -> Callable[[Mapping[str, float]], float]:
    """Return the function from every input to the distance in m."""

    def place(values: Mapping[str, float]) -> float:
        bad = shifted(line, values)
        if method == "capacitance":
            return total_m(bad) * methods.open_fraction(values["near"], values["far"])
        loop = values.get("loop", total_ohms(bad) + total_ohms(shifted(good, values)))
        return distance_at(bad, _ohms(method, values, total_ohms(bad), loop))

    return place


def _ohms(method: str, values: Mapping[str, float], total: float, loop: float) -> float:
    if method == "one-end":
        return methods.one_end_ohms(max(values["near"], 0.0), max(values["fault"], 0.0))
    if method == "both-ends":
        return methods.both_ends_ohms(max(values["near"], 0.0), max(values["far"], 0.0), total)
    if method == "blavier":
        return _blavier(values["near"], values["joined"], total)
    good_arm, bad_arm = values["good_arm"], values["bad_arm"]
    if method == "murray":
        return methods.murray_ohms(good_arm, bad_arm, loop)
    return methods.varley_ohms(good_arm, bad_arm, max(values["set"], 0.0), loop)


def _blavier(open_ohm: float, joined_ohm: float, total: float) -> float:
    """Return Blavier's formula, taken on as a mirror image where an input's shift has no root.

    Cut off at zero, readings with the root just below it would seem to have no uncertainty.
    """
    product = (open_ohm - joined_ohm) * (total - joined_ohm)
    return joined_ohm - copysign(sqrt(abs(product)), product)


def _with_a_root(line: Line, found: Estimate, values: Mapping[str, float]) -> Estimate:
    """Return an estimate of Blavier's moved to the nearest readings that have a root.

    By how much it was moved is one more share of its uncertainty.
    """
    root_m = distance_at(line, min(_blavier_root(line, values), total_ohms(line)))
    moved = abs(root_m - found.value)
    if moved < 1e-9 * total_m(line):
        return found
    budget = (("no root", moved), *found.budget)
    return Estimate(root_m, hypot(found.u, moved), budget, found.digits)


def _blavier_root(line: Line, values: Mapping[str, float]) -> float:
    near, total = values["near"], total_ohms(line)
    joined = min(values["joined"], near, total)
    return methods.blavier_ohms(near, joined, total)


def _fault_ohm(method: str, line: Line, inputs: Sequence[Input]) -> float | None:
    """Return the fault's own resistance where the readings tell it; refuses impossible ones."""
    values = {item.name: item.value for item in inputs}
    total = total_ohms(line)
    if method == "blavier":
        above = estimate(lambda v: v["joined"] - total_ohms(shifted(line, v)), inputs)
        if above.value > _SURE * above.u or values["joined"] > values["near"] * 1.1:
            methods.blavier_ohms(values["near"], values["joined"], total)
        return values["near"] - _ohms(method, values, total, 0.0)
    if method != "both-ends":
        return None

    def own(v: Mapping[str, float]) -> float:
        return methods.fault_ohms(v["near"], v["far"], total_ohms(shifted(line, v)))

    found = estimate(own, inputs)
    if found.value + _SURE * found.u < 0:
        raise FaultLocationError(
            f"{values['near']:.4g} Ω from one end and {values['far']:.4g} Ω from the other "
            f"are together less than the {total:.4g} Ω that the conductors have end to end. "
            "They can't be of one fault",
            "Read both again with the other end open and the leads subtracted, look for a second "
            "fault, or correct the recorded size or length",
        )
    return max(found.value, 0.0)


def _on_line(method: str, line: Line, found: Estimate, fault_ohm: float | None) -> Located:
    length_m = total_m(line)
    low_m, high_m = found.value - found.expanded, found.value + found.expanded
    if max(-found.value, found.value - length_m) > _SURE * found.u:
        raise _off_the_line(method, line, found, length_m)
    kept_m = min(max(found.value, 0.0), length_m)
    low_m, high_m = min(max(low_m, 0.0), length_m), max(min(high_m, length_m), 0.0)
    place = position_at(line, kept_m)
    reach, start_m = [], 0.0
    for section in line:
        if start_m <= high_m and start_m + section.length_m >= low_m:
            reach.append(section)
        start_m += section.length_m
    return Located(method, found, low_m, high_m, place, tuple(reach), fault_ohm)


def _off_the_line(method: str, line: Line, found: Estimate, length_m: float) -> FaultLocationError:
    near, far = line[0].from_box, line[-1].to_box
    where = (
        f"{own_length(-found.value)} before {near}, where the line begins"
        if found.value < 0
        else f"{own_length(found.value - length_m)} beyond {far}, where the line ends"
    )
    hints = {
        "murray": "See that the arms aren't exchanged, or that the named good conductor is good",
        "varley": "See that the arms aren't exchanged, or that the named good conductor is good",
        "one-end": "Take the leads off the reading, and read from the other end as well: what is "
        "too much is the fault's own resistance",
    }
    hint = hints.get(method, "Read again, and compare the recorded size and length with the wire")
    return FaultLocationError(
        f"These readings put the fault {where} ({own_length(length_m)} long, "
        f"uncertainty {own_length(found.expanded)})", hint,
    )  # fmt: skip


def contacts(joints: int = 0) -> Input:
    """Return what good clips and terminals add, and each joint between conductors of the path.

    Common practice: from nothing to `CONTACT_OHM`, and to `JOINT_OHM` for each joint.
    """
    half = (CONTACT_OHM + joints * JOINT_OHM) / 2
    return Input("contacts", half, half / 3**0.5)


@dataclass(frozen=True)
class Excess:
    """How far a reading is above what it should be; `word` says whether that proves anything."""

    method: Literal["excess", "parallel"]
    ohms: Estimate
    expected_ohm: float
    word: Literal["high", "not proved", "too low"]
    source: str

    def heat_w(self, current_a: float) -> float:
        """Return the heat in W that a current makes at the excess resistance."""
        return float(max(self.ohms.value, 0.0) * current_a**2)


def excess(line: Line, reading: Input, allowed: Input | None = None) -> Excess:
    """Return how much more a conductor reads than its size, length and temperature explain.

    `line` are the conductors read one after the other, `reading` is end to end, leads
    subtracted, and `allowed` what good terminals and clips may add: else 0 to 0.1 ohm (common
    practice). [ohm]
    """
    allowed = allowed or contacts()

    def too_much(values: Mapping[str, float]) -> float:
        return values["reading"] - total_ohms(shifted(line, values)) - values["contacts"]

    given = [replace(reading, name="reading"), replace(allowed, name="contacts")]
    found = estimate(too_much, [*given, *line_inputs([line])])
    source = f"{allowed.value * 2:.2g} Ω for contacts ({COMMON_PRACTICE.key}); JCGM 100:2008"
    return Excess("excess", found, total_ohms(line), _word(found), source)


def compared(line: Line, reading: Input, others: Sequence[tuple[Line, Input]]) -> Excess:
    """Return how much more a conductor reads than like ones beside it, lengths allowed for.

    What all of them share (kind of conductor, temperature, leads) drops out of the comparison.

    Raises `BadInputError` if there is no other conductor, or one is of another kind.
    """
    if not others:
        raise BadInputError("Nothing to compare with. Name a like conductor and its reading.")
    kinds = {part.kind for section in line for part in section.parts}
    for other, _ in others:
        strange = {part.kind for section in other for part in section.parts} - kinds
        if strange:
            raise BadInputError(
                f"{other[0].parts[0].conductor} is {', '.join(sorted(strange))}, not "
                f"{', '.join(sorted(kinds))}. Compare conductors of one kind."
            )

    def too_much(values: Mapping[str, float]) -> float:
        own = total_ohms(shifted(line, values))
        shares = [
            values[f"other {n}"] * own / total_ohms(shifted(other, values))
            for n, (other, _) in enumerate(others)
        ]
        return values["reading"] - sum(shares) / len(shares)

    given = [replace(reading, name="reading")]
    given += [replace(item, name=f"other {n}") for n, (_, item) in enumerate(others)]
    found = estimate(too_much, [*given, *line_inputs([line, *(other for other, _ in others)])])
    source = f"like conductors agree within 1 % ({COMMON_PRACTICE.key}); JCGM 100:2008"
    return Excess("parallel", found, reading.value - found.value, _word(found), source)


def _word(found: Estimate) -> Literal["high", "not proved", "too low"]:
    if found.value > found.expanded:
        return "high"
    return "too low" if found.value < -found.expanded else "not proved"
