# SPDX-License-Identifier: MIT
"""The steps of a ring-out: each says itself to people and programs, and reads its answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from wiretrack.errors import StepError
from wiretrack.ringout.answers import (
    LIKE_DONE,
    LIKE_TOUCH,
    PROVE_DEAD,
    Answer,
    Live,
    parse_dead,
    parse_done,
    parse_touch,
    typed_dead,
    typed_done,
    typed_touch,
)
from wiretrack.ringout.bundle import PLACES, RACEWAY, Place

Naming = Callable[[str], str]


@dataclass(frozen=True)
class Names:
    """What places and ends are called where a ring-out is done: boxes, and ends with colours."""

    boxes: Mapping[str, str]
    colours: Mapping[str, str | None]

    def end(self, name: str) -> str:
        """Return an end as one says it in a sentence."""
        return "the raceway" if name == RACEWAY else self.coloured(name)

    def coloured(self, name: str) -> str:
        """Return an end with its colour, as far as that is known."""
        colour = self.colours.get(name)
        return f"{name} ({colour})" if colour else name


class Asked:
    """A step that asks for something to be done at a place, and is answered when it is."""

    kind: ClassVar[str]
    at: Place
    like: ClassVar[str] = LIKE_DONE
    is_touch: ClassVar[bool] = False

    @property
    def place(self) -> Place:
        """Return where one is when it is done."""
        return self.at

    def told(self, names: Names) -> str:
        """Return the step in a sentence; one that ends in a colon is followed by its `lines`."""
        return f"In {names.boxes[self.at]}: {self.doing(names)}"

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        raise NotImplementedError

    def lines(self, named: Naming) -> list[str]:
        """Return what to do end by end, a line each, with ends as `named` writes them."""
        return []

    def parse(self, answer: Mapping[str, Any]) -> Answer:
        """Return an answer of the protocol, checked.

        Raises
        ------
        StepError
            If the answer isn't one that this step can have.
        """
        if not isinstance(answer, Mapping):
            raise StepError(f"The answer {answer!r} is not an object", f"Write it like {self.like}")
        return self._parse(answer)

    def typed(self, text: str) -> Answer:
        """Return the answer that a person typed.

        Raises
        ------
        BadInputError
            If it isn't one that this step can have.
        """
        return self.parse(self._typed(text))

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_done(answer)

    def _typed(self, text: str) -> dict[str, Any]:
        return typed_done(text)


@dataclass(frozen=True)
class Join(Asked):
    """Hold each group's ends together, at the place where they are."""

    kind: ClassVar[str] = "join"
    at: Place
    groups: tuple[tuple[str, ...], ...]

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": self.kind, "at": self.at, "groups": [list(group) for group in self.groups]}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        groups = tuple(tuple(_word(name) for name in group) for group in data["groups"])
        return cls(_place(data["at"]), groups)

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        return "twist together, each line on its own:"

    def lines(self, named: Naming) -> list[str]:
        """Return the groups, a line each."""
        return [" + ".join(map(named, group)) for group in self.groups]


@dataclass(frozen=True)
class Unjoin(Asked):
    """Take every join and resistor off at one place, or just the named ends out of their joins."""

    kind: ClassVar[str] = "unjoin"
    at: Place
    ends: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        step = {"step": self.kind, "at": self.at}
        return {**step, "ends": list(self.ends)} if self.ends else step

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        return cls(_place(data["at"]), tuple(_word(end) for end in data.get("ends", ())))

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
class Fit(Asked):
    """Put a resistor of the kit between each named end and the common return."""

    kind: ClassVar[str] = "fit"
    at: Place
    resistors: tuple[Fitted, ...]
    common: str

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        fitted = [{"end": one.end, "ohms": one.ohms} for one in self.resistors]
        return {"step": self.kind, "at": self.at, "resistors": fitted, "common": self.common}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        fitted = tuple(Fitted(_word(one["end"]), float(one["ohms"])) for one in data["resistors"])
        return cls(_place(data["at"]), fitted, _word(data["common"]))

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        return f"put a resistor from {self.common} to:"

    def lines(self, named: Naming) -> list[str]:
        """Return each end with the resistor that goes on it."""
        return [f"{named(one.end)}: {one.ohms:g} Ω" for one in self.resistors]


@dataclass(frozen=True)
class FitDiode(Asked):
    """Put a diode over two ends; its band marks the cathode, where current comes out."""

    kind: ClassVar[str] = "fit"
    at: Place
    cathode: str
    anode: str

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        diode = {"cathode": self.cathode, "anode": self.anode}
        return {"step": self.kind, "at": self.at, "diode": diode}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        diode = data["diode"]
        return cls(_place(data["at"]), _word(diode["cathode"]), _word(diode["anode"]))

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        band, other = names.end(self.cathode), names.end(self.anode)
        return f"put a diode over {band} and {other}, its band on {band}."

    def lines(self, named: Naming) -> list[str]:
        """Return where each leg goes."""
        return [f"band on {named(self.cathode)}", f"other leg on {named(self.anode)}"]


@dataclass(frozen=True)
class Walk(Asked):
    """Go to the other place, meter in hand."""

    kind: ClassVar[str] = "walk"
    to: Place

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": self.kind, "to": self.to}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""
        return cls(_place(data["to"]))

    @property
    def place(self) -> Place:
        """Return where one is when it is done."""
        return self.to

    def told(self, names: Names) -> str:
        """Return the step in a sentence."""
        return f"Walk to {names.boxes[self.to]}."


@dataclass(frozen=True)
class Probe(Asked):
    """Touch two ends with the meter's leads; `plus` is the end for the plus lead if that counts."""

    kind: ClassVar[str] = "probe"
    like: ClassVar[str] = LIKE_TOUCH
    is_touch: ClassVar[bool] = True
    at: Place
    between: tuple[str, str]
    plus: str | None = None

    def to_json(self) -> dict[str, Any]:
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
class ProveDead(Asked):
    """Stop: a voltage was found between two ends. It is not touched again before it is dead."""

    kind: ClassVar[str] = "prove-dead"
    at: Place
    between: tuple[str, str]
    volts: float | None

    def to_json(self) -> dict[str, Any]:
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


Action = Join | Unjoin | Fit | FitDiode | Walk | Probe | ProveDead
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
