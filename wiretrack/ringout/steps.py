# SPDX-License-Identifier: MIT
"""The steps of a ring-out: each says itself to people and programs, and reads its answers."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, Any

from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.ringout.action import Action, Parts
from wiretrack.ringout.answers import (
    LIKE_HEARD,
    LIKE_TOUCH,
    LIKE_TWISTED,
    PROVE_DEAD,
    Answer,
    Live,
    Twisted,
    parse_dead,
    parse_heard,
    parse_touch,
    parse_twisted,
    typed_dead,
    typed_heard,
    typed_touch,
    typed_twisted,
)
from wiretrack.ringout.prompts import (
    ALONE_HINT,
    DIODE_HINTS,
    DIODE_TOUCH,
    HELPER_HINT,
    LISTEN,
    TOUCH,
    Button,
    Names,
    Naming,
    Prompt,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.bundle import Place


@dataclass(frozen=True)
class Join(Action):
    """Hold each group's ends together, at the place where they are."""

    connects = True
    can_be_corrected = True
    has_lines = True
    like = LIKE_TWISTED
    prompt = Prompt(title="Twist together", shape="join")
    kind: str = field(default="join", init=False, metadata={"json": "step"})
    at: Place
    groups: tuple[tuple[str, ...], ...]

    def _doing(self, names: Names) -> str:
        return "twist together, each line on its own:"

    @property
    def parts(self) -> Parts:
        """The groups."""
        return tuple(tuple((end, "") for end in group) for group in self.groups)

    def lines(self, named: Naming) -> list[str]:
        """Return each group as a line, with ends as `named` writes them."""
        return [" + ".join(map(named, group)) for group in self.groups]

    def as_done(self, answer: Answer) -> Join:
        """Return the join with the twists that were made."""
        return replace(self, groups=answer.twisted) if isinstance(answer, Twisted) else self

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_twisted(answer)

    def _typed(self, text: str) -> Answer:
        return typed_twisted(text)


@dataclass(frozen=True)
class Unjoin(Action):
    """Take every join and resistor off at one place, or just the named ends out of their joins."""

    kind: str = field(default="unjoin", init=False, metadata={"json": "step"})
    at: Place
    ends: tuple[str, ...] = field(default=(), metadata={"blank": None})

    @property
    def prompt(self) -> Prompt:
        """How it is put to a person."""
        every = "Disconnect every twist and all gear"
        return Prompt(title="Disconnect from their twist" if self.ends else every, shape=self.kind)

    def _doing(self, names: Names) -> str:
        if self.ends:
            return f"disconnect {', '.join(map(names.end, self.ends))} from the twist."
        return "disconnect every twist and all gear."

    @property
    def parts(self) -> Parts:
        """The ends that come out; none where all do."""
        return (tuple((end, "") for end in self.ends),)


@dataclass(frozen=True)
class Fitted:
    """A resistor between one end and the common return."""

    end: str
    ohms: float


@dataclass(frozen=True)
class Fit(Action):
    """Put a resistor of the kit between each named end and the common return."""

    connects = True
    has_lines = True
    prompt = Prompt(title="Fit resistors", shape="fit", is_told=True)
    kind: str = field(default="fit", init=False, metadata={"json": "step"})
    at: Place
    resistors: tuple[Fitted, ...]
    common: str

    def _doing(self, names: Names) -> str:
        return f"put a resistor from {self.common} to:"

    @property
    def parts(self) -> Parts:
        """Each end with its resistor."""
        return (tuple((one.end, f"{one.ohms:g} Ω on") for one in self.resistors),)

    @property
    def ends_named(self) -> set[str]:
        """Every end that it is about, the common return too."""
        return {*super().ends_named, self.common}


@dataclass(frozen=True)
class Diode:
    """Which ends a diode's legs are on; the band marks the cathode, where current comes out."""

    cathode: str
    anode: str


@dataclass(frozen=True)
class FitDiode(Action):
    """Put a diode over two ends."""

    connects = True
    is_diode = True
    prompt = Prompt(title="Put a diode over two ends", shape="fit")
    kind: str = field(default="fit", init=False, metadata={"json": "step"})
    at: Place
    diode: Diode

    def _doing(self, names: Names) -> str:
        band, other = names.end(self.diode.cathode), names.end(self.diode.anode)
        return f"put a diode over {band} and {other}, its band on {band}."

    @property
    def parts(self) -> Parts:
        """Both ends, each with its leg of the diode."""
        return (((self.diode.cathode, "band on"), (self.diode.anode, "other leg on")),)

    def hints(self, *, helped: bool) -> tuple[str, ...]:
        """Return how to put a diode on and read it; common practice."""
        return (*DIODE_HINTS, HELPER_HINT if helped else ALONE_HINT)


