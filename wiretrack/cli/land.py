# SPDX-License-Identifier: MIT
"""``wiretrack land``: lands an end on a terminal, caps it, or sets it loose."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import print_json, say
from wiretrack.errors import AskedError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.tasks.describe.landing import Sure


@click.command("land")
@click.argument("tag")
@click.argument("enclosure")
@click.option("--terminal", help="The terminal that the end is landed on.")
@click.option("--capped", is_flag=True, help="The end is capped as a spare.")
@click.option("--loose", is_flag=True, help="The end hangs loose.")
@click.option("--new-terminal", is_flag=True, help="The terminal isn't in the record yet: add it.")
@click.option("--anyway", is_flag=True, help="It is so, whatever else is on that terminal.")
@click.option("--take-back", is_flag=True, help="Put the end back to what it was before.")
@json_option
@click.pass_obj
def command(
    db: Path, tag: str, enclosure: str, terminal: str | None, capped: bool, loose: bool,
    new_terminal: bool, anyway: bool, take_back: bool, as_json: bool,
) -> None:  # fmt: skip
    """Land the end of conductor TAG in ENCLOSURE on a terminal, cap it, or set it loose."""
    from wiretrack.tasks.describe import landing

    state = one_of(capped=capped, loose=loose)
    if take_back and (state or terminal):
        raise click.UsageError("--take-back says what the end becomes. Leave the others out.")
    sure = landing.Sure(new_terminal=new_terminal, anyway=anyway)

    def landed(sure: landing.Sure) -> dict[str, Any]:
        if take_back:
            return landing.take_back(registry, tag, enclosure, who=person(), sure=sure)
        return landing.land(
            registry, tag, enclosure, terminal=terminal, state=state, who=person(), sure=sure
        )

    with opened(db) as registry:
        now = confirmed(landed, sure, quiet=as_json)
    if as_json:
        print_json(now)
    else:
        place = f"on {now['terminal']}" if now["terminal"] else "no terminal"
        say(f"{now['tag']} in {now['enclosure']}: {now['state'] or 'not known'}, {place}.")
        if now["new_terminal"]:
            say(f"Note: the record had no terminal {now['terminal']} in {now['enclosure']}.")


def confirmed(work: Callable[[Sure], dict[str, Any]], sure: Sure, *, quiet: bool) -> dict[str, Any]:
    """Do the work; at a terminal, ask about what is unusual and go on if it is so."""
    while True:
        try:
            return work(sure)
        except AskedError as error:
            if quiet or not sys.stdin.isatty():
                raise
            if not click.confirm(f"{error.what} Is it so?", err=True):
                raise click.Abort from None
            sure = replace(sure, **{error.sure: True})
