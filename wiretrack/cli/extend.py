# SPDX-License-Identifier: MIT
"""``wiretrack extend``: leads conductors through a box, where they are cut and landed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.changed import more_options, show_left
from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import print_json, say, table
from wiretrack.cli.quantities import length
from wiretrack.model.words import ENCLOSURE_KINDS

if TYPE_CHECKING:
    from wiretrack.tasks.change.dividing import Division


@click.command("extend")
@click.argument("what", nargs=-1, required=True)
@click.option("--through", required=True, metavar="BOX", help="The box where they are cut.")
@click.option(
    "--new-box", metavar="KIND", help=f"BOX is new, and of this kind: {', '.join(ENCLOSURE_KINDS)}."
)
@click.option("--raceway", metavar="OLD", help="The raceway that BOX divides in two.")
@click.option("--into", metavar="CODE,CODE", help="Its two pieces' codes, from its start on.")
@click.option("--raceway-lengths", metavar="M,M", help="Their lengths; ? where one is unknown.")
@click.option("--bends", metavar="DEG,DEG", help="Their bends in degrees; ? where unknown.")
@click.option("--terminals", metavar="LIST", help="One for each conductor: TB1:1-4, or TB1:1,PE:2.")
@click.option("--land", multiple=True, metavar="TAG=TERMINAL[,TERMINAL]",
              help="Where one conductor's ends go; near piece first if they part.")  # fmt: skip
@click.option("--capped", is_flag=True, help="Cap all other ends in BOX.")
@click.option("--loose", is_flag=True, help="Leave all other ends in BOX loose.")
@click.option("--lengths", multiple=True, metavar="[TAG=]NEAR,FAR",
              help="Lengths of the conductors' pieces; ? where one is unknown.")  # fmt: skip
@more_options
@json_option
@click.pass_context
def command(
    ctx: click.Context, /, what: tuple[str, ...], through: str, new_box: str | None,
    as_json: bool, at: str | None, by: str | None, **said: Any,
) -> None:  # fmt: skip
    """Cut the conductors of WHAT (tags, circuits) in BOX and land the pieces there.

    Each becomes two conductors with tags of their own: the near piece at its "from" end, the far
    piece at the other. What was read before the cut stays with the old tag. BOX is on the way
    already, or is put into a raceway with --raceway and --into.
    """
    from wiretrack.tasks.change.cut_ends import CutEnds
    from wiretrack.tasks.change.extending import Extension, extend

    division = _division(said)
    others = one_of(capped=said["capped"], loose=said["loose"])
    stated = {name: said[name] for name in ("terminals", "land", "lengths")}
    ends = CutEnds(**stated, others=others)
    wanted = Extension(
        what=what, through=through, new_box=new_box, division=division, ends=ends, at=at
    )
    with opened(ctx.obj) as registry:
        done = extend(registry, wanted, who=by or person())
    if as_json:
        print_json(done)
    else:
        _show(done)


def _division(said: dict[str, Any]) -> Division | None:
    from wiretrack.tasks.change.dividing import Division

    raceway, into = said["raceway"], said["into"]
    if (raceway is None) != (into is None):
        raise click.UsageError("--raceway and --into go together. Give both, or neither.")
    if raceway is None:
        if said["raceway_lengths"] or said["bends"]:
            raise click.UsageError("--raceway-lengths and --bends go with --raceway and --into.")
        return None
    return Division(
        raceway=raceway, into=into, lengths=said["raceway_lengths"], bends=said["bends"]
    )


def _show(done: dict[str, Any]) -> None:
    divided = done["raceway"]
    if divided:
        for piece in divided["into"]:
            known = length(piece["length_m"]) or "length unknown"
            say(f"raceway {piece['code']}: {piece['from']} → {piece['to']}, {known}")
        say(f"{divided['divided']} is divided; pulls through it: "
            f"{', '.join(divided['pulls']) or 'none'}.")  # fmt: skip
    table(
        ("of", "tag", "from", "to", "length"),
        (
            (
                row["tag"],
                row[side]["tag"],
                row[side]["from"],
                row[side]["to"],
                length(row[side]["length_m"]),
            )
            for row in done["cut"]
            for side in ("near", "far")
        ),
    )
    for row in done["untouched"]:
        say(f"{row['tag']} is not cut: it {row['why']}.")
    show_left(done)