@dataclass(frozen=True)
class Walk(Action):
    """Go to the other place, meter in hand."""

    prompt = Prompt(
        title="Walk to {place}",
        shape="walk",
        buttons=(Button("done", "I am there"),),
    )
    kind: str = field(default="walk", init=False, metadata={"json": "step"})
    to: Place

    @property
    def place(self) -> Place:
        """Where one is when it is done."""
        return self.to

    def told(self, names: Names) -> str:
        """Return the step in a sentence."""
        return f"Walk to {self.where(names)}."


@dataclass(frozen=True)
class Probe(Action):
    """Touch two ends with the meter's leads; `plus` is the end for the plus lead if that counts."""

    like = LIKE_TOUCH
    can_be_corrected = is_touch = True
    kind: str = field(default="probe", init=False, metadata={"json": "step"})
    at: Place
    between: tuple[str, str]
    plus: str | None = field(default=None, metadata={"blank": None})

    @property
    def prompt(self) -> Prompt:
        """How it is put to a person."""
        return TOUCH if self.plus is None else DIODE_TOUCH

    def _doing(self, names: Names) -> str:
        one, other = map(names.end, self.between)
        if self.plus is None:
            return f"touch {one} and {other}."
        plus, minus = (one, other) if self.plus == self.between[0] else (other, one)
        return f"touch {plus} with plus (red) and {minus} with minus (black), on the diode range."

    @property
    def parts(self) -> Parts:
        """Both ends, each with its lead where that counts."""
        leads = {end: "red:" if end == self.plus else "black:" for end in self.between}
        return (tuple((end, leads[end] if self.plus else "") for end in self.between),)

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_touch(answer, on_diode_range=self.plus is not None)

    def _typed(self, text: str) -> Answer:
        return typed_touch(text, on_diode_range=self.plus is not None)


@dataclass(frozen=True)
class Tone(Action):
    """Put the tone generator on one end."""

    connects = True
    prompt = Prompt(title="Put the tone generator on", shape="fit")
    kind: str = field(default="tone", init=False, metadata={"json": "step"})
    at: Place
    end: str

    def _doing(self, names: Names) -> str:
        other = words("its other lead on earth.")
        return f"put the tone generator on {names.end(self.end)}, {other}"

    @property
    def parts(self) -> Parts:
        """The end, with the generator on it."""
        return (((self.end, "tone on"),),)


@dataclass(frozen=True)
class Listen(Action):
    """Listen on an end for the tone."""

    like = LIKE_HEARD
    prompt = LISTEN
    kind: str = field(default="listen", init=False, metadata={"json": "step"})
    at: Place
    end: str

    def _doing(self, names: Names) -> str:
        return f"hold the tone probe to {names.end(self.end)} and listen."

    @property
    def parts(self) -> Parts:
        """The end that is listened to."""
        return (((self.end, ""),),)

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_heard(answer)

    def _typed(self, text: str) -> Answer:
        return typed_heard(text)


@dataclass(frozen=True)
class ProveDead(Action):
    """Stop: a voltage was found between two ends. It is not touched again before it is dead."""

    prompt = Prompt(
        title=PROVE_DEAD,
        shape="probe",
        danger="DANGER Never test continuity on a live conductor. It can kill you.",
        buttons=(Button("dead", "It is proven dead"),),
        keys="dead when it is proven dead",
        enter_does=False,
    )
    kind: str = field(default="prove-dead", init=False, metadata={"json": "step"})
    at: Place
    between: tuple[str, str]
    volts: float | None
    say: str = field(default=PROVE_DEAD, init=False)

    def told(self, names: Names) -> str:
        """Return the step in a sentence, the stop first."""
        return f"{PROVE_DEAD} {super().told(names)}"

    def _doing(self, names: Names) -> str:
        return f"{' and '.join(map(names.end, self.between))}, {Live(self.volts).said}."

    @property
    def parts(self) -> Parts:
        """Both ends, with what was read on them."""
        return (tuple((end, f"{Live(self.volts).said} on") for end in self.between),)

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_dead(answer)

    def _typed(self, text: str) -> Answer:
        return typed_dead(text)
