# SPDX-License-Identifier: MIT
"""``find``, ``trace`` and ``scan``: words, wires from end to end, and codes in pictures."""

from __future__ import annotations

from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import (
    Answer,
    answers,
    do_next,
    force_option,
    next_of,
    open_site,
    opened,
    prints,
    say_next,
)
from wiretrack.cli.output import (
    heading,
    one_screen,
    picture,
    room_on_screen,
    say,
    table,
    to_be_copied,
    with_drawing,
)
from wiretrack.cli.wording import for_shell, typed_db

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.model.path import Path as WirePath
    from wiretrack.model.wiring import Link
    from wiretrack.store.searching import Hit
    from wiretrack.tasks.find.showing import Scanned
    from wiretrack.tasks.find.sites import FoundIn, SiteLine
    from wiretrack.tasks.find.tracing import Joined
    from wiretrack.tasks.report.standing import NextStep


@click.command(cls=Command)
@click.argument("words", nargs=-1, required=True, metavar="TEXT...")
@click.option("--all", "in_all", is_flag=True, help="Look through all registries of the folder.")
@click.option("--limit", type=click.IntRange(1), metavar="N", help="So many, not just a screen.")
@prints
def find(db: Path, words: tuple[str, ...], in_all: bool, limit: int | None) -> Answer:
    """Look TEXT up in everything recorded; beginnings of words are enough."""
    sought = " ".join(words)
    if in_all:
        from wiretrack.tasks.find.sites import find_in_all

        found, unread = find_in_all(db.parent, sought)
        there = ("open-there", str(found[0].file)) if found else ("new",)
        shown = partial(_show_found, found[:limit], unread, sought)
        return Answer(found, shown, int(bool(unread)), there)
    from wiretrack.store import searching

    with opened(db) as registry:
        hits = searching.find(registry, sought)
    then = (lambda: _looked_at(hits[0])) if hits else ("find-all", sought or "TEXT")
    return Answer(hits, partial(_show_hits, hits[:limit], sought, limit), then=then)


def _looked_at(hit: Hit) -> NextStep:
    """Return how to look at a hit: what is found in a box or of a wire by what shows it."""
    return do_next("show", hit.code.partition("/")[0])


def _show_found(found: list[FoundIn], unread: list[SiteLine], words: str) -> None:
    from wiretrack.store.searching import beside

    if found:
        rows = [(hit.file, hit.what, hit.code, beside(hit.code, hit.text)) for hit in found]
        table(("file", "what", "code", "text"), rows)
    else:
        say(_NOTHING.format(words))
    _warn(unread)


def _warn(lines: list[SiteLine]) -> None:
    for line in lines:
        say(f"{line.file} {line.problem}.", style="yellow")


@click.command(cls=Command)
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@prints
def sites(_: Path, folder: Path) -> Answer:
    """List the registries of FOLDER (this one) and of the folders in it."""
    from wiretrack.tasks.find import sites as task

    found = task.sites(folder)
    status = int(any(line.problem for line in found))
    return Answer(found, lambda: _show_sites(found), status, then=lambda: _next_there(found))


def _next_there(found: list[SiteLine]) -> NextStep:
    """Return what to do next in the first registry where something is open, else in the first."""
    from wiretrack.tasks.report.standing import next_on_site

    if busy := next((line.file for line in found if line.open), None):
        return do_next("open-there", busy)
    whole = next((line.file for line in found if line.problem is None), None)
    if whole is None:
        return do_next("new")
    typed_db.set(whole)  # what comes next names it
    with open_site(Path(whole)) as site:
        return next_on_site(site.registry, ())  # nothing is open there


_NOTHING = "Nothing here has '{}'. Try fewer words, or the beginning of one."


def _show_sites(found: list[SiteLine]) -> None:
    from wiretrack.days import moment

    table(
        ("file", "site", "to do", "last change"),
        (
            (line.file, line.name or line.code or "?", line.open, moment(line.last_change, "none"))
            for line in found
            if line.problem is None
        ),
    )
    _warn([line for line in found if line.problem])


