# SPDX-License-Identifier: MIT
"""A ring-out's record on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.cli.output import facts, heading, indented, say, table
from wiretrack.cli.ringout import show_findings
from wiretrack.days import moment

if TYPE_CHECKING:
    from wiretrack.ringout.results import RecordedStep, RingoutRecord


def show_record(found: RingoutRecord) -> None:
    """Write the record: facts, steps with answers, conclusions with their reasons."""
    heading(f"Ring-out of {found.pull}", f"{found.near} → {found.far}")
    facts(
        [
            ("begun", moment(found.begun)),
            ("last step", moment(found.ended, "")),
            ("instrument", found.instrument or "not stated"),
            ("references", ", ".join(found.references) or "none"),
            ("gear", "; ".join(found.gear)),
            (
                "effort",
                f"{found.walks} walks, {found.joins} joins, {found.probes} touches",
            ),
        ]
    )
    table(
        ("", "step", "answer"),
        ((s.number, s.told, _answered(s)) for s in found.steps),
    )
    for match in found.conclusions:
        say(f"{match.near} is end {match.far}", style="bold")
        indented(*match.why)
    show_findings(found)
    if found.unresolved:
        say(f"Not identified: {', '.join(found.unresolved)}", style="yellow")


def _answered(step: RecordedStep) -> str:
    times = step.superseded
    return f"{step.answer}, corrected {times}×" if times else str(step.answer)
