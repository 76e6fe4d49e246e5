# SPDX-License-Identifier: MIT
"""A mistyped word of any kind gets a near one; what is near nothing gets none."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from tests.warm import command
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


@pytest.fixture
def db(mill_db: Path) -> Path:
    return mill_db


FIT = ("label", "fit", "SLUICE", "--stock")
LOG = ("test", "log", "0AZ-EMTB", "1", "--kind")
REPLACE = ("replace", "0AZ-EMTB", "--size")
# What is mistyped, and what is meant; the words are those of the demo's site file.
MISTYPED = [
    ("a command", ("chekc",), "check"),
    ("a command of a group", ("label", "prnt"), "print"),
    ("a command of another group", ("ringout", "statsu"), "status"),
    ("an option", ("check", "--jsn"), "--json"),
    ("an option where a value may begin with a minus", (*LOG, "continuity", "--temperatur", "9"),
     "--temp"),
    ("a circuit", ("test", "plan", "SLUISE"), "SLUICE"),
    ("any code", ("show", "SLUISE"), "SLUICE"),
    ("a box", ("isolate", "MDPP/Q4"), "MDP/Q4"),
    ("a device", ("isolate", "MDP/Q44"), "MDP/Q4"),
    ("a terminal", ("trace", "MDP/Q4:44"), "MDP/Q4:4"),
    ("a pull", ("ringout", "status", "P-SLIPP"), "P-SLIP"),
    ("a raceway", ("check", "W11O"), "W11"),
    ("an instrument", (*LOG, "continuity", "--instrument", "M1X"), "M1"),
    ("a tag", ("show", "0AZ-EMTC"), "0AZ-EMTB"),
    ("a stock", (*FIT, "wrap-25x38"), "wrap-"),
    ("a kind of reading", (*LOG, "continuty"), "continuity"),
    ("a symptom", ("symptom", "start", "dead-circut", "SLUICE"), "dead-circuit"),
    ("a metal", (*REPLACE, "4 mm2", "--metal", "cooper"), "Cu"),
    ("a colour", (*REPLACE, "4 mm2", "--colour", "blakc"), "BK"),
    ("a size", (*REPLACE, "3 mm2"), "2.5 mm2"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "typed", "near"), MISTYPED, ids=[row[0] for row in MISTYPED])
def test_a_mistyped_word_gets_a_near_one(
    wiretrack: Wiretrack, what: str, typed: tuple[str, ...], near: str
) -> None:
    ran = wiretrack(*typed)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1), what
    assert near in ran.err.replace(typed[-1], "", 1).replace("--temperatur'", "", 1), (
        what,
        ran.err,
    )


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("label", "print", "SLUICE", "--out", "x.pdf"),
         "Missing option '--stock'. Give one of: {stocks}. What each is: wiretrack label stocks"),
        (LOG[:-1], "Missing option '--kind'. Give one of: continuity, insulation, voltage, loop."
         " See: wiretrack test log --help"),
        (("extend", "SLUICE"), "Missing option '--through'. Give one of: ARR, BAT1, BYP, "),
        (("completion",), "Missing argument 'SHELL'. Give one of: bash, zsh, fish."
         " See: wiretrack completion --help"),
        (("test", "plan"), "Missing argument 'CIRCUIT'. See: wiretrack test plan --help"),
    ],
    ids=lambda each: " ".join(each[:2]) if isinstance(each, tuple) else "",
)  # fmt: skip
def test_where_no_one_can_be_asked_what_is_missing_is_told_with_what_it_may_be(
    wiretrack: Wiretrack, typed: tuple[str, ...], told: str
) -> None:
    ran = wiretrack(*typed)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.startswith("error: " + told.format(stocks=", ".join(shipped_stocks())))
    assert len(shipped_stocks()) > 15


@pytest.mark.parametrize("typed", [("xyzzy",), ("label", "xyzzy"), (*LOG, "xyzzy")])
def test_what_is_near_nothing_is_guessed_at_by_nobody(
    wiretrack: Wiretrack, typed: tuple[str, ...]
) -> None:
    ran = wiretrack(*typed)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "Did you mean" not in ran.err


def test_a_pipe_that_is_closed_ends_in_silence(db: Path) -> None:
    for words in ("find MDP", "punchlist", "dump", "show MDP", "find MDP --json", "--help"):
        shell = f'"{command()}" --db "{db}" {words} | true; echo "${{PIPESTATUS[0]}}"'
        ran = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
        assert (ran.stdout, ran.stderr) == ("0\n", ""), words


def test_an_interrupt_is_one_line_without_a_traceback(db: Path) -> None:
    code = "from wiretrack.cli import group\nimport wiretrack.cli.find, os, signal\n"
    code += "group.LazyGroup.get_command = lambda *_: os.kill(os.getpid(), signal.SIGINT)\n"
    code += f"group.main(['--db', {str(db)!r}, 'find', 'x'])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False,
                         env={**os.environ, "TZ": "UTC"})  # fmt: skip
    assert (ran.returncode, ran.stdout) == (130, "")
    assert ran.stderr.strip().startswith("error: stopped. Nothing is half done. ")
