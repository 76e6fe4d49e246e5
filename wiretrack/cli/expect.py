# SPDX-License-Identifier: MIT
"""``wiretrack expect``: the reading to hope for, and the length that a reading means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import facts, print_json
from wiretrack.cli.quantities import length as length_text
from wiretrack.cli.quantities import resistance
from wiretrack.errors import BadInputError
from wiretrack.model.words import METALS

if TYPE_CHECKING:
    from pathlib import Path

EXIT_DISAGREES = 1


@click.command("expect")
@click.argument("tag", required=False)
@click.option("--size", help="10 AWG, 250 kcmil, 6 mm2.")
@click.option("--length", help="One way: 104 ft, 31.7 m.")
@click.option("--ohms", help="A measured resistance: asks how long the conductor is.")
@click.option("--leads", help="Leads' resistance within --ohms.")
@click.option("--temp", help="Temperature of the conductor.")
@click.option("--metal", type=click.Choice(METALS), help="Copper is taken if left out.")
@click.option("--strands", type=int, help="1 is solid; stranded is taken if left out.")
@json_option
@click.pass_context
def command(
    ctx: click.Context, /, tag: str | None, ohms: str | None, as_json: bool, **given: Any
) -> None:
    """Say what a meter should read along a conductor, or how long one is that reads --ohms.

    With --size and --length: the resistance, one way, and out and back. With --size and --ohms:
    the likely length. With TAG and --ohms: whether the conductor can lie on its recorded route.
    """
    found = _ask(ctx.obj, tag, ohms, given)
    if as_json:
        print_json(found)
    else:
        _show(found)
    ctx.exit(EXIT_DISAGREES if found.get("agrees") is False else 0)


def _ask(db: Path, tag: str | None, ohms: str | None, given: dict[str, Any]) -> dict[str, Any]:
    from wiretrack.tasks.test import expecting

    size, length, leads = given.pop("size"), given.pop("length"), given.pop("leads")
    if tag and ohms and not size and not length:
        with opened(db) as registry:
            return expecting.compare_with_route(
                registry, tag, ohms, temp=given["temp"], leads=leads
            )
    if size and length and not tag and not ohms:
        return expecting.expect(size, length, **given)
    if size and ohms and not tag and not length:
        return expecting.length_from(size, ohms, leads=leads, **given)
    raise BadInputError("Give --size and --length, or --size and --ohms, or a TAG and --ohms.")


def _show(found: dict[str, Any]) -> None:
    if "ohms" in found:
        facts(
            [
                ("one way", resistance(found["ohms"])),
                ("out and back", resistance(found["loop_ohms"])),
                ("at", f"{found['at_c']:g} °C"),
                ("source", found["source"]),
            ]
        )
        return
    likely = f"{length_text(found['low_m'])} to {length_text(found['high_m'])}"
    facts(
        [
            ("length", length_text(found["length_m"])),
            ("likely", likely),
            ("route", length_text(found.get("route_m"))),
            ("", found.get("reason")),
            ("source", found["source"]),
        ]
    )
