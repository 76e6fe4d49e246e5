# SPDX-License-Identifier: MIT
"""What a shell completes, asked of bash, zsh and fish with the script that `completion` prints."""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

from tests.terminal import process_at_a_terminal
from tests.warm import command

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Bash = Callable[..., list[str]]
    Home = dict[str, Any]

ASKED = """
source <(wiretrack completion bash)
COMP_WORDS=("$@"); COMP_CWORD=$(( $# - 1 ))
_wiretrack_completion wiretrack "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
printf '%s\n' "${COMPREPLY[@]}"
"""


@pytest.fixture
def home(mill_db: Path, tmp_path: Path) -> Home:
    """A folder whose registry is the mill's, and an environment with `wiretrack` on its path."""
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "wiretrack").symlink_to(command())
    shutil.copy(mill_db, tmp_path / "wiretrack.db")
    env = {**os.environ, "PATH": f"{tmp_path / 'bin'}:{os.environ['PATH']}", "TZ": "UTC"}
    return {"cwd": tmp_path, "env": env | {"WIRETRACK_DB": "wiretrack.db"}}


@pytest.fixture
def bash(home: Home) -> Bash:
    """A bash there."""

    def completed(*words: str, db: str = "wiretrack.db") -> list[str]:
        env = home["env"] | {"WIRETRACK_DB": db}
        ran = subprocess.run(["bash", "-c", ASKED, "bash", "wiretrack", *words], cwd=home["cwd"],
                             env=env, capture_output=True, text=True, check=False)  # fmt: skip
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


@pytest.mark.skipif(not shutil.which("fish"), reason="there is no fish here")
@pytest.mark.parametrize(
    ("typed", "word"),
    [("wiretrack show slu", "SLUICE"), ("wiretrack set MDP ki", "kind="),
     ("wiretrack set MDP kind=pa", "kind=panelboard"), ("wiretrack label pr", "print"),
     ("wiretrack isolate MDP/Q", "MDP/Q4"), ("wiretrack show NOTHING", None)],
)  # fmt: skip
def test_fish_completes_what_is_meant(home: Home, typed: str, word: str | None) -> None:
    script = f"wiretrack completion fish | source; complete -C '{typed}'"
    ran = subprocess.run(["fish", "-N", "-c", script], capture_output=True, text=True, check=True,
                         **home)  # fmt: skip
    found = [line.split("\t")[0] for line in ran.stdout.splitlines()]
    assert (word in found) if word else found == []


@pytest.mark.skipif(not shutil.which("zsh"), reason="there is no zsh here")
def test_zsh_completes_what_is_meant(home: Home, tmp_path: Path) -> None:
    """As it is typed: zsh asks on its own line editor alone."""
    env = {**home["env"], "ZDOTDIR": str(tmp_path), "HOME": str(tmp_path)}
    (tmp_path / ".zshrc").write_text(
        "PS1='ready> '; autoload -U compinit; compinit -D -u; cd $ZDOTDIR\n"
        "source <(wiretrack completion zsh)\n"
    )
    with process_at_a_terminal(["zsh", "-i"], env) as terminal:
        for typed, word in (("show slu", "SLUICE"), ("set MDP kind=pan", "kind=panelboard"),
                            ("label print SLUICE --stock flag-90x25-let", "letter")):  # fmt: skip
            terminal.sees("ready> ")
            terminal.types(f"wiretrack {typed}\t", enter=False)
            terminal.sees(word)
            terminal.types("\x15")  # the line is cleared
        terminal.types("exit")
        terminal.ends()
