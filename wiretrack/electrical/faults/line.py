# SPDX-License-Identifier: MIT
"""A faulty conductor as sections with their resistance, and the uncertainty of what follows."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import hypot, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import COVERAGE_FACTOR
from wiretrack.electrical.limits import above, check_length
from wiretrack.electrical.resistance import unit_resistance
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence


@dataclass(frozen=True)
class Part:
    """One conductor's share of a section: its resistance at the stated temperature, and per K.

    `half_digit` is half a unit of the last digit of a measured one, as a fraction of it.
    """

    conductor: str
    kind: str
    ohms: float
    ohms_per_k: float = 0.0
    half_digit: float = 0.0


@dataclass(frozen=True)
class Section:
    """A stretch between two boxes; `parts` are what the measuring current passes one after another.

    `length_tolerance` is the half-width of what the stated length may be off, as a fraction.
    """

    from_box: str
    to_box: str
    length_m: float
    parts: tuple[Part, ...]
    raceway: str | None = None
    length_tolerance: float = 0.0
    temp_tolerance_k: float = 0.0

    @property
    def ohms(self) -> float:
        """Resistance of the whole section."""
        return sum(part.ohms for part in self.parts)

    @property
    def name(self) -> str:
        """What the section is called in a budget of uncertainty."""
        return self.raceway or f"{self.from_box} to {self.to_box}"


Line = tuple[Section, ...]


def part_of(
    conductor: str, size: str, metal: str, strands: int | None, length_m: float, temp_c: float
) -> tuple[Part, str]:
    """Return a conductor's share of a section of `length_m`, and where the figure comes from.

    `length_m` is above 0, `temp_c` the conductor's temperature there.
    """
    check_length(length_m)
    unit = unit_resistance(size, temp_c, metal, strands)
    warmer = unit_resistance(size, temp_c + 1, metal, strands)
    per_m = unit.ohm_per_km / 1000
    per_k = (warmer.ohm_per_km - unit.ohm_per_km) / 1000
    kind = f"{size} {metal}" + (" solid" if strands == 1 else "")
    return Part(conductor, kind, per_m * length_m, per_k * length_m), unit.source


def total_ohms(line: Sequence[Section]) -> float:
    """Return the resistance of a line from end to end in ohm."""
    return sum(section.ohms for section in line)


def total_m(line: Sequence[Section]) -> float:
    """Return the length of a line in m."""
    return sum(section.length_m for section in line)


def distance_at(line: Sequence[Section], ohms: float) -> float:
    """Return how far along a line its resistance has grown to `ohms`, in m.

    Before the first and after the last section the line is taken on as it is there, so that a
    value outside comes out negative or longer than the line, for the caller to judge.
    """
    if not line:
        raise BadInputError("A line without a section has no distances. Name a conductor.")
    passed_m, left = 0.0, ohms
    for section in line[:-1]:
        if left < section.ohms:
            break
        left -= section.ohms
        passed_m += section.length_m
    else:
        section = line[-1]
    above(0, f"Resistance of {section.name}", section.ohms, "ohm")
    return passed_m + left / section.ohms * section.length_m


def joined(one: Sequence[Section], other: Sequence[Section]) -> Line:
    """Return two conductors along the same boxes as one line that the current goes out and back.

    Raises `BadInputError` if they don't run along the same boxes.
    """
    boxes = [(s.from_box, s.to_box) for s in one]
    if boxes != [(s.from_box, s.to_box) for s in other]:
        first, second = (line[0].parts[0].conductor for line in (one, other))
        raise BadInputError(
            f"{first} and {second} don't run along the same boxes from end to end. "
            "Name two conductors of one pull."
        )
    return tuple(replace(a, parts=(*a.parts, *b.parts)) for a, b in zip(one, other, strict=True))


def with_return(
    line: Sequence[Section], ohms: float, name: str = "raceway", half_digit: float = 0.0
) -> Line:
    """Return a line whose return path (a raceway) has `ohms` from end to end, by length.

    `half_digit` is half a unit of the last digit of `ohms` as it was typed. [ohm]
    """
    above(0, f"Resistance of the {name}", ohms, "ohm")
    length_m = total_m(line)

    def part(section: Section) -> Part:
        share = section.length_m / length_m
        return Part(name, name, ohms * share, half_digit=half_digit / ohms)

    return tuple(replace(s, parts=(*s.parts, part(s))) for s in line)


def shifted(line: Sequence[Section], values: Mapping[str, float]) -> Line:
    """Return a line as it would be if lengths, conductors and temperatures were off.

    `values` holds factors ``length NAME``, ``kind KIND``, ``conductor TAG`` and differences in K
    ``temperature NAME``; what is missing is as recorded.
    """
    return tuple(_shifted(section, values) for section in line)


def _shifted(section: Section, values: Mapping[str, float]) -> Section:
    name = section.name
    longer = values.get(f"length {name}", 1.0)
    warmer = values.get(f"temperature {name}", 0.0)
    parts = tuple(_part_shifted(part, values, longer, warmer) for part in section.parts)
    return Section(
        section.from_box, section.to_box, section.length_m * longer, parts, section.raceway
    )


def _part_shifted(part: Part, values: Mapping[str, float], longer: float, warmer: float) -> Part:
    ohms = (part.ohms + warmer * part.ohms_per_k) * longer
    ohms *= values.get(f"kind {part.kind}", 1.0)
    return Part(part.conductor, part.kind, ohms * values.get(f"conductor {part.conductor}", 1.0))


KIND_TOLERANCE = 0.05  # common practice: a kind of conductor is within 5 % of its table
PAIR_TOLERANCE = 0.01  # common practice: conductors of one kind agree within 1 %
RETURN_TOLERANCE = 0.05  # common practice: how evenly a raceway's resistance is spread
_RECTANGLE = 1 / sqrt(3)  # JCGM 100:2008, 4.3.7: standard uncertainty of a bound's half-width


@dataclass(frozen=True)
class Input:
    """One quantity that the place follows from: its name, value and standard uncertainty.

    `half_digit` is half a unit of the last digit that was typed, where no more is known of what
    the instrument showed.
    """

    name: str
    value: float
    u: float
    half_digit: float = 0.0


@dataclass(frozen=True)
class Estimate:
    """A value with its standard uncertainty, and what each input brings to it, largest first.

    `digits` is how far off the value may be by the digits that were typed alone.
    """

    value: float
    u: float
    budget: tuple[tuple[str, float], ...]
    digits: float = 0.0

    @property
    def expanded(self) -> float:
        """The uncertainty with k = 2 (JCGM 100:2008, 6.3.3: about 95 %), at least `digits`."""
        return max(COVERAGE_FACTOR * self.u, self.digits)


def estimate(place: Callable[[Mapping[str, float]], float], inputs: Sequence[Input]) -> Estimate:
    """Return what `place` gives, with the uncertainty that its inputs bring.

    Source: JCGM 100:2008, 5.1.3 note 2: each input is shifted up and down by its standard
    uncertainty; the larger change is its share, which errs to the safe side where the formula is
    bent (note to 5.1.2). 5.1.2: the shares are added in squares.
    """
    values = {item.name: item.value for item in inputs}
    middle = place(values)
    shares = [
        (
            item.name,
            max(
                abs(place(values | {item.name: item.value + item.u}) - middle),
                abs(place(values | {item.name: item.value - item.u}) - middle),
            ),
        )
        for item in inputs
        if item.u > 0
    ]
    shares.sort(key=lambda share: -share[1])
    u = hypot(*(share for _, share in shares))
    return Estimate(middle, u, tuple(shares), _by_digits(place, values, middle, inputs))


def _by_digits(
    place: Callable[[Mapping[str, float]], float],
    values: Mapping[str, float], middle: float, inputs: Sequence[Input],
) -> float:  # fmt: skip
    """Return how far `place` moves at most while every input still rounds to what was typed."""
    edges = [
        [(i.name, max(i.value - i.half_digit, 0.0)), (i.name, i.value + i.half_digit)]
        for i in inputs
        if i.half_digit > 0
    ]
    return max(abs(place({**values, **dict(edge)}) - middle) for edge in product(*edges))


def line_inputs(lines: Sequence[Sequence[Section]]) -> list[Input]:
    """Return what may be off in the record of some lines, each tolerance once."""
    found: dict[str, Input] = {}
    for section in (section for line in lines for section in line):
        longer = section.length_tolerance * _RECTANGLE
        warmer = section.temp_tolerance_k * _RECTANGLE
        found[f"length {section.name}"] = Input(f"length {section.name}", 1.0, longer)
        found[f"temperature {section.name}"] = Input(f"temperature {section.name}", 0.0, warmer)
        for part in section.parts:
            is_return = not part.ohms_per_k
            kind, own = (0.0, RETURN_TOLERANCE) if is_return else (KIND_TOLERANCE, PAIR_TOLERANCE)
            own = hypot(own, part.half_digit)
            for name, width in ((f"kind {part.kind}", kind), (f"conductor {part.conductor}", own)):
                found[name] = Input(name, 1.0, width * _RECTANGLE)
    return list(found.values())
