# SPDX-License-Identifier: MIT
"""Options of the commands that change the work, and what they leave to be done."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.output import cautions, say, table
from wiretrack.days import day

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.tasks.label.truth import DueLabel, OldLabel

_MOST = 12  # tests that are listed one by one
at_option = click.option(
    "--at", "--on", "at", help="The day or time of the change; now if left out."
)
by_option = click.option("--by", help="Who changed it.")


def more_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add when and by whom the work was changed."""
    return at_option(by_option(command))


def show_left(done: dict[str, Any]) -> None:
    """Write what a change leaves: labels to print and to take off, tests owed, remarks."""
    if done.get("cautions"):
        cautions(done["cautions"])
    for note in done.get("notes", ()):
        say(f"Note: {note}", style="yellow")
    _labels(done.get("labels_due", []), done.get("take_off", []))
    _tests(done.get("tests_owed", []))


def _tests(owed: list[dict[str, Any]]) -> None:
    """Write the tests owed; of many, how many of each kind."""
    if not owed:
        return
    counts = Counter(test["kind"] for test in owed)
    kinds = ", ".join(f"{kind} {count}" for kind, count in counts.items())
    say(f"Tests owed now: {len(owed)} ({kinds})", style="bold")
    if len(owed) > _MOST:
        say("List them in working order with: wiretrack test plan CIRCUIT")
        return
    table(
        ("test", "of", "against", "at"),
        ((t["kind"], t["subject"], t["against"], t["test_voltage"] and _volts(t)) for t in owed),
    )


def _labels(due: list[DueLabel], off: list[OldLabel]) -> None:
    named = {row.take_off for row in due}
    off = [row for row in off if row.tag not in named]
    if due:
        say(f"Labels due: {len(due)}", style="bold")
        table(
            ("tag", "end", "place", "why"),
            ((row.tag, row.end, row.place, why_due(row)) for row in due),
        )
    if off:
        say("Labels to take off:", style="bold")
        table(
            ("tag", "end", "place", "printed", "put on"),
            ((row.tag, row.end, row.place, *dates(row)) for row in off),
        )


def dates(row: DueLabel | OldLabel) -> tuple[str | None, str | None]:
    """Return on which days the label of a row was printed, and put on."""
    printed, placed = (day(at, "") or None for at in (row.printed_at, row.placed_at))
    return printed, placed


def why_due(row: DueLabel) -> str:
    """Return why a label is due, and whose label is to be taken off there."""
    old = row.take_off and f"take off the one of {row.take_off}"
    return ": ".join(filter(None, (row.why, row.detail, old)))


def _volts(test: dict[str, Any]) -> str:
    return f"{test['test_voltage']:g} V"
