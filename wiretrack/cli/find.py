# SPDX-License-Identifier: MIT
"""``find`` and ``trace``: looking up words, and following wires from end to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import Answer, answers, looks_up
from wiretrack.cli.output import console, heading, picture, say, table, text

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.store.store import Registry


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="TEXT...")
@looks_up
def find(registry: Registry, words: tuple[str, ...]) -> Answer:
    """Look TEXT up in everything recorded; beginnings of words are enough."""
    from wiretrack.tasks.find import looking

    hits = looking.find(registry, " ".join(words))
    return Answer(hits, lambda: _show_hits(hits, " ".join(words)))


def _show_hits(hits: list[dict[str, Any]], words: str) -> None:
    from wiretrack.tasks.find.looking import FIND_LIMIT

    if hits:
        table(("what", "code", "text"), (list(hit.values()) for hit in hits))
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
    from wiretrack.tasks.find import tracing

    if svg or tree:
        from wiretrack.files import write_file
        from wiretrack.tasks.find.topology import tree_of, tree_picture
    if svg:
        write_file(svg, [tree_picture(site.registry, what)])
    found = tree_of(site.registry, what) if tree else tracing.trace(site.registry, what)

    def told() -> None:
        _show_tree(found) if tree else _show_path(found)
        if svg:
            say(f"Drawn in {svg}.")

    return Answer(found | ({"file": str(svg)} if svg else {}), told)


def _show_tree(found: dict[str, Any]) -> None:
    picture(found["lines"])
    if found["loop"]:
        say(f"There is a loop through {', '.join(found['loop'])}.", style="yellow")


def _show_path(found: dict[str, Any]) -> None:
    enclosure = None
    for item in found["path"]:
        if item["enclosure"] and item["enclosure"] != enclosure:
            enclosure = item["enclosure"]
            heading(enclosure)
        console().print(text(f"  {_line(item)}"))
    for side, stop in zip(("one end", "other end"), found["stops"], strict=False):
        say(f"{side}: {stop}.")
    for branch in found["branches"]:
        names = ", ".join([*branch["conductors"], *branch["devices"]])
        say(f"branch at {branch['enclosure']} {branch['terminal']} ({branch['reason']}): {names}")


def _line(item: dict[str, Any]) -> str:
    if "conductor" in item:
        return f"│ {item['conductor']}  {item['circuit']} {item['function']}"
    if "device" in item:
        states = {True: "closed", False: "open", None: "state unknown"}
        return f"○ {item['device']}  {item['kind'] or 'device'}, {states[item['closed']]}"
    return f"● {item['terminal']}"
