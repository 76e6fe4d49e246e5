# SPDX-License-Identifier: MIT
"""What a shell completes, asked of a real bash with the script that `completion` prints."""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.warm import command

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Bash = Callable[..., list[str]]

ASKED = """
source <(wiretrack completion bash)
COMP_WORDS=("$@"); COMP_CWORD=$(( $# - 1 ))
_wiretrack_completion wiretrack "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
printf '%s\n' "${COMPREPLY[@]}"
"""


@pytest.fixture
def bash(mill_db: Path, tmp_path: Path) -> Bash:
    """A bash with `wiretrack` on its path, in a folder whose registry is the mill's."""
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "wiretrack").symlink_to(command())
    env = {**os.environ, "PATH": f"{tmp_path / 'bin'}:{os.environ['PATH']}", "TZ": "UTC"}
    shutil.copy(mill_db, tmp_path / "wiretrack.db")

    def completed(*words: str, db: str = "wiretrack.db") -> list[str]:
        ran = subprocess.run(["bash", "-c", ASKED, "bash", "wiretrack", *words], cwd=tmp_path,
                             env=env | {"WIRETRACK_DB": db}, capture_output=True, text=True,
                             check=False)  # fmt: skip
        assert ran.stderr == ""
        return ran.stdout.split()

    return completed


# What is typed so far, and what is among the answers; codes and tags are the demo site's.
COMPLETED = [
    (("che",), ["check"]), (("label", "pr"), ["preview", "print"]), (("show", "0A"), ["0AZ-EMTB"]),
    (("show", "0aze"), ["0AZ-EMTB"]), (("show", "slu"), ["SLUICE"]), (("show", "MD"), ["MDP"]),
    (("isolate", "MDP/Q"), ["MDP/Q1", "MDP/Q2", "MDP/Q3", "MDP/Q4", "MDP/Q5"]),
    (("land", "0AZ-EMTB", "SL"), ["SLC"]), (("ringout", "run", "P-SL"), ["P-SLIP", "P-SLU"]),
    (("test", "log", "0AZ-EMTB", "--kind", "ins"), ["insulation"]),
    (("test", "log", "0AZ-EMTB", "--instrument", "M"), ["M1", "M2", "M3", "M4", "M5"]),
    (("set", "MDP", "ki"), ["kind="]), (("set", "MDP", "kind", "=", "pa"), ["panelboard"]),
    (("set", "MDP", "wet", "=", ""), ["true", "false"]), (("set", "site", "un"), ["units="]),
    (("set", "0AZ-EMTB", "colour", "=", "B"), ["BK", "BN", "BU"]),
    (("set", "MDP/Q4", "clo"), ["closed="]), (("completion", "f"), ["fish"]),
    (("show", "NOTHING"), []), (("set", "MDP", "xyz"), []),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "words"), COMPLETED)
def test_bash_completes_what_is_meant(bash: Bash, typed: tuple[str, ...], words: list[str]) -> None:
    found = bash(*typed)
    assert (found[: len(words)] if words else found) == words


def test_stocks_are_completed_and_retired_tags_are_not(bash: Bash) -> None:
    stocks = bash("label", "print", "SLUICE", "--stock", "flag-")
    assert "flag-90x25-300" in stocks
    assert all(name.startswith("flag-") for name in stocks)


@pytest.mark.parametrize("content", [None, b"", b"no registry", b"SQLite format 3\0 cut off"])
def test_without_a_registry_that_can_be_read_nothing_is_said(
    bash: Bash, tmp_path: Path, content: bytes | None
) -> None:
    if content is not None:
        (tmp_path / "odd.db").write_bytes(content)
    assert bash("show", "M", db="odd.db") == []
    assert (tmp_path / "odd.db").exists() == (content is not None)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_script_is_made_for_each_shell_and_one_that_is_there_reads_it(
    shell: str, tmp_path: Path
) -> None:
    ran = subprocess.run([command(), "completion", shell], capture_output=True, text=True,
                         check=True)  # fmt: skip
    assert "_WIRETRACK_COMPLETE" in ran.stdout
    if shutil.which(shell):
        (tmp_path / "script").write_text(ran.stdout)
        told = subprocess.run([shell, "-n", tmp_path / "script"], capture_output=True, check=False)
        assert (told.returncode, told.stderr) == (0, b"")
