# SPDX-License-Identifier: MIT
"""The one-page record of a ring-out: joins, readings, conclusions, instrument and date."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from wiretrack.ringout.steps import (
    Done,
    Fit,
    FitDiode,
    Join,
    Live,
    Probe,
    ProveDead,
    Skipped,
    Sounded,
    Unjoin,
    Volts,
    Walk,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.ringout.engine import Ringout
    from wiretrack.ringout.steps import Answer

WIDTH = 78


def record(ringing: Ringout, heading: Mapping[str, str]) -> str:
    """Return the record as text of at most 78 columns.

    `heading` holds what the ring-out itself doesn't know, in the order to be shown: pull, boxes,
    instrument, date, who.
    """
    lines = ["RING-OUT RECORD", ""]
    label = max((len(name) for name in heading), default=0)
    lines += [f"{name + ':':<{label + 1}} {value}" for name, value in heading.items()]
    lines += ["", "What was done"]
    for line in _doings(ringing):
        lines += _wrapped(line, "  ")
    lines += ["", "What follows"]
    for line in _conclusions(ringing):
        lines += _wrapped(line, "  ")
    return "\n".join(lines) + "\n"


def _wrapped(line: str, indent: str) -> list[str]:
    return textwrap.wrap(line, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")


def _doings(ringing: Ringout) -> Iterator[str]:
    """Yield a line for each join or walk, and one for the touches in between."""
    yield f"Start at the {ringing.bundle.start} place."
    touches: list[str] = []
    for step, answer in ringing.log:
        if isinstance(step, Probe):
            touches.append(f"{_touched(step)} {_shown(answer)}")
            continue
        if touches:
            yield f"Touch (ohm): {', '.join(touches)}."
            touches = []
        if isinstance(step, Join):
            groups = "; ".join(" + ".join(group) for group in step.groups)
            yield f"Join at the {step.at} place: {groups}."
        elif isinstance(step, Fit):
            fitted = ", ".join(f"{one.ohms:g} ohm on {one.end}" for one in step.resistors)
            yield f"Fit at the {step.at} place, common {step.common}: {fitted}."
        elif isinstance(step, FitDiode):
            yield f"Fit a diode at the {step.at} place, band on {step.cathode}, over {step.anode}."
        elif isinstance(step, Unjoin):
            what = " and ".join(step.ends) + " out of their joins" if step.ends else "the joins off"
            yield f"Take {what} at the {step.at} place."
        elif isinstance(step, ProveDead):
            yield f"Voltage between {' and '.join(step.between)}, then proven dead."
        elif isinstance(step, Walk):
            yield f"Walk to the {step.to} place."
    if touches:
        yield f"Touch (ohm): {', '.join(touches)}."


def _touched(step: Probe) -> str:
    one, two = step.between
    if step.plus is None:
        return f"{one}-{two}"
    return f"plus {step.plus} minus {two if step.plus == one else one}"


def _shown(answer: Answer) -> str:
    if isinstance(answer, Sounded):
        return "closed" if answer.closed else "open"
    if isinstance(answer, Volts):
        return "OL" if answer.volts is None else f"{answer.volts:g} V"
    if isinstance(answer, Done):
        return "?"
    if isinstance(answer, Skipped):
        return "not made"
    if isinstance(answer, Live):
        return "live"
    return "OL" if answer.ohms is None else f"{answer.ohms:g}"


def _conclusions(ringing: Ringout) -> Iterator[str]:
    result = ringing.result()
    matches = ", ".join(f"{match.near} = {match.far}" for match in result.matches)
    yield f"Identified ({len(result.matches)}): {matches or 'none'}."
    for why in dict.fromkeys(match.why for match in result.matches if not match.sure):
        unsure = ", ".join(m.near for m in result.matches if m.why == why and not m.sure)
        yield f"Not sure: {unsure}. {why}"
    if result.by_exclusion:
        yield f"By exclusion, never read closed: {', '.join(result.by_exclusion)}."
    for fault in result.faults:
        yield f"{fault.kind.capitalize()}: {', '.join(fault.ends)}. {fault.evidence}."
    if result.unresolved:
        yield f"Not identified: {', '.join(result.unresolved)}."
    for question in result.questions:
        shown = "OL" if question.ohms is None else f"{question.ohms:g} ohm"
        yield f"In question: {' to '.join(question.between)} read {shown}: {question.reason}."
    yield from result.notes
    yield (
        f"{result.walks} walks, {result.joins} joins, {result.probes} touches,"
        f" {result.screening_probes} of them only against contacts."
    )
