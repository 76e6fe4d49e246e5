# SPDX-License-Identifier: MIT
"""``find`` and ``trace``: looking up words, and following wires from end to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import Answer, answers, looks_up
from wiretrack.cli.output import console, heading, picture, records, say, text, with_drawing

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.model.path import Path as WirePath
    from wiretrack.model.wiring import Link
    from wiretrack.store.searching import Hit
    from wiretrack.store.store import Registry
    from wiretrack.tasks.find.tracing import Joined


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="TEXT...")
@looks_up
def find(registry: Registry, words: tuple[str, ...]) -> Answer:
    """Look TEXT up in everything recorded; beginnings of words are enough."""
    from wiretrack.store import searching

    hits = searching.find(registry, " ".join(words))
    return Answer(hits, lambda: _show_hits(hits, " ".join(words)))


def _show_hits(hits: list[Hit], words: str) -> None:
    from wiretrack.store.searching import FIND_LIMIT

    if hits:
        records(("what", "code", "text"), hits)
        if len(hits) == FIND_LIMIT:
            say(f"These are the first {FIND_LIMIT}. More words find fewer.", style="dim")
    else:
        say(f"Nothing carries '{words}'. Try fewer words, or the beginning of one.")


@click.command()
@click.argument("what")
@click.option("--tree", is_flag=True, help="All that is joined with it, as a tree.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw that tree into a file.")
@answers
def trace(site: OpenSite, what: str, tree: bool, svg: Path | None) -> Answer:
    """Follow the path from WHAT: a tag, or a terminal written ENCLOSURE/TERMINAL."""
    from wiretrack.files import write_file
    from wiretrack.tasks.find import tracing

    joined = tracing.joined_with(site.registry, what) if svg or tree else None
    path = joined.path if joined else tracing.trace(site.registry, what)
    if joined and svg:
        write_file(svg, [joined.svg()])

    def told() -> None:
        _show_tree(joined) if joined and tree else _show_path(path)
        if svg:
            say(f"Drawn in {svg}.")

    return Answer(with_drawing(joined if tree else path, svg), told)


def _show_tree(joined: Joined) -> None:
    picture(joined.lines)
    if joined.loop:
        say(f"There is a loop through {', '.join(joined.loop)}.", style="yellow")


def _show_path(path: WirePath) -> None:
    from wiretrack.model.entity import Point

    enclosure = None
    for step in path.steps:
        point, link = (step, None) if isinstance(step, Point) else (step.one, step)
        if not (link and link.what == "conductor") and point.enclosure != enclosure:
            enclosure = point.enclosure
            heading(enclosure)
        console().print(text(f"  {_line(link) if link else f'● {point.terminal}'}"))
    for side, stop in zip(("one end", "other end"), path.stops, strict=False):
        say(f"{side}: {stop}.")
    for branch in path.branches:
        names = ", ".join([*branch.conductors, *branch.devices])
        say(f"branch at {branch.point} ({branch.reason}): {names}")


def _line(step: Link) -> str:
    if step.what == "conductor":
        return f"│ {step.name}  {step.circuit} {step.function}"
    states = {True: "closed", False: "open", None: "state unknown"}
    return f"○ {step.name}  {step.kind or 'device'}, {states[step.is_closed]}"
