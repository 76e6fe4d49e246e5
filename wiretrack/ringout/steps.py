# SPDX-License-Identifier: MIT
"""The steps of a ring-out: each says itself to people and programs, and reads its answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Self

from wiretrack.errors import StepError
from wiretrack.ringout.action import Action, Button, Names, Naming, Prompt
from wiretrack.ringout.answers import (
    LIKE_TOUCH,
    PROVE_DEAD,
    Answer,
    Live,
    parse_dead,
    parse_touch,
    typed_dead,
    typed_touch,
)
from wiretrack.ringout.bundle import PLACES, Place

if TYPE_CHECKING:
    from wiretrack.ringout.facts import Facts

DIODE_HINTS = (
    "Any rectifier diode does (1N4007, say); the band is its cathode.",
    "Set the meter to its diode range: an ohms range may be too weak to make a diode conduct."
    " Hold red as plus, black as minus, the same at both boxes (common practice).",
)
ALONE_HINT = "The touches at this box show whether it conducts, and which way round it is."
HELPER_HINT = "Look at the band twice: no reading can show the diode put on wrongly."
_PUT_OFF = (Button("live", "Voltage on it: stop"), Button("skip", "Can't reach it now: put off"))
_TOUCH = Prompt(
    title="Touch",
    shape="probe",
    buttons=(Button("c", "closed"), Button("o", "open")),
    put_off=_PUT_OFF,
    number="the ohms",
    keys="c closed · o open · or the ohms · s skip",
    enter_does=False,
)
_DIODE_TOUCH = Prompt(
    title="Touch, on the diode range",
    shape="polar",
    buttons=(Button("c", "flows"), Button("o", "none")),
    put_off=_PUT_OFF,
    number="the volts shown",
    keys="c current flows · o none · or the volts shown · s skip",
    enter_does=False,
)


@dataclass(frozen=True)
class Join(Action):
    """Hold each group's ends together, at the place where they are."""

    kind: ClassVar[str] = "join"
    connects: ClassVar[bool] = True
    prompt = Prompt(title="Twist together", shape=kind)
    has_lines: ClassVar[bool] = True
    at: Place
    groups: tuple[tuple[str, ...], ...]

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": self.kind, "at": self.at, "groups": [list(group) for group in self.groups]}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        groups = tuple(tuple(_word(name) for name in group) for group in data["groups"])
        return cls(_place(data["at"]), groups)

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.join(self)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        return "twist together, each line on its own:"

    def lines(self, named: Naming) -> list[str]:
        """Return the groups, a line each."""
        return [" + ".join(map(named, group)) for group in self.groups]


@dataclass(frozen=True)
class Unjoin(Action):
    """Take every join and resistor off at one place, or just the named ends out of their joins."""

    kind: ClassVar[str] = "unjoin"
    at: Place
    ends: tuple[str, ...] = ()

    @property
    def prompt(self) -> Prompt:
        """Return how it is put to a person."""
        title = (
            "Take out of their joins" if self.ends else "Take off every join, resistor and diode"
        )
        return Prompt(title=title, shape=self.kind)

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        step = {"step": self.kind, "at": self.at}
        return {**step, "ends": list(self.ends)} if self.ends else step

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        return cls(_place(data["at"]), tuple(_word(end) for end in data.get("ends", ())))

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.unjoin(self)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        if self.ends:
            return f"take {', '.join(map(names.end, self.ends))} out of its join."
        return "take off every join, resistor and diode."

    def lines(self, named: Naming) -> list[str]:
        """Return the ends that come out of their joins."""
        return [named(end) for end in self.ends]


@dataclass(frozen=True)
class Fitted:
    """A resistor between one end and the common return."""

    end: str
    ohms: float


@dataclass(frozen=True)
class Fit(Action):
    """Put a resistor of the kit between each named end and the common return."""

    kind: ClassVar[str] = "fit"
    connects: ClassVar[bool] = True
    prompt = Prompt(title="Fit resistors", shape=kind, is_told=True)
    has_lines: ClassVar[bool] = True
    at: Place
    resistors: tuple[Fitted, ...]
    common: str

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        fitted = [{"end": one.end, "ohms": one.ohms} for one in self.resistors]
        return {"step": self.kind, "at": self.at, "resistors": fitted, "common": self.common}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        fitted = tuple(Fitted(_word(one["end"]), float(one["ohms"])) for one in data["resistors"])
        return cls(_place(data["at"]), fitted, _word(data["common"]))

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.fit_resistors(self)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        return f"put a resistor from {self.common} to:"

    def lines(self, named: Naming) -> list[str]:
        """Return each end with the resistor that goes on it."""
        return [f"{named(one.end)}: {one.ohms:g} Ω" for one in self.resistors]


@dataclass(frozen=True)
class FitDiode(Action):
    """Put a diode over two ends; its band marks the cathode, where current comes out."""

    kind: ClassVar[str] = "fit"
    is_diode: ClassVar[bool] = True
    connects: ClassVar[bool] = True
    prompt = Prompt(title="Put a diode over two ends", shape=kind)
    at: Place
    cathode: str
    anode: str

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        diode = {"cathode": self.cathode, "anode": self.anode}
        return {"step": self.kind, "at": self.at, "diode": diode}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        diode = data["diode"]
        return cls(_place(data["at"]), _word(diode["cathode"]), _word(diode["anode"]))

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.fit_diode(self)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        band, other = names.end(self.cathode), names.end(self.anode)
        return f"put a diode over {band} and {other}, its band on {band}."

    def lines(self, named: Naming) -> list[str]:
        """Return where each leg goes."""
        return [f"band on {named(self.cathode)}", f"other leg on {named(self.anode)}"]

    def hints(self, *, helped: bool) -> tuple[str, ...]:
        """Return how to put a diode on and read it; common practice."""
        return (*DIODE_HINTS, HELPER_HINT if helped else ALONE_HINT)


