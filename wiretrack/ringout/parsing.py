# SPDX-License-Identifier: MIT
"""Steps and answers of a ring-out as the protocol writes them, checked and read."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from wiretrack.errors import StepError
from wiretrack.ringout.bundle import PLACES, Place
from wiretrack.ringout.steps import (
    OVER_RANGE,
    PROVE_DEAD,
    Done,
    Fit,
    FitDiode,
    Fitted,
    Join,
    Live,
    Ohms,
    Probe,
    ProveDead,
    Result,
    Skipped,
    Sounded,
    Unjoin,
    Volts,
    Walk,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.ringout.steps import Action, Answer, Step

HIGHEST_OHM = 1e13  # above any insulation tester's display (common practice)
HIGHEST_DIODE_VOLT = 10.0  # above any diode range's display (common practice)
HIGHEST_VOLT = 1e6  # above any meter's display (common practice)


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
    keys = set(answer)
    if isinstance(step, Probe):
        return _touch_answer(step, answer, keys)
    if isinstance(step, ProveDead):
        return _dead_answer(answer, keys)
    if keys != {"done"}:
        raise _unlike(step, answer)
    if answer["done"] is not True:
        raise StepError(
            f"done is {answer['done']!r}", 'Carry the step out, then answer {"done":true}'
        )
    return Done()


def _touch_answer(step: Probe, answer: Mapping[str, Any], keys: set[str]) -> Answer:
    if keys == {"closed"} and isinstance(answer["closed"], bool):
        return Sounded(answer["closed"])
    if keys == {"skip"} and answer["skip"] is True:
        return Skipped()
    if keys == {"volts"}:
        return _volts(answer["volts"], on_diode_range=step.plus is not None)
    if keys != {"ohms"}:
        raise _unlike(step, answer)
    return Ohms(_ohms(answer["ohms"]))


def _dead_answer(answer: Mapping[str, Any], keys: set[str]) -> Answer:
    """Return the answer to being told to prove dead: that it is, or what is still on it."""
    if keys == {"volts"} and answer["volts"] != 0:
        return _volts(answer["volts"], on_diode_range=False)
    if len(keys) == 1 and any(answer.get(key) is True for key in ("dead", "done")):
        return Done()
    if keys == {"volts"} and not isinstance(answer["volts"], bool):
        return Done()
    shown = json.dumps(answer, default=str)[:80]
    raise StepError(f"{PROVE_DEAD} The answer is {shown}", 'Answer {"dead":true} when it is')


def _unlike(step: Action, answer: Mapping[str, Any]) -> StepError:
    given = ", ".join(f"'{key}'" for key in answer) or "nothing"
    return StepError(f"The answer holds {given}", f"Write it like {_like(step)}")


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


def _volts(value: object, *, on_diode_range: bool) -> Volts | Live:
    """Return what a meter on its diode range showed, or else that a voltage is there."""
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


def _parse_unjoin(data: Mapping[str, Any]) -> Unjoin:
    return Unjoin(_place(data["at"]), tuple(_word(end) for end in data.get("ends", ())))


def _parse_prove_dead(data: Mapping[str, Any]) -> ProveDead:
    volts = data["volts"]
    return ProveDead(
        _place(data["at"]), _two_ends(data["between"]), None if volts is None else float(volts)
    )


def _two_ends(between: Sequence[object]) -> tuple[str, str]:
    if isinstance(between, str) or len(between) != 2:
        raise StepError(f"A probe is between {between!r}", "It must be between two ends")
    return _word(between[0]), _word(between[1])


def _parse_probe(data: Mapping[str, Any]) -> Probe:
    ends = _two_ends(data["between"])
    plus = data.get("plus")
    if plus is not None and plus not in ends:
        raise StepError(f"The plus lead is on {plus!r}", f"It must be on {' or '.join(ends)}")
    return Probe(_place(data["at"]), ends, plus)


_PARSERS: dict[str, Callable[[Mapping[str, Any]], Action]] = {
    "join": _parse_join,
    "unjoin": _parse_unjoin,
    "fit": _parse_fit,
    "walk": lambda data: Walk(_place(data["to"])),
    "probe": _parse_probe,
    "prove-dead": _parse_prove_dead,
}
