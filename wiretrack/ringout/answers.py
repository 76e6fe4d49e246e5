# SPDX-License-Identifier: MIT
"""Answers to the steps of a ring-out: as the protocol has them, as people type and read them."""

from __future__ import annotations

import json
import math
import re
from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.quantities import parse_resistance, parse_voltage
from wiretrack.errors import BadInputError, StepError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

OVER_RANGE = "OL"
PROVE_DEAD = "Voltage present. Prove dead."
LIKE_TWISTED = '{"done":true} or {"twisted":[["1","3"],["4","5"]]}'
LIKE_TOUCH, LIKE_DONE = '{"ohms":0.43} or {"ohms":"OL"}', '{"done":true}'
LIKE_HEARD, LOUDNESS = '{"heard":"loud"}, "faint" or "none"', ("loud", "faint", "none")
HIGHEST_OHM = 1e13  # above any insulation tester's display (common practice)
HIGHEST_DIODE_VOLT = 10.0  # above any diode range's display (common practice)
HIGHEST_VOLT = 1e6  # above any meter's display (common practice)

# What people type.
DONE, DEAD = ("", "d", "done"), ("dead",)
CLOSED, OPEN, SKIP, LIVE = ("c", "closed"), ("o", "open"), ("s", "skip"), ("live", "v", "voltage")
_VOLTS = re.compile(r".*[0-9].*(v|volts?|v *[ad]c)")


@dataclass(frozen=True)
class Done:
    """The step was carried out."""

    done: bool = field(default=True, init=False)

    @property
    def said(self) -> str:
        """The answer in words."""
        return "done"


@dataclass(frozen=True)
class Twisted(Done):
    """Twists were made, but other ones than were asked for: the ends of each."""

    twisted: tuple[tuple[str, ...], ...]

    @property
    def said(self) -> str:
        """The answer in words."""
        return f"twisted otherwise: {twists_told(self.twisted)}"


@dataclass(frozen=True)
class Ohms:
    """What the meter showed, in Ω; `None` is over-range."""

    ohms: float | None = field(metadata={"blank": OVER_RANGE})

    @property
    def said(self) -> str:
        """The answer in words."""
        return "open" if self.ohms is None else f"{self.ohms:g} Ω"


@dataclass(frozen=True)
class Sounded:
    """The meter's sounder told closed from open; nobody read the ohms."""

    closed: bool

    @property
    def said(self) -> str:
        """The answer in words."""
        return "closed" if self.closed else "open"


@dataclass(frozen=True)
class Volts:
    """What the meter's diode range showed, in V; `None` is over-range: no current flows."""

    volts: float | None = field(metadata={"blank": OVER_RANGE})

    @property
    def said(self) -> str:
        """The answer in words."""
        return "open" if self.volts is None else f"{self.volts:g} V"


@dataclass(frozen=True)
class Skipped:
    """The touch can't be made now."""

    said = "not made"
    skip: bool = field(default=True, init=False)


@dataclass(frozen=True)
class Live:
    """A voltage is on what was touched, in V; `None` where nobody read how much."""

    volts: float | None

    @property
    def said(self) -> str:
        """The answer in words."""
        return "a voltage" if self.volts is None else f"{self.volts:g} V"


@dataclass(frozen=True)
class Heard:
    """How loud a tone generator's signal was heard on an end."""

    heard: str

    @property
    def said(self) -> str:
        """The answer in words."""
        return self.heard


Answer = Done | Ohms | Sounded | Volts | Skipped | Live | Heard


def parse_done(answer: Mapping[str, Any]) -> Answer:
    """Return the answer to a step that is carried out, and nothing else."""
    if set(answer) != {"done"}:
        raise _unlike(answer, LIKE_DONE)
    if answer["done"] is not True:
        raise StepError(
            f"done is {answer['done']!r}", f"Carry the step out, then answer {LIKE_DONE}"
        )
    return Done()


