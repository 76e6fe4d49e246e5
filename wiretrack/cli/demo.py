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
from wiretrack.cli.output import counted, heading, indented, say
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
    return Answer(result, lambda: _show_demo(done))


def _show_demo(done: Demo) -> None:
    ringout, loaded = done.ringout, done.loaded
    heading("Sallowmere Mill and Boatyard", "(invented)")
    say(
        f"Registered {loaded['conductors']} conductors of {loaded['circuits']} circuits in "
        f"{loaded['enclosures']} enclosures, with {loaded['readings']} old readings.",
        f"Rang out {ringout.pull}, {ringout.near} → {ringout.far}: "
        f"{len(ringout.result.matches)} conductors known after "
        f"{counted(ringout.result.walks, 'walk')} and {ringout.result.probes} touches.",
    )
    indented(
        *(
            f"{' and '.join(question.between)}: {question.reason}"
            for question in ringout.result.questions
        ),
        style="yellow",
    )
    say(f"Began {done.unfinished.pull} too and left it half way, as happens.")
    counts = ", ".join(f"{number} {outcome}" for outcome, number in sorted(done.verdicts.items()))
    say(f"Logged {sum(done.verdicts.values())} tests: {counts}.")
    indented(
        *(
            f"{format_tag(test.stated['subject'])} {test.stated['kind']}:"
            f" {test.logged.verdict.reason}"
            for test in done.failed
        ),
        style="red",
    )
    record = done.scanned["record"]
    say(
        f"Printed {done.sheet.labels} labels; {done.sheet.proofread} codes read back by a "
        "second decoder.",
        f"Read {done.picture.file} as a phone would: {record['tag']} is "
        f"{written(record['circuit'])} {record['function']}, route {' → '.join(record['route'])}.",
    )
    points = ", ".join(f"{what} {number}" for what, number in done.open_points.items())
    say(f"Still open on the site: {points}.")
    _next_steps(done)


def _next_steps(done: Demo) -> None:
    heading("Next, type:")
    half = done.unfinished
    indented(
        *_activation(),
        f"cd {shlex.quote(str(done.folder))}",
        f"wiretrack show {done.scanned['tag']}",
        "wiretrack find sluice",
        "wiretrack show QF1-895O           # the circuit with a real fault",
        "wiretrack trace M0H-TA7K          # a string's path to the inverter",
        f"wiretrack ringout status {half.pull}",
        f"wiretrack ringout run {half.pull} --near {half.near} --far {half.far} \\",
        "    --reference raceway --far-colours RD,RD,RD,RD,RD,RD   # go on with it",
        "wiretrack punchlist",
    )
    say(f"The labels are in {done.sheet.file} and {done.picture.file}.")
    say(f"The verification report, to be printed and signed, is {done.report.file}.")


def _activation() -> tuple[str, ...]:
    """Return what makes `wiretrack` a command in every folder, where it isn't one yet."""
    if shutil.which("wiretrack") or sys.prefix == sys.base_prefix:
        return ()
    script = Path(sys.prefix) / ("Scripts" if os.name == "nt" else "bin") / "activate"
    here = Path.cwd()
    shown = script.relative_to(here) if script.is_relative_to(here) else script
    return (f". {shlex.quote(str(shown))}",)