def _show_hits(hits: list[Hit], words: str, limit: int | None) -> None:
    from wiretrack.store.searching import FIND_LIMIT

    if hits:
        for_all = f"wiretrack find {for_shell(words)} --limit {FIND_LIMIT}"
        with nullcontext() if limit else one_screen(for_all, kept=3):
            table(("what", "code", "text"), ((hit.what, hit.code, hit.beside) for hit in hits))
        if len(hits) == FIND_LIMIT:
            say(f"These are the first {FIND_LIMIT}. More words find fewer.", style="dim")
    else:
        say(_NOTHING.format(words))


@click.command(cls=Command)
@click.argument("what")
@click.option("--tree", is_flag=True, help="All that is connected with it, as a tree.")
@click.option("--all", "everything", is_flag=True, help="All of the tree, not just a screen.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw that tree into a file.")
@force_option
@answers
def trace(site: OpenSite, what: str, tree: bool, everything: bool, svg: Path | None) -> Answer:
    """Follow the path from WHAT: a tag, or a terminal written ENCLOSURE/TERMINAL."""
    from wiretrack.files import write_file
    from wiretrack.tasks.find import tracing

    joined = tracing.joined_with(site.registry, what) if svg or tree else None
    path = joined.path if joined else tracing.trace(site.registry, what)
    if joined and svg:
        write_file(svg, [joined.svg()])

    def told() -> None:
        if joined and tree:
            _show_tree(joined, None if everything else f"wiretrack trace {for_shell(what)}")
        else:
            _show_path(path)
        if svg:
            say(f"Drawn in {svg}.")

    result = with_drawing(joined if tree else path, svg)
    return Answer(result, told, then=("isolate", what))


def _show_tree(joined: Joined, command: str | None) -> None:
    """Write the tree: a screen of it, and how the `command` shows all, or else all of it."""
    lines = joined.lines
    if command and len(lines) > (room := room_on_screen(kept=3)) + 1:
        picture(shown := joined.lines_within(room))
        to_be_copied(f"{len(lines) - len(shown)} more lines: {command} --tree --all", "dim")
    else:
        picture(lines)
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
        say(f"  {_line(link) if link else f'● {point.terminal}'}")
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


def show_here(db: Path) -> None:
    """Write what to do next in this folder."""
    from wiretrack.tasks.report.standing import next_on_site

    if db.exists():
        with open_site(db) as site:
            heading(site.facts.name or "", str(db))
            say_next(next_on_site(site.registry))
    else:
        from wiretrack.tasks.find.sites import registries

        say(f"There is no {db} here.")
        near = registries(db.parent)
        if len(near) == 1:
            to_be_copied(f"Go on with {near[0]}: wiretrack --db {for_shell(str(near[0]))}")
        elif near:
            to_be_copied(f"{len(near)} other registries are here: wiretrack sites")
        to_be_copied("Look round an invented site: wiretrack demo")
        say_next(do_next("new"))
    to_be_copied("All commands: wiretrack --help", "dim")


@click.command(cls=Command)
@click.argument("image", type=click.Path(path_type=Path))
@answers
def scan(site: OpenSite, image: Path) -> Answer:
    """Read the QR codes in the photograph IMAGE and show the conductors and boxes they lead to."""
    from wiretrack.tasks.find import showing

    found = showing.scan(site.registry, image)
    known = next((item.tag or item.enclosure for item in found if item.record), None)
    then = (lambda: next_of(site, known)) if known else None
    return Answer(found, lambda: _show_scanned(site, image, found), then=then)


def _show_scanned(site: OpenSite, image: Path, found: list[Scanned]) -> None:
    from wiretrack.cli.show import show_record
    from wiretrack.tasks.report.standing import standing

    for item in found:
        known = item.tag or item.enclosure
        if item.record:
            show_record(item.record, standing(site.registry, item.record.code))
        elif known:
            say(f"{known} is not in {site.registry.path}. Its label may belong to another site.")
        else:
            say(f"'{item.payload}' is no wiretrack label.")
    if not found:
        say(f"No code was found in {image}. Go closer, hold still, avoid glare; or type the tag.")
