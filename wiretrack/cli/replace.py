# SPDX-License-Identifier: MIT
"""``wiretrack replace``: a new conductor in the place of an old one."""

from __future__ import annotations

from typing import Any

import click

from wiretrack.cli.changed import more_options, show_left
from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import facts, print_json, say
from wiretrack.model.words import METALS


@click.command("replace")
@click.argument("tag")
@click.option("--same", is_flag=True, help="Size, metal, insulation, strands and colour as before.")
@click.option("--abandoned", is_flag=True, help="The old one stays in its raceway.")
@click.option("--size", help="Size of the new one, like 4 mm2 or 10 AWG.")
@click.option("--metal", type=click.Choice(METALS), help="Its metal.")
@click.option("--insulation", help="Its insulation type.")
@click.option("--strands", type=int, help="How many strands it has.")
@click.option("--colour", help="Its colour.")
@click.option("--core", help="Its core, if it lies in a cable.")
@click.option("--outer-diameter", help="Over its insulation, like 4.2 mm.")
@click.option("--length", help="Its length, measured; the old one's is never taken over.")
@click.option("--note", help="Anything worth knowing.")
@more_options
@json_option
@click.pass_context
def command(ctx: click.Context, /, as_json: bool, by: str | None, **fields: Any) -> None:
    """Put a new conductor in the place of TAG: same terminals, same route, a tag of its own.

    The old one is drawn out, unless it is --abandoned. What isn't stated of the new one is
    unknown, unless it is the --same. No reading is taken over.
    """
    from wiretrack.tasks.change.replacing import Replacement, replace_conductor

    with opened(ctx.obj) as registry:
        done = replace_conductor(registry, Replacement(**fields), who=by or person())
    if as_json:
        print_json(done)
    else:
        _show(done)


def _show(done: dict[str, Any]) -> None:
    old = "stays in its raceway, abandoned" if done["old"] == "abandoned" else "is drawn out"
    say(f"{done['tag']} is in the place of {done['follows']}, which {old}.", style="bold")
    facts(
        [
            ("circuit", f"{done['circuit']} {done['function']}"),
            ("from", done["from"]),
            ("to", done["to"]),
            ("as the old one", _words(done["taken_over"])),
            ("not known", _words(done["unknown"])),
        ]
    )
    show_left(done)


def _words(names: list[str]) -> str:
    plain = (name.removesuffix("_mm").removesuffix("_m") for name in names)
    return ", ".join(name.replace("_", " ") for name in plain)
