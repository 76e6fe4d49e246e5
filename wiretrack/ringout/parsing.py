# SPDX-License-Identifier: MIT
"""Steps read back from their protocol form, as a stored log holds them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.errors import StepError
from wiretrack.ringout.bundle import PLACES, Place
from wiretrack.ringout.steps import (
    Diode,
    Fit,
    FitDiode,
    Fitted,
    Join,
    Listen,
    Probe,
    ProveDead,
    Tone,
    Unjoin,
    Walk,
)

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action

_KINDS: dict[str, Callable[[Mapping[str, Any]], Action]] = {
    "join": lambda step: Join(_place(step["at"]), tuple(map(_words, step["groups"]))),
    "unjoin": lambda step: Unjoin(_place(step["at"]), _words(step.get("ends", ()))),
    "fit": lambda step: _diode(step) if "diode" in step else _resistors(step),
    "tone": lambda step: Tone(_place(step["at"]), _word(step["end"])),
    "listen": lambda step: Listen(_place(step["at"]), _word(step["end"])),
    "walk": lambda step: Walk(_place(step["to"])),
    "probe": lambda step: _probe(step),
    "prove-dead": lambda step: ProveDead(
        _place(step["at"]),
        _two_ends(step["between"]),
        None if step["volts"] is None else float(step["volts"]),
    ),
}


def parse_step(data: Mapping[str, Any]) -> Action:
    """Return a step from its protocol form, as a stored log holds it.

    Raises
    ------
    StepError
        If it is no step that can have an answer.
    """
    word = data.get("step") if isinstance(data, Mapping) else None
    parse = _KINDS.get(word) if isinstance(word, str) else None
    if parse is None:
        raise StepError(f"{word!r} is no step", f"It must be one of {', '.join(_KINDS)}")
    try:
        box = data.get("box")
        return parse(data) if box is None else replace(parse(data), box=_word(box))
    except StepError:
        raise
    except (KeyError, TypeError, ValueError) as error:
        raise StepError(
            f"The {word} step is incomplete: {error}", "Take it from the log"
        ) from error


def _resistors(step: Mapping[str, Any]) -> Fit:
    fitted = tuple(Fitted(_word(one["end"]), float(one["ohms"])) for one in step["resistors"])
    return Fit(_place(step["at"]), fitted, _word(step["common"]))


def _diode(step: Mapping[str, Any]) -> FitDiode:
    legs = step["diode"]
    return FitDiode(_place(step["at"]), Diode(_word(legs["cathode"]), _word(legs["anode"])))


def _probe(step: Mapping[str, Any]) -> Probe:
    ends, plus = _two_ends(step["between"]), step.get("plus")
    if plus is not None and plus not in ends:
        raise StepError(f"The plus lead is on {plus!r}", f"It must be on {' or '.join(ends)}")
    return Probe(_place(step["at"]), ends, plus)


def _place(value: object) -> Place:
    for place in PLACES:
        if value == place:
            return place
    raise StepError(f"The place is {value!r}", "It must be near or far")


def _word(value: object) -> str:
    if not isinstance(value, str):
        raise StepError(f"The end is {value!r}", "An end is named by its tag or end mark")
    return value


def _words(values: Iterable[object]) -> tuple[str, ...]:
    return tuple(map(_word, values))


def _two_ends(between: Sequence[object]) -> tuple[str, str]:
    if isinstance(between, str) or len(between) != 2:
        raise StepError(f"A probe is between {between!r}", "It must be between two ends")
    return _word(between[0]), _word(between[1])
