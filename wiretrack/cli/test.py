# SPDX-License-Identifier: MIT
"""``wiretrack test``: which readings are owed, and storing one."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import OUTCOME_STYLES, cautions, print_json, say, table
from wiretrack.cli.wording import told
from wiretrack.errors import UnlikelyValueError
from wiretrack.model.words import READING_KINDS

if TYPE_CHECKING:
    from pathlib import Path

EXIT_FAILED = 1


@click.group("test")
def command() -> None:
    """Plan and log continuity, insulation and polarity tests."""


@command.command("plan")
@click.argument("circuit")
@json_option
@click.pass_obj
def plan(db: Path, circuit: str, as_json: bool) -> None:
    """List the readings that CIRCUIT still owes, in working order."""
    from wiretrack.tasks.test.testing import cautions_for, owed_tests

    with opened(db) as registry:
        steps = owed_tests(registry, circuit)
        kinds = dict.fromkeys(step["kind"] for step in steps)
        warned = dict.fromkeys(c for kind in kinds for c in cautions_for(registry, kind, circuit))
    if as_json:
        print_json(steps)
    elif not steps:
        say(f"{circuit} owes no test.")
    else:
        cautions(_last_word_last(list(warned)))
        table(
            ("", "test", "of", "against", "volts", "by"),
            (
                (n, s["kind"], s["subject"], s["against"], _volts(s), s["source"])
                for n, s in enumerate(steps, 1)
            ),
        )


@command.command("log", context_settings={"ignore_unknown_options": True})
@click.argument("subject")
@click.option("--kind", required=True, type=click.Choice(READING_KINDS), help="What was read.")
@click.argument("value")
@click.option("--leads", help="Leads' resistance, subtracted from continuity readings.")
@click.option("--temp", help="Temperature of the conductor.")
@click.option("--cell-temp", help="Cells of a PV string, at the back of a module.")
@click.option("--instrument", help="Code of the instrument.")
@click.option("--at", help="When; now if left out.")
@click.option("--against", metavar="TAG|raceway|PE", help="What it was read against.")
@click.option("--test-voltage", help="Test voltage of an insulation reading.")
@click.option("--after", help="How long the test voltage was on: 30 s, 1 min, 10 min.")
@click.option("--by", help="Who took it.")
@click.option("--note", help="Anything worth knowing.")
@click.option("--supersedes", metavar="ID", help="The wrong reading that this one replaces.")
@json_option
@click.pass_context
def log(ctx: click.Context, /, as_json: bool, **fields: Any) -> None:
    """Store a reading of SUBJECT and print its verdict.

    SUBJECT is a tag; of a kind that is read of other things, BOX/DEVICE or a circuit's code.
    VALUE takes prefixes and a unit: 0.42, 420m, 1.2k, >2000M, OL, -412V. The exit status is 1 if
    the reading fails.
    """
    from wiretrack.tasks.test.testing import ReadingText, log_reading

    who = fields["by"] or person()
    with opened(ctx.obj) as registry:
        try:
            found = log_reading(registry, ReadingText(**fields), who=who)
        except UnlikelyValueError as error:
            if as_json or not (sys.stdin.isatty() and sys.stdout.isatty()):
                raise
            fields["value"] = _ask(error)
            found = log_reading(registry, ReadingText(**fields), who=who)
    if as_json:
        print_json(found)
    else:
        cautions(found["cautions"])
        _show(found)
    ctx.exit(EXIT_FAILED if found["verdict"]["outcome"] == "fail" else 0)


def _ask(error: UnlikelyValueError) -> str:
    """Return which of the two values was meant."""
    say(told(error), style="yellow")
    return str(click.prompt("Which is it?", type=click.Choice(error.choices)))


def _show(found: dict[str, Any]) -> None:
    verdict = found["verdict"]
    say(
        f"{verdict['outcome'].upper()}: {verdict['reason']}",
        style=OUTCOME_STYLES[verdict["outcome"]],
    )
    say(f"Limit from {verdict['source']}", f"Stored as {found['id']}", style="dim")


def _volts(step: dict[str, Any]) -> str | None:
    """Return the volts to test with, or those that a voltmeter should show."""
    if step["test_voltage"]:
        return f"{step['test_voltage']:g} V"
    expected = step["expected"]
    if not expected:
        return None
    if expected["low_v"] is None:
        return "state the supply"
    return f"{expected['low_v']:.4g} to {expected['high_v']:.4g} V"


def _last_word_last(lines: list[str]) -> list[str]:
    from wiretrack.electrical.cautions import LAST_WORD

    return [*(line for line in lines if line != LAST_WORD), LAST_WORD]
