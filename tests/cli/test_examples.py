# SPDX-License-Identifier: MIT
"""Each example in a command's help is run on the demo's site, as a shell would."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from typing import TYPE_CHECKING

import click
import pytest

from tests.warm import command
from wiretrack.cli.command import examples
from wiretrack.cli.group import wiretrack as whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

EXAMPLES = examples()
# They go on until they are stopped, ask at a terminal, write into a home folder, take long.
NOT_RUN = ("serve", "test run", "completion", "demo")
NEEDS = {
    "same": 'wiretrack add enclosure JB1 && wiretrack add enclosure "JB1 (2)"',
    "symptom answer": "wiretrack symptom start insulation-alarm PUMP",
    "symptom status": "wiretrack symptom start insulation-alarm PUMP",
    "symptom undo": "wiretrack symptom start insulation-alarm PUMP;"
    " wiretrack symptom answer PUMP no",
    "symptom correct": "wiretrack symptom start insulation-alarm PUMP;"
    " wiretrack symptom answer PUMP no",
    "undo": "wiretrack land 0AZ-EMTB SLC --capped",
    "load": "wiretrack dump > site.json; wiretrack --db empty.db new --name Empty",
    "merge": "wiretrack backup other.db; wiretrack --db other.db land 0AZ-EMTB SLC --capped",
    "rescue": "wiretrack backup damaged.db",
}


def commands(group: click.Command, path: tuple[str, ...] = ()) -> Iterator[str]:
    if not isinstance(group, click.Group):
        yield " ".join(path)
        return
    ctx = click.Context(group)
    for name in group.list_commands(ctx):
        inner = group.get_command(ctx, name)
        assert inner is not None
        yield from commands(inner, (*path, name))


RUN = [(path, line) for path, lines in EXAMPLES.items() if path not in NOT_RUN for line in lines]


def test_each_command_has_two_examples_and_shows_them() -> None:
    known = set(commands(whole))
    assert known <= EXAMPLES.keys() <= known | {"add"}
    for path, lines in EXAMPLES.items():
        assert len(set(lines)) == 2, path
        for line in lines:
            assert line.startswith("wiretrack ")
            assert f" {path}" in line


@pytest.mark.parametrize("path", sorted(set(EXAMPLES) & set(commands(whole))))
def test_the_help_of_a_command_ends_with_its_examples(
    path: str, capsys: pytest.CaptureFixture[str]
) -> None:
    from wiretrack.cli.group import run

    assert run([*path.split(), "--help"]) == 0
    shown = capsys.readouterr().out
    for line in EXAMPLES[path]:
        assert f"  {line}\n" in shown


def test_a_help_of_several_lines_is_folded_anew(capsys: pytest.CaptureFixture[str]) -> None:
    from wiretrack.cli.group import run

    assert run(["report", "--help"]) == 0
    told = capsys.readouterr().out
    assert "With --json and no --out the report itself is" in told.replace("\n", " ")


@pytest.mark.parametrize(("path", "line"), RUN, ids=[line[:60] for _, line in RUN])
def test_an_example_works_on_the_demo(demo_db: Path, tmp_path: Path, path: str, line: str) -> None:
    if path not in set(commands(whole)):
        pytest.skip(f"there is no {path}")
    folder = shutil.copytree(demo_db.parent, tmp_path / "site")
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "wiretrack").symlink_to(command())
    env = {**os.environ, "PATH": f"{tmp_path / 'bin'}:{os.environ['PATH']}", "TZ": "UTC",
           "XDG_STATE_HOME": str(tmp_path / "state")}  # fmt: skip
    coding = "utf-8"
    if line == EXAMPLES[path][1]:  # on a narrow window, and with a code page of Windows
        coding = ("cp1252", "cp850")[len(path) % 2]
        env |= {"COLUMNS": "40", "PYTHONIOENCODING": coding}
    more = " --jsonl" if path == "ringout run" else ""  # in place of a terminal
    for shell, needed in ((NEEDS.get(path, "true"), True), (line + more, False)):
        ran = subprocess.run(["bash", "-c", shell], cwd=folder, env=env, capture_output=True,
                             encoding=coding, errors="replace", check=False,
                             stdin=subprocess.DEVNULL)  # fmt: skip
        assert not re.search(" $", ran.stdout + ran.stderr, re.M)
        if path == "ringout run" and not needed:  # nobody answers the first step
            assert ran.stdout.startswith('{"step": "'), ran.stderr
            assert "answers ended before the ring-out did" in ran.stderr
        else:
            assert needed or ran.returncode == 0, (shell, ran.stdout[-500:], ran.stderr[-500:])
            if (
                not needed
                and "--json" not in line
                and path not in ("dump", "manual", "ringout run")
            ):
                last = ran.stdout.splitlines()[-1]
                assert re.match("Next, .*: wiretrack ", last), ran.stdout[-500:]
