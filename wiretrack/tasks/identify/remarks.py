# SPDX-License-Identifier: MIT
"""Remarks on a ring-out that no reading gives: what is left alone, and what its log holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.answers import Answer, Live, Skipped, twists_told
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.steps import Join

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.model.parts import End
    from wiretrack.procedure import Answered, Procedure
    from wiretrack.ringout.prompts import Names
    from wiretrack.ringout.slips import Slip
    from wiretrack.tasks.identify.settings import Settings


@dataclass(frozen=True)
class SlipFound:
    """A slip of a hand that would explain all readings, as a correction of step `number`.

    `typed` is what was twisted then, as a person types it.
    """

    number: int
    told: str
    typed: str


def of_slips(found: Iterable[Slip], answers: Sequence[Answered]) -> tuple[SlipFound, ...]:
    """Return slips with the steps that they are of, and what would be typed to correct those."""
    told = []
    for slip in found:
        for stored in answers:
            asked = parse_step(stored.step)
            step = asked.as_done(asked.parse(stored.answer))
            if isinstance(step, Join) and step.at == slip.place:
                if {*map(frozenset, step.groups)} == {*map(frozenset, slip.asked)}:
                    told.append(SlipFound(stored.number, slip.told, twists_told(slip.twisted)))
    return tuple(told)


def left_alone(settings: Settings, known: Iterable[tuple[Conductor, End]]) -> tuple[str, ...]:
    """Return which joints to leave together, and which conductors are known already."""
    chained = [
        f"{end.name} goes on to {end.box} as {end.goes_on_as}. Leave the joint between them"
        " together while you ring out."
        for end in settings.near
        if end.goes_on_as
    ]
    listed = ", ".join(
        f"{e.tag} (in {end.enclosure}: {end.terminal or end.mark})" for e, end in known
    )
    return (*chained, *((f"Skipped, landed or marked before: {listed}.",) if listed else ()))


def of_log(record: Procedure, left_out: Sequence[Answered], names: Names) -> list[str]:
    """Return the steps that don't fit, the voltages found, and the touches not made."""
    lines = [
        f"Step {one.number} ({one.step.get('step')}) does not fit the steps before it."
        " It is left out."
        for one in left_out
    ]
    touches: dict[tuple[bool, str], tuple[Answered, Answer]] = {}
    for one in record.answers:
        if one not in left_out and (step := parse_step(one.step)).is_touch:
            answer = step.parse(one.answer)
            touches[isinstance(answer, Live), step.told(names)] = one, answer
    for (_, told), (one, answer) in touches.items():
        if isinstance(answer, Live):
            lines.append(f"Step {one.number} found a voltage: {answer.said}. {told}")
        elif isinstance(answer, Skipped):
            lines.append(f"Put off and not made: {told}")
    return lines