@dataclass(frozen=True)
class Walk(Action):
    """Go to the other place, meter in hand."""

    kind: ClassVar[str] = "walk"
    prompt = Prompt(
        title="Walk to {place}",
        shape=kind,
        where="Walk to",
        buttons=(Button("done", "I am there"),),
    )
    to: Place

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": self.kind, "to": self.to}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        return cls(_place(data["to"]))

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.walk(self)

    @property
    def place(self) -> Place:
        """Return where one is when it is done."""
        return self.to

    def told(self, names: Names) -> str:
        """Return the step in a sentence."""
        return f"Walk to {names.boxes[self.to]}."


@dataclass(frozen=True)
class Probe(Action):
    """Touch two ends with the meter's leads; `plus` is the end for the plus lead if that counts."""

    kind: ClassVar[str] = "probe"
    like: ClassVar[str] = LIKE_TOUCH
    is_touch: ClassVar[bool] = True
    at: Place
    between: tuple[str, str]
    plus: str | None = None

    @property
    def prompt(self) -> Prompt:
        """Return how it is put to a person."""
        return _TOUCH if self.plus is None else _DIODE_TOUCH

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        step = {"step": self.kind, "at": self.at, "between": list(self.between)}
        return step if self.plus is None else {**step, "plus": self.plus}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        ends, plus = _two_ends(data["between"]), data.get("plus")
        if plus is not None and plus not in ends:
            raise StepError(f"The plus lead is on {plus!r}", f"It must be on {' or '.join(ends)}")
        return cls(_place(data["at"]), ends, plus)

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note it in the facts."""
        facts.probe(self, answer)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        one, other = map(names.end, self.between)
        if self.plus is None:
            return f"touch {one} and {other}."
        plus, minus = (one, other) if self.plus == self.between[0] else (other, one)
        return f"touch {plus} with plus (red) and {minus} with minus (black), on the diode range."

    def lines(self, named: Naming) -> list[str]:
        """Return the two ends to touch, with the lead for each where that counts."""
        if self.plus is None:
            return [named(end) for end in self.between]
        return [f"{'red' if end == self.plus else 'black'}: {end}" for end in self.between]

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_touch(answer, on_diode_range=self.plus is not None)

    def _typed(self, text: str) -> dict[str, Any]:
        return typed_touch(text, on_diode_range=self.plus is not None)


@dataclass(frozen=True)
class ProveDead(Action):
    """Stop: a voltage was found between two ends. It is not touched again before it is dead."""

    kind: ClassVar[str] = "prove-dead"
    prompt = Prompt(
        title=PROVE_DEAD,
        shape=Probe.kind,
        danger="DANGER Never test continuity on a live conductor. It can kill you.",
        buttons=(Button("dead", "It is proven dead"),),
        keys="dead when it is proven dead",
        enter_does=False,
    )
    at: Place
    between: tuple[str, str]
    volts: float | None

    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        between = list(self.between)
        step = {"step": self.kind, "at": self.at, "between": between, "volts": self.volts}
        return {**step, "say": PROVE_DEAD}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        volts = data["volts"]
        volts = None if volts is None else float(volts)
        return cls(_place(data["at"]), _two_ends(data["between"]), volts)

    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note nothing: it says how safe the ends are, not what they belong to."""

    def told(self, names: Names) -> str:
        """Return the step in a sentence, the stop first."""
        return f"{PROVE_DEAD} {super().told(names)}"

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        return f"{' and '.join(map(names.end, self.between))}, {Live(self.volts).said}."

    def lines(self, named: Naming) -> list[str]:
        """Return the two ends that were touched, and the voltage on them."""
        return [*map(named, self.between), Live(self.volts).said]

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_dead(answer)

    def _typed(self, text: str) -> dict[str, Any]:
        return typed_dead(text)


_KINDS: dict[str, type[Action]] = {
    kind.kind: kind for kind in (Join, Unjoin, Fit, Walk, Probe, ProveDead)
}


def parse_step(data: Mapping[str, Any]) -> Action:
    """Return a step from its protocol form, as a stored log holds it.

    Raises
    ------
    StepError
        If it is no step that can have an answer.
    """
    word = data.get("step") if isinstance(data, Mapping) else None
    kind = _KINDS.get(word) if isinstance(word, str) else None
    if kind is None:
        raise StepError(f"{word!r} is no step", f"It must be one of {', '.join(_KINDS)}")
    try:
        return (FitDiode if kind is Fit and "diode" in data else kind).from_json(data)
    except (KeyError, TypeError, ValueError) as error:
        if isinstance(error, StepError):
            raise
        raise StepError(
            f"The {word} step is incomplete: {error}", "Take it from the log"
        ) from error


def _place(value: object) -> Place:
    for place in PLACES:
        if value == place:
            return place
    raise StepError(f"The place is {value!r}", "It must be near or far")


def _word(value: object) -> str:
    if not isinstance(value, str):
        raise StepError(f"The end is {value!r}", "An end is named by its tag or end mark")
    return value


def _two_ends(between: Sequence[object]) -> tuple[str, str]:
    if isinstance(between, str) or len(between) != 2:
        raise StepError(f"A probe is between {between!r}", "It must be between two ends")
    return _word(between[0]), _word(between[1])