def parse_twisted(answer: Mapping[str, Any]) -> Answer:
    """Return the answer to a step that twists ends: as asked, or which ones instead."""
    if "twisted" not in answer:
        return parse_done(answer)
    groups = answer["twisted"]
    if set(answer) - {"done", "twisted"} or answer.get("done", True) is not True:
        raise _unlike(answer, LIKE_TWISTED)
    if not (isinstance(groups, list | tuple) and all(isinstance(g, list | tuple) for g in groups)):
        raise StepError(f"twisted is {json.dumps(groups, default=str)[:80]}", LIKE_TWISTED)
    return _twisted(groups)


def _twisted(groups: Sequence[Sequence[object]]) -> Twisted:
    ends = [end for group in groups for end in group]
    told = twists_told([[str(end) for end in group] for group in groups])
    if not groups or any(len(group) < 2 for group in groups) or "" in ends:
        raise StepError(f"The twists are '{told}'", "Each takes two ends or more")
    if not all(isinstance(end, str) for end in ends) or len({*ends}) < len(ends):
        raise StepError(f"The twists are '{told}'", "Each end is named once")
    return Twisted(tuple(tuple(map(str, group)) for group in groups))


def twists_told(groups: Iterable[Iterable[str]]) -> str:
    """Return twists as people write them.

    >>> twists_told([["1", "3"], ["4", "5"]])
    '1 + 3, 4 + 5'
    """
    return ", ".join(" + ".join(group) for group in groups)


def parse_heard(answer: Mapping[str, Any]) -> Answer:
    """Return the answer to listening on an end."""
    match answer:
        case {"heard": str(heard), **more} if not more and heard in LOUDNESS:
            return Heard(heard)
    raise _unlike(answer, LIKE_HEARD)


def typed_heard(typed: str) -> Answer:
    """Return the answer that a person typed to listening on an end: a word or its first letter."""
    key = typed.strip().lower()
    for word in LOUDNESS:
        if key in (word, word[0]):
            return Heard(word)
    raise BadInputError(
        f"'{typed.strip()}' is not an answer. Type l (loud), f (faint) or n (none)."
    )


def parse_touch(answer: Mapping[str, Any], *, on_diode_range: bool) -> Answer:
    """Return the answer to a touch."""
    match answer:
        case {"closed": bool(closed), **more} if not more:
            return Sounded(closed)
        case {"skip": True, **more} if not more:
            return Skipped()
        case {"volts": volts, **more} if not more:
            return _volts(volts, on_diode_range=on_diode_range)
        case {"ohms": ohms, **more} if not more:
            return Ohms(_ohms(ohms))
    raise _unlike(answer, LIKE_TOUCH)


def parse_dead(answer: Mapping[str, Any]) -> Answer:
    """Return the answer to being told to prove dead: that it is, or what is still on it."""
    match answer:
        case {"volts": bool(volts), **more} if not more and not volts:
            pass
        case {"volts": volts, **more} if not more:
            return _volts(volts, on_diode_range=False) if volts != 0 else Done()
        case {"dead": True, **more} | {"done": True, **more} if not more:
            return Done()
    shown = json.dumps(answer, default=str)[:80]
    raise StepError(f"{PROVE_DEAD} The answer is {shown}", 'Answer {"dead":true} when it is')


def _unlike(answer: Mapping[str, Any], like: str) -> StepError:
    given = ", ".join(f"'{key}'" for key in answer) or "nothing"
    return StepError(f"The answer holds {given}", f"Write it like {like}")


def typed_done(typed: str) -> Answer:
    """Return the answer that a person typed to a step that is carried out."""
    if typed.strip().lower() not in DONE:
        raise BadInputError(
            f"'{typed.strip()}' is not an answer to this step. Type d when it is done."
        )
    return Done()


