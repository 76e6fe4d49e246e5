# SPDX-License-Identifier: MIT
"""Symptoms of a faulty circuit: which reading tells the suspects apart, and what makes one likely.

The weights are rules of thumb of the trade (common practice): they set the order of the readings,
never what a reading proves.
"""

from __future__ import annotations

from typing import Literal

from wiretrack.errors import BadInputError, Hint
from wiretrack.late import dataclass

# How likely a thing is to be at fault beside a sound conductor, which has 1: common practice.
DEVICE_WEIGHTS = {
    "fuse": 3.0,
    "breaker": 2.0,
    "contactor": 3.0,
    "disconnect": 1.5,
    "splice": 2.0,
    "bus": 0.5,
}
OPEN_WEIGHT, UNKNOWN_STATE_WEIGHT, LOOSE_WEIGHT = 12.0, 4.0, 8.0  # common practice
LOAD_WEIGHT, SUPPLY_WEIGHT, ARRAY_WEIGHT = 2.0, 1.5, 1.5  # common practice
RETURN_WEIGHT, PAIR_WEIGHT = 0.7, 0.5  # common practice: of a neutral or return; of two wires
OTHER_WEIGHT = (
    1.0  # common practice: what isn't in the record, an overload, a fault that comes and goes
)
VERDICT_WEIGHTS = {"fail": 8.0, "doubt": 3.0, "pass": 0.5}  # common practice: its last reading
SOURCE = "likelihoods: common practice"


@dataclass(frozen=True)
class Symptom:
    """A symptom: the reading that tells the suspects apart, and on which side they are left.

    `bad_leaves` is ``before`` where a bad reading at a point puts the fault between the source
    and it, ``beyond`` where it puts the fault in what was disconnected there. `bad_if` is the
    answer that is bad: every question is whether the voltage, or a closed circuit, is there.
    `baseline` is the kind of old readings that count. `loads` and `live` say how it is read.
    """

    name: str
    title: str
    kind: str
    bad_leaves: Literal["before", "beyond"]
    bad_if: Literal["yes", "no"]
    ask: str
    yes: str
    no: str
    baseline: tuple[str, ...]
    confirm: Hint
    loads: Literal["on", "off"] = "off"

    @property
    def live(self) -> bool:
        """Whether the circuit is under voltage while it is read."""
        return self.kind == "voltage"

    @property
    def others(self) -> tuple[tuple[str, str], ...]:
        """What may be at fault that no reading of the search can show, and what would decide it."""
        comes_and_goes = (
            "a fault that comes and goes, or something not in the record",
            "repeat the readings while it is there",
        )
        if self.name == "insulation-alarm":
            return ("the alarm itself", "test it with a known resistance to PE"), comes_and_goes
        return (comes_and_goes,)


_VOLTAGE = "Measure the voltage at {one} against {other}. "
_PART = (
    "Isolate, prove dead, loads off. Disconnect {name} in {point}. "
    "Is the insulation of {one} to {other} below its limit?"
)
_LIVE_BASE = ("continuity", "loop")
SYMPTOMS = {
    symptom.name: symptom
    for symptom in (
        Symptom(
            "dead-circuit", "nothing works: no voltage at the load", "voltage", "before", "no",
            f"{_VOLTAGE}Is it there?", "the voltage is there", "it is missing", _LIVE_BASE,
            Hint("isolate, then test it for continuity"), "on",
        ),
        Symptom(
            "low-voltage", "too little voltage with the load on", "voltage", "before", "no",
            f"Load on. {_VOLTAGE}Is it as much as at the supply?",
            "as much as the supply has, less 1 or 2 %", "markedly less than at the supply",
            _LIVE_BASE,
            Hint("isolate, then compare its resistance with its record", "fault-along"),
            "on",
        ),
        Symptom(
            "reversed-polarity", "plus and minus are exchanged", "voltage", "before", "no",
            f"{_VOLTAGE}Red lead on {{one}}. Is the sign right?", "the sign is right",
            "the sign is wrong", (*_LIVE_BASE, "voltage"),
            Hint("isolate, then ring it out: its two conductors are exchanged there"),
        ),
        Symptom(
            "wrong-string-voltage", "a PV string reads too little or too much", "voltage", "before",
            "no", f"Open the string's load switch. {_VOLTAGE}Is it what the string should read?",
            "what the string should read", "something else",
            (*_LIVE_BASE, "voltage"),
            Hint("explain the reading", "string"),
        ),
        Symptom(
            "tripping-breaker", "the breaker or fuse goes as soon as it is closed", "insulation",
            "beyond", "yes", _PART, "below it, or near zero", "at or above its limit",
            ("insulation",), Hint("place the fault on it", "fault-both-ends"),
        ),
        Symptom(
            "insulation-alarm", "an insulation monitor or earth-fault alarm has come on",
            "insulation", "beyond", "yes", _PART, "below it", "at or above its limit",
            ("insulation",), Hint("place the fault on it", "fault-murray"),
        ),
    )
}  # fmt: skip


def symptom_of(name: str) -> Symptom:
    """Return the symptom called `name`.

    Raises `BadInputError` if there is none.
    """
    if name not in SYMPTOMS:
        raise BadInputError(f"'{name}' is not a symptom. Symptoms: {', '.join(SYMPTOMS)}.")
    return SYMPTOMS[name]
