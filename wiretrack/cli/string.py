# SPDX-License-Identifier: MIT
"""``wiretrack string``: what a PV string should read, and what a wrong reading means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import cautions, facts, heading, print_json, say, table
from wiretrack.encoding import document

if TYPE_CHECKING:
    from wiretrack.tasks.test.pv_strings import StringVoltage

EXIT_WRONG = 1


@click.command("string", context_settings={"ignore_unknown_options": True})
@click.argument("circuit")
@click.option("--reading", metavar="VOLTS", help="L+ against L-, open circuit, with its sign.")
@click.option("--cell-temp", metavar="C", help="At the back of a module.")
@click.option(
    "--irradiance", metavar="W/m2", help="In the modules' plane; 400 to 1000 if left out."
)
@click.option(
    "--beside", metavar="CIRCUIT=VOLTS", multiple=True, help="A like string, read just now."
)
@click.option("--instrument", help="Code of the meter, for its accuracy.")
@json_option
@click.pass_context
def command(ctx: click.Context, /, circuit: str, as_json: bool, **asked: Any) -> None:
    """Say what the string of CIRCUIT should read, and what --reading says of its modules.

    The exit status is 1 if the reading doesn't fit the string as it is recorded.
    """
    from wiretrack.tasks.test.pv_strings import StringMeasured, string_voltage

    with opened(ctx.obj) as registry:
        found = string_voltage(registry, circuit, StringMeasured(**asked))
    if as_json:
        print_json(document(found))
    else:
        cautions(found.cautions)
        _show(found)
    ctx.exit(EXIT_WRONG if found.fits is False else 0)


def _show(found: StringVoltage) -> None:
    modules = found.modules
    heading(found.circuit, f"{modules.series} modules of {modules.voc_v:g} V in series")
    facts(
        [
            ("at STC", f"{found.stc_v:.1f} V"),
            ("expected", _expected(found)),
            ("read", None if found.reading_v is None else f"{found.reading_v:g} V"),
        ]
    )
    if found.reversed:
        say("The sign is wrong: L+ and L- are exchanged, or the leads were.", style="bold red")
    if found.explanations:
        fitting = [row for row in found.explanations if row.fits]
        say("It fits:" if fitting else "It fits nothing known here; the nearest are:")
        rows = fitting or found.explanations[:3]
        table(("", "would read"), ((row.what, f"{row.volts:.1f} V") for row in rows))
        if len(fitting) > 1:
            say("To tell them apart, read a like string at the same moment: --beside CIRCUIT=VOLTS")
    say(f"By: {found.source}", style="dim")


def _expected(found: StringVoltage) -> str | None:
    if found.expected_v is None:
        return None
    width = "" if found.uncertainty_v is None else f" ± {found.uncertainty_v:.1f} V"
    where = "" if found.cell_c is None else f" with cells at {found.cell_c:g} °C"
    return f"{found.expected_v:.1f} V{width}{where}"