def typed_twisted(typed: str) -> Answer:
    """Return the answer that a person typed to a step that twists ends, as ``1 + 3, 4 + 5``."""
    if typed.strip().lower() in DONE:
        return Done()
    groups = [re.split(r"[+\s]+", part.strip(" +")) for part in re.split("[,;]", typed.upper())]
    if len(groups[0]) < 2:
        raise BadInputError(
            f"'{typed.strip()}' is not an answer to this step. Type d when it is done. Or type what"
            " you twisted instead: 1 + 3, 4 + 5."
        )
    return _twisted(groups)


def typed_touch(typed: str, *, on_diode_range: bool) -> Answer:
    """Return the answer that a person typed to a touch.

    That is ``c``, ``o``, ohms, volts of a diode, ``s`` for one that can't be made now, or ``live``
    or volts where a voltage is on it.

    Raises
    ------
    BadInputError
        If it is none of these, or might be one of two.
    """
    key = typed.strip().lower()
    if key in CLOSED:
        return Sounded(True)
    if key in OPEN:
        return Ohms(None)
    if key in SKIP:
        return Skipped()
    if key in LIVE or _VOLTS.fullmatch(key) or (on_diode_range and _is_voltage(typed)):
        return _volts(_typed_volts(typed), on_diode_range=on_diode_range)
    measured = parse_resistance(typed)
    return Ohms(None if measured.over_range else _ohms(measured.number))


def typed_dead(typed: str) -> Answer:
    """Return the answer that a person typed to being told to prove dead."""
    key = typed.strip().lower()
    if key in DEAD:
        return Done()
    if key in LIVE or _VOLTS.fullmatch(key):
        return parse_dead({"volts": _typed_volts(typed)})
    raise BadInputError(f"{PROVE_DEAD} Type dead when it is, not '{typed.strip()}'.")


def _typed_volts(typed: str) -> float | None:
    """Return the volts typed; `None` where no number can be read: it is still a voltage."""
    try:
        return parse_voltage(typed)
    except BadInputError:
        return None


def _is_voltage(typed: str) -> bool:
    """Return whether a reading taken on the diode range is in volts: it has a V, or no unit."""
    try:
        number = float(typed)
    except ValueError:
        return False
    if number > HIGHEST_DIODE_VOLT and math.isfinite(number):
        raise BadInputError(
            f"'{typed}' could be millivolts of the diode range, or ohms. Write {number:g}mV or"
            f" {number:g}ohm, or c for closed."
        )
    return math.isfinite(number)


def _ohms(value: object) -> float | None:
    wanted = "Give a number of ohms, or OL"
    if isinstance(value, str):
        if value.strip().upper() == OVER_RANGE:
            return None
        raise StepError(f"'{value}' is not a reading", wanted)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise StepError(f"{json.dumps(value, default=str)} is not a reading", wanted)
    if math.isnan(value) or value < 0:
        raise StepError(
            f"The reading is {value:g} ohm", "It must be 0 or above; check the meter's zero"
        )
    if value > HIGHEST_OHM:
        raise StepError(f"The reading is {value:g} ohm", "No meter shows that; answer OL")
    return float(value)


def _volts(value: object, *, on_diode_range: bool) -> Volts | Live:
    if on_diode_range and isinstance(value, str) and value.strip().upper() == OVER_RANGE:
        return Volts(None)
    if value is None:
        return Live(None)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        kind = "of the diode range" if on_diode_range else "of volts"
        raise StepError(
            f"{json.dumps(value, default=str)} is no reading {kind}",
            "Give a number of volts" + (", or OL" if on_diode_range else ""),
        )
    if abs(value) > HIGHEST_VOLT:
        raise StepError(f"The voltage is {value:g} V", "No meter shows that; read it again")
    if on_diode_range and 0 <= value <= HIGHEST_DIODE_VOLT:
        return Volts(float(value))
    if value == 0:
        raise StepError("0 V is no reading of ohms", "Set the meter to ohms and touch again")
    return Live(float(value))
