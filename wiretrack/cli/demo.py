# SPDX-License-Identifier: MIT
"""``demo`` and ``manual``: how to learn it, by an invented site and a topic at a time."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, nothing, prints
from wiretrack.cli.output import console, counted, heading, say, table, to_be_copied, write
from wiretrack.encoding import document
from wiretrack.model.circuits import written
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from wiretrack.tasks.demo import Demo


@click.command(cls=Command)
@click.argument("folder", metavar="[DIR]", type=click.Path(path_type=Path), default="demo_site")
@prints
def demo(_: Path, /, folder: Path) -> Answer:
    """Build the demo registry in DIR (demo_site) and do the whole job on it.

    A simulated meter answers; everything else is what you would do and see yourself.
    """
    from wiretrack.tasks.demo import build_demo

    done = build_demo(folder)
    result = document(done) | {"folder": str(folder), "registry": str(done.registry)}
    then = ("phone", str(done.registry))
    return Answer(result, lambda: _show_demo(done), then=then)


def _show_demo(done: Demo) -> None:
    ringout, loaded, record = done.ringout, done.loaded, done.scanned["record"]
    points = sum(done.open_points.values())
    judged = sorted(done.verdicts.items(), reverse=True)
    verdicts = ", ".join(f"{number} {word}" for word, number in judged)
    heading("Sallowmere Mill and Boatyard", "(invented)")
    say(
        f"Registered {loaded['conductors']} wires of {loaded['circuits']} circuits in"
        f" {counted(loaded['enclosures'], 'box')}, {counted(loaded['readings'], 'old reading')}.",
        f"Rang out {ringout.pull}, {ringout.near} → {ringout.far}:"
        f" {len(ringout.result.matches)} wires known after"
        f" {counted(ringout.result.walks, 'walk')}, {counted(ringout.result.probes, 'touch')}.",
        *(f"Look at {' and '.join(q.between)}: {q.reason}" for q in ringout.result.questions),
        f"Began {done.unfinished.pull} and left it half way, as happens.",
        f"Measured {sum(done.verdicts.values())} times: {verdicts}"
        f" ({', '.join(format_tag(test.stated['subject']) for test in done.failed)}).",
        f"Printed {done.sheet.labels} labels, {done.sheet.proofread} codes read back:"
        f" {done.sheet.file}",
        f"Read {done.picture.file} as a phone would: {record['tag']} is"
        f" {written(record['circuit'])} {record['function']}.",
        f"Report to print and sign: {done.report.file}. Still to do: {points} points.",
    )
    go = " && ".join((*_activation(), f"cd {shlex.quote(str(done.folder))}"))
    to_be_copied(f"Look round: {go} && wiretrack show {done.scanned['tag']}")


def _activation() -> tuple[str, ...]:
    """Return what makes `wiretrack` a command in every folder, where it isn't one yet."""
    if shutil.which("wiretrack") or sys.prefix == sys.base_prefix:
        return ()
    script = Path(sys.prefix) / ("Scripts" if os.name == "nt" else "bin") / "activate"
    here = Path.cwd()
    shown = script.relative_to(here) if script.is_relative_to(here) else script
    return (f". {shlex.quote(str(shown))}",)


@click.command(cls=Command)
@click.argument("topic", required=False)
@prints
def manual(db: object, topic: str | None) -> Answer:
    """Show a TOPIC of the manual, or which topics it has.

    The same pages are on the phone under /manual, and in a binder.
    """
    from wiretrack.manual import topic as found
    from wiretrack.manual import topics

    if topic is None:
        rows = [(each.topic, each.title) for each in topics().values()]
        told = partial(table, ("topic", "what it is about"), rows)
        return Answer([*topics().values()], told, then=("topic",))
    page = found(topic)

    def shown() -> None:
        target = console()
        if not target.is_terminal:
            click.echo(page.text, nl=False)
            return
        from rich.console import Console
        from rich.markdown import Markdown

        paper = Console(width=target.width, force_terminal=True)
        with paper.capture() as held:
            paper.print(Markdown(page.text, hyperlinks=False))
        write(held.get().splitlines())

    return Answer(page, shown, then=nothing)
