# SPDX-License-Identifier: MIT
"""``wiretrack symptom``: a guided search for a fault, reading by reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import cautions, heading, indented, print_json, say, table
from wiretrack.cli.wording import advice
from wiretrack.encoding import document
from wiretrack.errors import Hint
from wiretrack.model.words import SYMPTOMS

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.tasks.trouble.search import Search

OUTCOMES = click.Choice(("yes", "no", "cant", "can't"))


@click.group("symptom")
def command() -> None:
    """Search for a fault, guided reading by reading, half-way first."""


@command.command("start")
@click.argument("symptom", type=click.Choice(SYMPTOMS))
@click.argument("what")
@click.option("--at", metavar="BOX", help="The box that stands open already.")
@json_option
@click.pass_obj
def start(db: Path, symptom: str, what: str, at: str | None, as_json: bool) -> None:
    """Begin a search for the cause of SYMPTOM at WHAT: a tag, or a circuit that trips.

    Name the conductor at the load for a dead circuit, low voltage, wrong polarity or voltage.
    """
    from wiretrack.tasks.trouble import searching

    with opened(db) as registry:
        found = searching.start(registry, symptom, what, at=at, who=person())
    _give(found, as_json)


@command.command("answer")
@click.argument("what")
@click.argument("outcome", type=OUTCOMES, metavar="yes|no|cant")
@click.option("--value", help="What was read, for the log.")
@click.option("--note", help="Anything worth knowing.")
@json_option
@click.pass_obj
def answer(db: Path, /, what: str, outcome: str, as_json: bool, **given: str | None) -> None:
    """Answer the open question of WHAT's search: yes, no, or cant if it can't be read."""
    from wiretrack.tasks.trouble import searching
    from wiretrack.tasks.trouble.search import Answer

    with opened(db) as registry:
        found = searching.answer(registry, what, Answer(outcome, **given), who=person())
    _give(found, as_json)


@command.command("status")
@click.argument("what")
@json_option
@click.pass_obj
def status(db: Path, what: str, as_json: bool) -> None:
    """Show the suspects, the log and the next reading of WHAT's latest search."""
    from wiretrack.tasks.trouble import searching

    with opened(db) as registry:
        found = searching.status(registry, what)
    _give(found, as_json)


@command.command("correct")
@click.argument("what")
@click.argument("number", type=int)
@click.argument("outcome", type=OUTCOMES, metavar="yes|no|cant")
@click.option("--value", help="What was read, for the log.")
@click.option("--note", help="Why it is corrected.")
@json_option
@click.pass_obj
def correct(
    db: Path, /, what: str, number: int, outcome: str, as_json: bool, **texts: str | None
) -> None:
    """Supersede answer NUMBER of WHAT's latest search; the old one stays in the log."""
    from wiretrack.tasks.trouble import searching
    from wiretrack.tasks.trouble.search import Answer

    with opened(db) as registry:
        given = Answer(outcome, **texts)
        found = searching.correct(registry, what, number, given, who=person())
    _give(found, as_json)


@command.command("undo")
@click.argument("what")
@json_option
@click.pass_obj
def undo(db: Path, what: str, as_json: bool) -> None:
    """Take the last answer of WHAT's latest search back; its question is open again."""
    from wiretrack.tasks.trouble import searching

    with opened(db) as registry:
        found = searching.undo(registry, what, who=person())
    _give(found, as_json)


def _give(found: Search, as_json: bool) -> None:
    if as_json:
        print_json(document(found))
        return
    if found.next:
        cautions(found.cautions)
    heading(f"{found.symptom}  {found.subject}", found.title)
    for line in found.log:
        replaced = f" (corrected {line.superseded} times)" if line.superseded else ""
        value = f", {line.value}" if line.value else ""
        said = "can't" if line.outcome == "cant" else line.outcome
        say(f"{line.number}. {line.ask} {said}{value}{replaced}")
    left = sorted((s for s in found.suspects if s.left), key=lambda s: -s.likelihood)
    table(
        ("likely cause", "", "by the record"),
        ((s.name, f"{s.likelihood:.0%}", s.because) for s in left[:12]),
    )
    if len(left) > 12:
        say(f"and {len(left) - 12} more")
    for remark in found.remarks:
        say(f"Note: {remark}.", style="yellow")
    _show_end(found)


def _show_end(found: Search) -> None:
    step = found.next
    if step:
        where = f", {step.where}" if step.where else ""
        say(f"Next, in {step.box}{where}:", style="bold")
        indented(step.ask, f"yes: {step.yes}.  no: {step.no}.")
        say(f"Then: wiretrack symptom answer {found.circuit} yes|no|cant")
    elif found.found:
        say(f"Found: {found.found.name}", style="bold")
        say(f"To be sure: {found.confirm}. {advice(Hint(job=found.confirm_by or ''))}".rstrip())
    else:
        if found.contradiction:
            say(f"Contradiction: {found.contradiction}.", style="bold red")
        say("Not decided. No reading shows which of these it is:", style="bold")
        table(("left", "to decide"), ((s.name, s.decide or "") for s in found.undecided))
