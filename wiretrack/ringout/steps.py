# SPDX-License-Identifier: MIT
"""The words of a ring-out: the steps that are asked for, and the answers to them."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import StepError
from wiretrack.ringout.bundle import PLACES, Place

if TYPE_CHECKING:
    from collections.abc import Callable

OVER_RANGE = "OL"
HIGHEST_OHM = 1e13  # above any insulation tester's display (common practice)
HIGHEST_DIODE_VOLT = 10.0  # above any diode range's display (common practice)


@dataclass(frozen=True)
class Join:
    """Hold each group's ends together, at the place where they are."""

    at: Place
    groups: tuple[tuple[str, ...], ...]

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": "join", "at": self.at, "groups": [list(group) for group in self.groups]}


@dataclass(frozen=True)
class Unjoin:
    """Take every join and resistor off at one place."""

    at: Place

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": "unjoin", "at": self.at}


@dataclass(frozen=True)
class Fitted:
    """A resistor between one end and the common return."""

    end: str
    ohms: float


@dataclass(frozen=True)
class Fit:
    """Put a resistor of the kit between each named end and the common return."""

    at: Place
    resistors: tuple[Fitted, ...]
    common: str

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        fitted = [{"end": one.end, "ohms": one.ohms} for one in self.resistors]
        return {"step": "fit", "at": self.at, "resistors": fitted, "common": self.common}


@dataclass(frozen=True)
class FitDiode:
    """Put a diode over two ends; its band marks the cathode, where current comes out."""

    at: Place
    cathode: str
    anode: str

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        diode = {"cathode": self.cathode, "anode": self.anode}
        return {"step": "fit", "at": self.at, "diode": diode}


@dataclass(frozen=True)
class Walk:
    """Go to the other place, meter in hand."""

    to: Place

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {"step": "walk", "to": self.to}


@dataclass(frozen=True)
class Probe:
    """Touch two ends with the meter's leads; `plus` is the end for the plus lead if that counts."""

    at: Place
    between: tuple[str, str]
    plus: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        step = {"step": "probe", "at": self.at, "between": list(self.between)}
        return step if self.plus is None else {**step, "plus": self.plus}


@dataclass(frozen=True)
class Match:
    """Two ends of one conductor."""

    near: str
    far: str

    def to_json(self) -> dict[str, str]:
        """Return the match as the protocol writes it."""
        return {"near": self.near, "far": self.far}


@dataclass(frozen=True)
class FoundFault:
    """A broken or touching conductor: near tags first, far marks where they are known."""

    kind: str
    ends: tuple[str, ...]
    evidence: str

    def to_json(self) -> dict[str, Any]:
        """Return the fault as the protocol writes it."""
        return {"kind": self.kind, "ends": list(self.ends), "evidence": self.evidence}


@dataclass(frozen=True)
class Question:
    """A reading that doesn't fit what it claims to be, kept with the reason for doubting it."""

    at: Place
    between: tuple[str, str]
    ohms: float | None
    expected_ohm: float | None
    reason: str

    def to_json(self) -> dict[str, Any]:
        """Return the question as the protocol writes it."""
        return {
            "at": self.at,
            "between": list(self.between),
            "ohms": self.ohms,
            "expected": self.expected_ohm,
            "reason": self.reason,
        }


@dataclass(frozen=True, kw_only=True)
class Result:
    """What the ring-out found.

    `probes` counts every touch; `screening_probes` are those among them that only searched for
    conductors touching each other. `matches` would survive a hidden contact and a bad one;
    `likely` are what the closed readings point to, as long as that isn't so yet. Of the matches,
    `by_exclusion` names those whose conductor never read closed itself, and `by_colour` those
    that the readings alone don't tell: they hold if no colour changes on the way.
    """

    matches: tuple[Match, ...]
    unresolved: tuple[str, ...]
    faults: tuple[FoundFault, ...]
    walks: int
    probes: int
    joins: int
    screening_probes: int
    by_exclusion: tuple[str, ...] = ()
    by_colour: tuple[str, ...] = ()
    likely: tuple[Match, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {
            "step": "result",
            "matches": [match.to_json() for match in self.matches],
            "unresolved": list(self.unresolved),
            "faults": [fault.to_json() for fault in self.faults],
            "walks": self.walks,
            "probes": self.probes,
            "joins": self.joins,
            "screening_probes": self.screening_probes,
            "by_exclusion": list(self.by_exclusion),
            "by_colour": list(self.by_colour),
            "likely": [match.to_json() for match in self.likely],
            "questions": [question.to_json() for question in self.questions],
            "notes": list(self.notes),
        }


Action = Join | Unjoin | Fit | FitDiode | Walk | Probe
Step = Action | Result


@dataclass(frozen=True)
class Done:
    """The step was carried out."""

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"done": True}


@dataclass(frozen=True)
class Ohms:
    """What the meter showed, in Ω; `None` is over-range."""

    ohms: float | None

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"ohms": OVER_RANGE if self.ohms is None else self.ohms}


@dataclass(frozen=True)
class Sounded:
    """The meter's sounder told closed from open; nobody read the ohms."""

    closed: bool

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"closed": self.closed}


