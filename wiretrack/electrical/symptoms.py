# SPDX-License-Identifier: MIT
"""Symptoms of a faulty circuit: which reading tells the suspects apart, and what makes one likely.

The weights are rules of thumb of the trade (common practice): they set the order of the readings,
never what a reading proves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiretrack.errors import BadInputError

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
LOAD_WEIGHT, SUPPLY_WEIGHT = 2.0, 1.5  # common practice
VERDICT_WEIGHTS = {"fail": 8.0, "doubt": 3.0, "pass": 0.5}  # common practice: its last reading
SOURCE = "likelihoods: common practice"


@dataclass(frozen=True)
class Symptom:
    """A symptom: the reading that tells the suspects apart, and on which side bad leaves them.

    `bad_leaves` is ``before`` where a bad reading at a point puts the fault between the source
    and it, ``beyond`` where it puts the fault in what was parted there. `baseline` is the kind
    of old readings that count.
    """

    name: str
    title: str
    kind: str
    bad_leaves: Literal["before", "beyond"]
    ask: str
    good: str
    bad: str
    baseline: tuple[str, ...]
    confirm: str


_VOLTAGE_ASK = "read the voltage at {point} against {other}"
_PART_ASK = (
    "isolate and prove dead; part {name} at {point} and read the insulation resistance to PE of "
    "what lies beyond"
)
_LIVE_BASE = ("continuity", "loop")
SYMPTOMS = {
    symptom.name: symptom
    for symptom in (
        Symptom(
            "dead-circuit", "nothing works: no voltage at the load", "voltage", "before",
            _VOLTAGE_ASK, "the voltage is there", "it is missing", _LIVE_BASE,
            "isolate, then test it for continuity",
        ),
        Symptom(
            "low-voltage", "too little voltage with the load on", "voltage", "before",
            f"with the load on, {_VOLTAGE_ASK}", "as much as the supply has, less 1 or 2 %",
            "markedly less than at the supply", _LIVE_BASE,
            "isolate, then compare its resistance with its record: wiretrack fault TAG --along",
        ),
        Symptom(
            "reversed-polarity", "plus and minus are exchanged", "voltage", "before",
            f"{_VOLTAGE_ASK}, red lead first", "the sign is right", "the sign is wrong",
            (*_LIVE_BASE, "voltage"),
            "isolate, then ring it out: its two conductors are exchanged there",
        ),
        Symptom(
            "wrong-string-voltage", "a PV string reads too little or too much", "voltage", "before",
            f"open the string's load switch, then {_VOLTAGE_ASK}, open circuit",
            "what the string should read (wiretrack string)", "something else",
            (*_LIVE_BASE, "voltage"),
            "explain the reading: wiretrack string CIRCUIT --reading VOLTS",
        ),
        Symptom(
            "tripping-breaker", "the breaker or fuse goes as soon as it is closed", "insulation",
            "beyond", _PART_ASK, "at or above its limit", "below it, or near zero",
            ("insulation",), "place the fault on it: wiretrack fault TAG --near OHMS --far OHMS",
        ),
        Symptom(
            "insulation-alarm", "an insulation monitor or earth-fault alarm has come on",
            "insulation", "beyond", _PART_ASK, "at or above its limit", "below it",
            ("insulation",), "place the fault on it: wiretrack fault TAG --murray P:Q --good TAG",
        ),
    )
}  # fmt: skip


def symptom_of(name: str) -> Symptom:
    """Return the symptom called `name`.

    Raises
    ------
    BadInputError
        If there is none.
    """
    if name not in SYMPTOMS:
        raise BadInputError(f"'{name}' is not a symptom. Symptoms: {', '.join(SYMPTOMS)}.")
    return SYMPTOMS[name]
