# SPDX-License-Identifier: MIT
"""``wiretrack fault``: where along the route a measured fault lies."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import cautions, facts, heading, print_json, say, table
from wiretrack.cli.quantities import resistance
from wiretrack.encoding import document
from wiretrack.files import write_file

if TYPE_CHECKING:
    from wiretrack.tasks.trouble.locating import BadJoint, LocatedFault


@click.command("fault")
@click.argument("tags", metavar="WHAT...", nargs=-1, required=True)
@click.option("--against", metavar="TAG|raceway", multiple=True, help="What it is in contact with.")
@click.option("--at", metavar="BOX", help="The near end, where you measured; else the first end.")
@click.option("--near", metavar="OHMS", help="Read at the near end, far end open (nF for a break).")
@click.option("--far", metavar="OHMS", help="Read at the far end, near end open (nF for a break).")
@click.option("--near-joined", metavar="OHMS", help="Read at the near end, far ends joined.")
@click.option("--murray", metavar="P:Q", help="Murray loop: arm on the good, on the faulty one.")
@click.option("--varley", metavar="P:Q", help="Varley loop: arm on the good one, on the set ohms.")
@click.option("--set", "set_ohms", metavar="OHMS", help="Varley: ohms set at balance.")
@click.option("--good", metavar="TAG", multiple=True, help="The good conductor of the loop.")
@click.option("--loop", metavar="OHMS", help="The loop's measured resistance; else by the record.")
@click.option("--fault-ohms", metavar="OHMS", help="The fault's own resistance, if known.")
@click.option("--raceway-ohms", metavar="OHMS", help="The raceway from end to end, measured.")
@click.option("--along", metavar="OHMS", help="Read end to end: asks for a bad joint.")
@click.option("--like", metavar="TAG=OHMS", multiple=True, help="A like conductor beside it.")
@click.option("--leads", metavar="OHMS", help="Leads' resistance within the readings.")
@click.option("--temp", "temps", metavar="C|RACEWAY=C", multiple=True, help="Of the conductors.")
@click.option("--instrument", help="Code of the meter, for its accuracy.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw the route with the place.")
@json_option
@click.pass_obj
def command(db: Path, /, svg: Path | None, as_json: bool, **asked: Any) -> None:
    """Say where along its route the fault of WHAT (a tag, or tags in series) lies.

    A short or an earth fault: --near and --far, or --near and --near-joined, with --against; or
    --murray or --varley with --good. A bad joint: --along. A break: --near and --far in nF.
    """
    from wiretrack.tasks.trouble.locating import find_fault
    from wiretrack.tasks.trouble.measured import FaultReadings

    with opened(db) as registry:
        found = find_fault(registry, FaultReadings(**asked))
    if svg:
        write_file(svg, [found.svg()])
    if as_json:
        print_json(document(found) | ({"file": str(svg)} if svg else {}))
        return
    cautions(found.cautions)
    if found.distance_m is None:
        _show_excess(found)
    else:
        _show_place(found)
    for remark in found.remarks:
        say(f"Note: {remark}.", style="yellow")
    say(f"By: {found.source}", style="dim")
    if svg:
        say(f"Drawn in {svg}.")


def _show_place(found: LocatedFault) -> None:
    heading(found.kind, f"{_about(found.distance_m)} from {found.from_}")
    one, other = found.between
    raceway = found.raceway or "an unnamed stretch"
    where = f", {found.open_first_where}" if found.open_first_where else ""
    facts(
        [
            ("within", f"{_about(found.low_m)} to {_about(found.high_m)}"),
            ("there", f"{raceway}, {_about(found.in_raceway_m)} from {one} towards {other}"),
            ("open first", f"{found.open_first}{where}"),
            ("may reach", ", ".join(found.reach) if len(found.reach) > 1 else None),
            ("fault has", resistance(found.fault_ohms)),
        ]
    )


def _show_excess(found: BadJoint) -> None:
    heading(found.kind, f"{found.from_} → {found.to}")
    facts(
        [
            ("too much", resistance(found.excess_ohms)),
            ("within", f"± {resistance(found.excess_uncertainty_ohms)}"),
            ("should be", resistance(found.expected_ohms)),
            ("", found.advice),
            ("heat", None if found.heat_w is None else f"{found.heat_w:.3g} W at full load"),
        ]
    )
    table(("look at", "terminal"), ((j.enclosure, j.terminal) for j in found.joints))


def _about(length_m: float) -> str:
    """Return a place on a route as exactly as one can measure it."""
    return f"{length_m:.1f} m ({length_m / 0.3048:.0f} ft)"
