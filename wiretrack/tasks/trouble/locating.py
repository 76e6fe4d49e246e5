# SPDX-License-Identifier: MIT
"""Where a measured fault lies: the place between boxes, or the joints that may be bad."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.faults.line import joined, total_ohms, with_return
from wiretrack.electrical.faults.locate import Excess, compared, contacts, excess, locate
from wiretrack.electrical.faults.methods import METHODS
from wiretrack.electrical.quantities import parse_resistance, parse_resistance_ohm
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.words import PROTECTIVE
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.render.route import Stretch, route_svg
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.test.cautions import cautions_at
from wiretrack.tasks.trouble.lines import (
    NO_TEMPERATURE,
    Temperatures,
    backwards,
    good_of_loop,
    line_of,
)
from wiretrack.tasks.trouble.measured import FaultReadings, Reader

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import NoReturn

    from wiretrack.electrical.faults.line import Input, Line
    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.lines import Series

_ADVICE = {
    "high": "a joint or terminal on the way is bad, or the conductor is thinner or longer than "
    "recorded",
    "not proved": "within what length, temperature, wire and contacts explain: no bad joint is "
    "proved; compare with a like conductor beside it",
    "too low": "less than the conductor can have: a shorter path was measured, or its record is "
    "wrong",
}


@dataclass(frozen=True, kw_only=True)
class Fault:
    """A fault on a line of conductors, how it was found, and what to mind."""

    kind: str
    method: str
    from_: str
    to: str
    between: tuple[str, str]
    source: str
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LocatedFault(Fault):
    """A fault whose place is known: `low_m` to `high_m` from `from_` is where it lies (k = 2).

    `between` are the boxes of the section that it is in, `raceway` that of the section, where it
    is known; `shares_m` is what the largest inputs bring to the uncertainty.
    """

    distance_m: float
    uncertainty_m: float
    low_m: float
    high_m: float
    raceway: str | None
    in_raceway_m: float
    open_first: str
    open_first_where: str | None
    reach: tuple[str, ...]
    route: tuple[Stretch, ...]
    fault_ohms: float | None
    line_ohms: float
    shares_m: dict[str, float]

    @property
    def part_of_raceway(self) -> float | None:
        """Which part of its raceway lies before it, from 0 to 1."""
        length_m = next((s.length_m for s in self.route if s.between == self.between), 0.0)
        return self.in_raceway_m / length_m if length_m else None

    def svg(self) -> str:
        """Return the route as an SVG document, the place marked."""
        title = f"{self.kind}: {self.from_} to {self.to}"
        reach_m = self.low_m, self.high_m
        return route_svg(self.route, title, self.distance_m, reach_m, self.open_first)


@dataclass(frozen=True)
class Joint:
    """An end on the way, where a contact may be bad."""

    enclosure: str
    terminal: str | None
    state: str | None


@dataclass(frozen=True, kw_only=True)
class BadJoint(Fault):
    """How much too much a path reads end to end, the heat that makes, and its joints in order."""

    distance_m: None = None
    uncertainty_m: None = None
    raceway: None = None
    excess_ohms: float
    excess_uncertainty_ohms: float
    expected_ohms: float
    proved: bool
    advice: str
    heat_w: float | None
    joints: tuple[Joint, ...]

    def svg(self) -> NoReturn:
        """Refuse to draw it.

        Raises
        ------
        BadInputError
            Always: its place isn't known.
        """
        raise BadInputError(
            "A bad joint has no distance to draw. Look at the joints that are listed, in order."
        )


def find_fault(registry: Registry, asked: FaultReadings) -> LocatedFault | BadJoint:
    """Return where the fault lies, or the joints on the way where too much was read."""
    work = _Locating(registry, asked)
    return work.bad_joint() if asked.method in ("excess", "parallel") else work.place()


class _Locating:
    """The faulty conductors as a line, and what was measured on them."""

    def __init__(self, registry: Registry, asked: FaultReadings) -> None:
        self.registry, self.site, self.asked = registry, site_of(registry), asked
        self.temps = Temperatures.typed(registry, asked.temps)
        self.series = line_of(registry, asked.tags, self.temps)
        self.reader = Reader(registry, asked)
        self.circuit = together(self.site.find(Circuit, "code", self.series.conductors[0].circuits))

    def bad_joint(self) -> BadJoint:
        """Return the excess of a path end to end, the heat it makes, and the joints to look at."""
        found, current_a = self._excess(), self.circuit.max_current_a
        heats = current_a is not None and found.word == "high"
        return BadJoint(
            kind="high-resistance",
            method=found.method,
            from_=self.series.ends[0],
            to=self.series.ends[1],
            between=self.series.ends,
            excess_ohms=found.ohms.value,
            excess_uncertainty_ohms=found.ohms.expanded,
            expected_ohms=found.expected_ohm,
            proved=found.word == "high",
            advice=_ADVICE[found.word],
            heat_w=found.heat_w(current_a or 0.0) if heats else None,
            joints=_joints(self.series),
            source="; ".join([METHODS[found.method], *self.series.sources, found.source]),
            remarks=self._remarks(),
            cautions=self._cautions(),
        )

    def _excess(self) -> Excess:
        line, reading = self.series.line, self.reader.ohms("reading", self.asked.along or "")
        if self.asked.like:
            return compared(line, reading, [self._like(text) for text in self.asked.like])
        return excess(line, reading, contacts(len(self.series.conductors) - 1))

    def _like(self, text: str) -> tuple[Line, Input]:
        word, equals, value = text.rpartition("=")
        if not equals:
            raise BadInputError(f"'{text}' is no tag with its reading. Write TAG=OHMS.")
        like = line_of(self.registry, [word], self.temps)
        return like.line, self.reader.ohms(word, value)

    def place(self) -> LocatedFault:
        """Return the fault at its distance."""
        asked, inputs = self.asked, self.reader.inputs(self.asked)
        line, good, sources, remarks = self._circuit_of_current()
        if asked.at:
            line = self._seen_from(asked.at, line)
        if asked.method == "one-end" and "fault" not in inputs:
            remarks += (
                "the fault's own resistance is assumed to be 0 to 0.1 Ω, a dead short (common "
                "practice): if it has more, the place is nearer; read from the other end too",
            )
        found = locate(asked.method, line, inputs, good)
        section, open_first = found.place.section, found.place.nearest_box
        boxes = self.site.find(Enclosure, "code", [open_first])
        return LocatedFault(
            kind=self._kind(),
            method=asked.method,
            distance_m=found.distance_m,
            uncertainty_m=found.distance.expanded,
            low_m=found.low_m,
            high_m=found.high_m,
            from_=line[0].from_box,
            to=line[-1].to_box,
            raceway=section.raceway,
            between=(section.from_box, section.to_box),
            in_raceway_m=found.place.in_section_m,
            open_first=open_first,
            open_first_where=boxes[0].where if boxes else None,
            reach=tuple(s.raceway or s.name for s in found.reach),
            route=tuple(Stretch(s.raceway, (s.from_box, s.to_box), s.length_m) for s in line),
            fault_ohms=found.fault_ohm,
            line_ohms=total_ohms(line),
            shares_m=dict(found.distance.budget[:4]),
            source=f"{'; '.join([METHODS[asked.method], *sources])}; k = 2, JCGM 100:2008, 5.1.2",
            remarks=self._remarks(remarks),
            cautions=self._cautions(),
        )

    def _circuit_of_current(self) -> tuple[Line, Line, tuple[str, ...], tuple[str, ...]]:
        """Return the line that the current passes, a loop test's good one, sources and remarks."""
        faulty, asked = self.series, self.asked
        if asked.method == "capacitance":
            return faulty.line, (), (), ()
        if asked.method in ("murray", "varley"):
            if not asked.good:
                return faulty.line, (), faulty.sources, ()
            good = good_of_loop(faulty, line_of(self.registry, asked.good, self.temps))
            return faulty.line, good.line, _once(faulty.sources + good.sources), good.remarks
        if not asked.against:
            raise BadInputError(
                "Say what the conductor is in contact with.",
                Hint("Give {against}: a tag, or raceway together with {raceway_ohms}."),
            )
        if asked.is_against_earth:
            return self._with_raceway(), (), faulty.sources, ()
        other = line_of(self.registry, asked.against, self.temps)
        if other.ends[0] != faulty.ends[0]:
            other = other.backwards()
        return joined(faulty.line, other.line), (), _once(faulty.sources + other.sources), ()

    def _with_raceway(self) -> Line:
        text = self.asked.raceway_ohms
        if not text:
            raise FaultLocationError(
                "The raceway is part of the measured path and its resistance is unknown",
                Hint(
                    "Join a sound conductor to it at the far end, read the two, subtract the "
                    "conductor and give the rest with {raceway_ohms}; or make a Murray or Varley "
                    "loop, which doesn't need it."
                ),
            )
        half_digit = (parse_resistance(text).step or 0.0) / 2
        return with_return(self.series.line, parse_resistance_ohm(text), half_digit=half_digit)

    def _seen_from(self, word: str, line: Line) -> Line:
        """Return the line from the box where it was measured."""
        box = resolve(self.registry, word, ("enclosure",)).code
        near, far = line[0].from_box, line[-1].to_box
        if box not in (near, far):
            raise BadInputError(f"{box} is not an end of this line. Measure at {near} or {far}.")
        return line if box == near else backwards(line)

    def _kind(self) -> str:
        if self.asked.method == "capacitance":
            return "open"
        if not self.asked.against or self.asked.is_against_earth:
            return "earthed"
        tags = [tag_of(self.registry, word) for word in self.asked.against]
        found = self.site.find(Conductor, "tag", tags)
        return "earthed" if all(c.function in PROTECTIVE for c in found) else "short"

    def _remarks(self, more: Sequence[str] = ()) -> tuple[str, ...]:
        found = _once([*self.series.remarks, *more, *self.reader.remarks])
        if self.asked.method == "capacitance":  # it doesn't depend on the temperature
            return tuple(remark for remark in found if remark != NO_TEMPERATURE)
        return found

    def _cautions(self) -> tuple[str, ...]:
        boxes = {box for s in self.series.line for box in (s.from_box, s.to_box)}
        circuits = self.series.conductors[0].circuits
        return cautions_at(self.site, CONTINUITY.name, (), circuits, boxes)


def _joints(series: Series) -> tuple[Joint, ...]:
    found = {
        (end.enclosure, end.terminal): Joint(end.enclosure, end.terminal, end.state)
        for conductor in series.conductors
        for end in conductor.ends
    }
    order = [series.ends[0], *(section.to_box for section in series.line)]
    return tuple(sorted(found.values(), key=lambda joint: order.index(joint.enclosure)))


def _once(texts: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))