@dataclass(frozen=True)
class Volts:
    """What the meter's diode range showed, in V; `None` is over-range: no current flows."""

    volts: float | None

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"volts": OVER_RANGE if self.volts is None else self.volts}


Answer = Done | Ohms | Sounded | Volts


def parse_answer(step: Step, answer: Mapping[str, Any]) -> Answer:
    """Return the answer to `step`, checked.

    Raises
    ------
    StepError
        If the answer isn't one that this step can have.
    """
    if isinstance(step, Result):
        raise StepError("The ring-out is finished", "No answer is wanted any more")
    if not isinstance(answer, Mapping):
        raise StepError(f"The answer {answer!r} is not an object", f"Write it like {_like(step)}")
    if isinstance(step, Probe) and isinstance(answer.get("closed"), bool) and len(answer) == 1:
        return Sounded(answer["closed"])
    if isinstance(step, Probe) and step.plus is not None and set(answer) == {"volts"}:
        return Volts(_volts(answer["volts"]))
    wanted = "ohms" if isinstance(step, Probe) else "done"
    if set(answer) != {wanted}:
        given = ", ".join(f"'{key}'" for key in answer) or "nothing"
        raise StepError(f"The answer holds {given}", f"Write it like {_like(step)}")
    if wanted == "ohms":
        return Ohms(_ohms(answer["ohms"]))
    if answer["done"] is not True:
        raise StepError(
            f"done is {answer['done']!r}", 'Carry the step out, then answer {"done":true}'
        )
    return Done()


def _like(step: Action) -> str:
    return '{"ohms":0.43} or {"ohms":"OL"}' if isinstance(step, Probe) else '{"done":true}'


def _ohms(value: object) -> float | None:
    if isinstance(value, str):
        if value.strip().upper() == OVER_RANGE:
            return None
        raise StepError(f"'{value}' is not a reading", "Give a number of ohms, or OL")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise StepError(
            f"{json.dumps(value, default=str)} is not a reading", "Give a number of ohms, or OL"
        )
    if math.isnan(value) or value < 0:
        raise StepError(
            f"The reading is {value:g} ohm", "It must be 0 or above; check the meter's zero"
        )
    if value > HIGHEST_OHM:
        raise StepError(f"The reading is {value:g} ohm", "No meter shows that; answer OL")
    return float(value)


def _volts(value: object) -> float | None:
    if isinstance(value, str) and value.strip().upper() == OVER_RANGE:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise StepError(
            f"{json.dumps(value, default=str)} is no reading of the diode range",
            "Give a number of volts, or OL",
        )
    if not 0 <= value <= HIGHEST_DIODE_VOLT:
        raise StepError(
            f"The diode range shows {value:g} V",
            f"It shows 0 V to {HIGHEST_DIODE_VOLT:g} V or OL; is the conductor live?"
            " Stop and prove it dead",
        )
    return float(value)


def parse_step(data: Mapping[str, Any]) -> Action:
    """Return a step from its protocol form, as a stored log holds it.

    Raises
    ------
    StepError
        If it is no step that can have an answer.
    """
    kind = data.get("step") if isinstance(data, Mapping) else None
    parser = _PARSERS.get(kind) if isinstance(kind, str) else None
    if parser is None:
        raise StepError(f"{kind!r} is no step", f"It must be one of {', '.join(_PARSERS)}")
    try:
        return parser(data)
    except (KeyError, TypeError, ValueError) as error:
        if isinstance(error, StepError):
            raise
        raise StepError(
            f"The {kind} step is incomplete: {error}", "Take it from the log"
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


def _parse_join(data: Mapping[str, Any]) -> Join:
    groups = tuple(tuple(_word(name) for name in group) for group in data["groups"])
    return Join(_place(data["at"]), groups)


def _parse_fit(data: Mapping[str, Any]) -> Fit | FitDiode:
    if "diode" in data:
        diode = data["diode"]
        return FitDiode(_place(data["at"]), _word(diode["cathode"]), _word(diode["anode"]))
    fitted = tuple(Fitted(_word(one["end"]), float(one["ohms"])) for one in data["resistors"])
    return Fit(_place(data["at"]), fitted, _word(data["common"]))


def _parse_probe(data: Mapping[str, Any]) -> Probe:
    between: Sequence[object] = data["between"]
    if isinstance(between, str) or len(between) != 2:
        raise StepError(f"A probe is between {between!r}", "It must be between two ends")
    ends = (_word(between[0]), _word(between[1]))
    plus = data.get("plus")
    if plus is not None and plus not in ends:
        raise StepError(f"The plus lead is on {plus!r}", f"It must be on {' or '.join(ends)}")
    return Probe(_place(data["at"]), ends, plus)


_PARSERS: dict[str, Callable[[Mapping[str, Any]], Action]] = {
    "join": _parse_join,
    "unjoin": lambda data: Unjoin(_place(data["at"])),
    "fit": _parse_fit,
    "walk": lambda data: Walk(_place(data["to"])),
    "probe": _parse_probe,
}
