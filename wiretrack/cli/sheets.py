# SPDX-License-Identifier: MIT
"""``export``; options of `load` for sheets with headings of their own, and asking about these."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.asking import ask, can_ask, confirm
from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, opened, prints, together
from wiretrack.cli.output import say, table

if TYPE_CHECKING:
    from wiretrack.exchange.headings import Match
    from wiretrack.exchange.layout import Proposal, SheetRules

LEFT_OUT = "-"


def _rules(maps: tuple[str, ...], of_table: str, box: str) -> SheetRules:
    from wiretrack.exchange.layout import SheetRules

    said = {}
    for each in maps:
        heading, sign, field = each.rpartition("=")
        if not sign or not heading.strip():
            raise click.UsageError(f"'{each}' is no HEADING=FIELD. Write one like Load=title.")
        said[heading.strip()] = field.strip()
    return SheetRules(said, of_table, box, settle if can_ask() else None)


def as_said(rules: SheetRules) -> tuple[str, ...]:
    """Return the options that say what these rules say."""
    said = [("--map", f"{heading}={field}") for heading, field in rules.maps.items()]
    said += [("--table", rules.table)] if rules.table else []
    said += [("--in", rules.box)] if rules.box else []
    return tuple(part for pair in said for part in pair)


sheet_options = together(
    "rules",
    _rules,
    click.option(
        "--map", "maps", multiple=True, metavar="HEADING=FIELD",
        help="What a heading of a sheet means; HEADING= leaves its column out.",
    ),
    click.option("--table", "of_table", default="", help="The table that a sheet is."),
    click.option("--in", "box", default="", metavar="BOX", help="The panel of a panel schedule."),
)  # fmt: skip


def settle(proposal: Proposal) -> tuple[dict[str, str], str]:
    """Show what headings may mean and ask whether they do; return what each is, and the panel."""
    say(f"The headings of {proposal.sheet} are in row {proposal.row}. They may mean:")
    table(("heading", "for example", "field"), [
        (match.heading, ", ".join(match.examples), match.field or "left out")
        for match in proposal.matches
    ])  # fmt: skip
    box = proposal.box
    found = {match.heading: match.field or "" for match in proposal.matches}
    if not confirm("Read it so"):
        say(f"Type a field for each heading, {LEFT_OUT} to leave it out.")
        found = {match.heading: _asked(match) for match in proposal.matches}
    if proposal.needs_box or box:
        box = ask("Which panel are the breakers in", default=box or None)
    return found, box


def _asked(match: Match) -> str:
    from wiretrack.exchange.headings import known_fields, parse_field

    def _parse(text: str) -> str:
        if text != LEFT_OUT:
            parse_field(text)
        return text

    field = ask(match.heading, _parse, match.field or LEFT_OUT, known_fields())
    return "" if field == LEFT_OUT else field


@click.command(cls=Command)
@click.argument("target", metavar="FILE.xlsx|DIR", type=click.Path(path_type=Path))
@click.option("--example", is_flag=True, help="A small invented site to start from, into DIR.")
@click.option("--force", is_flag=True, help="Replace what is there.")
@prints
def export(db: Path, target: Path, *, example: bool, force: bool) -> Answer:
    """Write all tables as people read them: a workbook, or a folder of CSV files.

    The workbook has a sheet a table, with lists of the allowed words. It loads again.
    The history is not in it: a dump has that.
    """
    from wiretrack.tasks.describe.sheets import export_site, write_example

    if example:
        made = write_example(target)
        then = ("filled", str(target / "site.xlsx"))
        return Answer(made, lambda: say(f"Wrote {target}."), then=then)
    with opened(db) as registry:
        done = export_site(registry, target, force=force)
    then = ("corrected", str(target))
    return Answer(done, lambda: say(f"Wrote {target}."), then=then)
