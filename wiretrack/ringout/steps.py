# SPDX-License-Identifier: MIT
"""The words of a ring-out: the steps that are asked for, and the answers to them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place

OVER_RANGE = "OL"
PROVE_DEAD = "Voltage present. Prove dead."


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
    """Take every join and resistor off at one place, or just the named ends out of their joins."""

    at: Place
    ends: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        step = {"step": "unjoin", "at": self.at}
        return {**step, "ends": list(self.ends)} if self.ends else step


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
class ProveDead:
    """Stop: a voltage was found between two ends. It is not touched again before it is dead."""

    at: Place
    between: tuple[str, str]
    volts: float | None

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        between = list(self.between)
        step = {"step": "prove-dead", "at": self.at, "between": between, "volts": self.volts}
        return {**step, "say": PROVE_DEAD}


@dataclass(frozen=True)
class Match:
    """Two ends of one conductor; `sure` and `why` say what it rests on, and don't tell it apart.

    `sure` means that only a wrong answer, or a mixture of faults rarer than one in ten thousand
    bundles, could make the match wrong.
    """

    near: str
    far: str
    sure: bool = field(default=False, compare=False)
    why: str = field(default="", compare=False)

    def to_json(self) -> dict[str, Any]:
        """Return the match as the protocol writes it."""
        return {"near": self.near, "far": self.far, "sure": self.sure, "why": self.why}


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


Action = Join | Unjoin | Fit | FitDiode | Walk | Probe | ProveDead
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


@dataclass(frozen=True)
class Skipped:
    """The touch can't be made now."""

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"skip": True}


@dataclass(frozen=True)
class Live:
    """A voltage is on what was touched, in V; `None` where nobody read how much."""

    volts: float | None

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the protocol writes it."""
        return {"volts": self.volts}


Answer = Done | Ohms | Sounded | Volts | Skipped | Live
