# SPDX-License-Identifier: MIT
"""``wiretrack demo``: an invented site, registered, rung out, tested, labelled and looked up."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, prints
from wiretrack.cli.output import counted, heading, say, to_be_copied
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
