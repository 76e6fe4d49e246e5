# SPDX-License-Identifier: MIT
"""``wiretrack trend``: a conductor's readings over the years."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import console, facts, heading, print_json, say, table, text
from wiretrack.cli.quantities import resistance
from wiretrack.days import day
from wiretrack.files import write_file
from wiretrack.readings import TRENDED


@click.command("trend")
@click.argument("tag")
@click.option("--kind", type=click.Choice(TRENDED), help="Only this.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw the first series into a file.")
@json_option
@click.pass_obj
def command(db: Path, tag: str, kind: str | None, svg: Path | None, as_json: bool) -> None:
    """Follow the readings of TAG over the years: at 20 °C, with slope, limit and outliers."""
    from wiretrack.render.trend import plot_svg
    from wiretrack.tasks.test.trending import trend

    with opened(db) as registry:
        found = trend(registry, tag, kind)
    if svg:
        write_file(svg, [plot_svg(found)])
    if as_json:
        print_json({**found, "file": str(svg)} if svg else found)
        return
    heading(found["tag"], found["circuit"], found["function"])
    for series in found["series"]:
        _show(series)
    if svg:
        say(f"Drawn in {svg}.")


def _show(series: dict[str, Any]) -> None:
    from wiretrack.render.trend import MARKS, mark_of, plot_lines

    against = f" to {series['against']}" if series["against"] else ""
    heading(f"{series['kind']}{against}", "at 20 °C")
    for line in plot_lines(series):
        console().print(text(line), no_wrap=True, overflow="ignore", crop=False)
    table(
        ("", "date", "as read", "at 20 °C", "how"),
        (
            (MARKS[mark_of(p)], day(p["at"]), p["as_read"], resistance(p["ohms"]), p["note"])
            for p in series["points"]
        ),
    )
    facts(
        [
            ("slope", series["words"]),
            ("limit", resistance(series["limit"])),
            ("meets it", series["meets_limit_on"]),
            ("earliest", series["earliest"]),
            ("by", series["source"]),
        ]
    )
