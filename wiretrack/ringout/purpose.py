# SPDX-License-Identifier: MIT
"""What a step of a ring-out is for, in a sentence; of a touch made again, why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.answers import Skipped
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.steps import Join, Listen, Probe, ProveDead, Tone, Unjoin, Walk

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.stage import Stage, Touch

# What the planner is at, as a word for programs.
CONTACTS, MATCH, CHECK, AGAIN, DOUBT, VERIFY, STOP = (
    "contacts", "match", "check", "again", "doubt", "verify", "stop",
)  # fmt: skip

_CLEAN = "Clean both ends and touch again."
_WHY = {
    CONTACTS: "Looking for ends that touch each other.",
    MATCH: "Now matching: ends that read closed here are connected in {there}.",
    CHECK: "One more touch: then one wrong answer alone can't mislead.",
    AGAIN: f"The last one fits nothing. {_CLEAN}",
    VERIFY: "Checking the matches once more: these two should read closed.",
    DOUBT: f"The last one contradicts the others. {_CLEAN}",
    STOP: "You found a voltage here.",
}
_UNCLEAR = f"The last one was neither open nor closed. {_CLEAN}"
_STRANGE = f"{{ohms:g}} Ω does not fit these wires. {_CLEAN}"
_OPEN = "Open can be a bad contact. Press hard and touch again."
_PUT_OFF = "You put this one off. Can you reach it now?"
_JOIN = "Now matching: touches in {there} show what you connect here."
_VERIFY = "Checking the matches once more: connect these, then touch them in {there}."
_VERIFY_WALK = "Checking the matches once more: touches there show what you connected in {there}."
_GEAR = "Now matching: touches in {there} show what you put on here."
_TONE_ON = "Nothing else tells these apart: in {there} you hear which end carries the tone."
_TONE_WALK = "Listen there for the tone that you put on in {there}."
_TONE = "Loud, faint or none? The tone is loudest on the wire that carries it."
_WALK = "Now matching: touches there show what you connected in {there}."
_WALK_ON = "The next ends to connect are there."
_SPARE = "Looking for wires that touch the raceway."
_APART = "All of this is read. The next step needs these ends free."
_OUT = "Fewer ends in the bunch show which one touches."


def why(
    evidence: Evidence,
    aim: str,
    step: Action,
    log: Sequence[tuple[Action, Answer]],
    boxes: Mapping[str, str],
) -> str:
    """Return what the next step is for.

    `aim` is what the planner is at, `log` what was done so far, `boxes` the places' names.
    """
    told = _of_touch(evidence, aim, step, log) if isinstance(step, Probe) else None
    return (told or _of_work(evidence, aim, step)).replace(
        "{there}", boxes[other_place(step.place)]
    )


def _of_work(evidence: Evidence, aim: str, step: Action) -> str:
    match step:
        case ProveDead():
            return _WHY[STOP]
        case Unjoin():
            return _OUT if step.ends else _APART
        case Join() | Walk() if aim == CONTACTS:
            return _WHY[CONTACTS]
        case Join() if aim == VERIFY:
            return _VERIFY
        case Walk() if aim == VERIFY:
            return _VERIFY_WALK
        case Join():
            return _JOIN
        case Tone():
            return _TONE_ON
        case Listen():
            return _TONE
        case Walk():
            here = other_place(step.to)
            if isinstance(evidence.fits[here], Tone):
                return _TONE_WALK
            return _WALK if evidence.joins[here] or evidence.fits[here] else _WALK_ON
    return _GEAR


def _of_touch(
    evidence: Evidence, aim: str, step: Probe, log: Sequence[tuple[Action, Answer]]
) -> str:
    made = [answer for earlier, answer in log if earlier == step]
    if made and isinstance(made[-1], Skipped):
        return _PUT_OFF
    if evidence.fits["near"] or evidence.fits["far"]:
        return _WHY[MATCH]
    if any(end in evidence.spare for end in step.between):
        return _SPARE
    one, other = (evidence.bundle.index(step.at, end) for end in step.between)
    stage, own = evidence.stage(step.at), evidence.joins[step.at]
    if own:
        sides = {next((group for group in own if group >> e & 1), 1 << e) for e in (one, other)}
        again = any(sides == {left, right} for left, right, _ in stage.bunches)
        return _OPEN if again else _WHY[aim]
    asked = stage.asked(one, other)
    return _once_more(asked[-1], stage, aim) if asked else _WHY[aim]


def _once_more(last: Touch, stage: Stage, aim: str) -> str:
    if last.verdict == "unclear":
        return _UNCLEAR
    if last.verdict == "open":
        return _WHY[DOUBT] if stage.closed(*last.pair) else _OPEN
    if aim == AGAIN and last.ohms:
        return _STRANGE.format(ohms=last.ohms)
    return _WHY[CHECK if aim == CHECK else DOUBT]
