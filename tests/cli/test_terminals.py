# SPDX-License-Identifier: MIT
"""What a narrow terminal, another encoding and a wrong option do to the output."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.warm import command
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from tests.cli.conftest import Wiretrack


def spoken(db: Path, encoding: str, *arguments: str | bytes) -> subprocess.CompletedProcess[bytes]:
    """Run the command line on a terminal that speaks `encoding`."""
    return subprocess.run(
        [command(), "--db", str(db), *arguments],
        env={**os.environ, "PYTHONIOENCODING": encoding},
        capture_output=True,
        check=False,
    )


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_a_terminal_without_the_signs_gets_those_it_has_and_no_failure(
    db: Path, encoding: str
) -> None:
    ran = spoken(db, encoding, "show", "P1")
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert ("→" if encoding == "utf-8" else "->").encode(encoding) in ran.stdout


@pytest.mark.parametrize("encoding", ["ascii", "utf-16", "utf-8"])
def test_json_is_utf_8_on_every_terminal(db: Path, encoding: str) -> None:
    ran = spoken(db, encoding, "expect", "--size", "4 mm2", "--length", "1 m", "--json")
    assert "°C" in json.loads(ran.stdout.decode("utf-8"))["source"]


@pytest.mark.skipif(os.name == "nt", reason="file names are bytes on POSIX systems only")
def test_a_file_name_that_is_no_text_is_kept_in_json(db: Path, tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/copy\xff.db"
    ran = spoken(db, "utf-8", "backup", name, "--json")
    assert ran.returncode == 0
    assert os.fsencode(json.loads(ran.stdout)["file"]) == name


@pytest.mark.skipif(os.name == "nt", reason="arguments are bytes on POSIX systems only")
@pytest.mark.parametrize("word", ["show", "trace"])
def test_a_name_that_is_no_text_is_bad_input(db: Path, word: str) -> None:
    ran = spoken(db, "utf-8", word, b"\xff")
    assert ran.returncode == 2
    assert ran.stderr == b"error: '\\udcff' holds bytes that are no text in UTF-8. Type it again.\n"


def test_a_tag_is_whole_on_a_narrow_terminal(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert format_tag(L1) in wiretrack("show", "P1").out
    assert format_tag(L1) in wiretrack("punchlist").out


@pytest.mark.parametrize("arguments", [["nix"], ["show"], ["show", "X", "--nix"], ["land", "X"]])
def test_a_usage_error_says_where_help_is(wiretrack: Wiretrack, arguments: list[str]) -> None:
    ran = wiretrack(*arguments)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith("--help\n")
    assert ran.err.count("\n") == 1


@pytest.mark.skipif(sys.prefix == sys.base_prefix, reason="not in a virtual environment")
def test_the_demo_says_how_its_next_steps_are_found(tmp_path: Path) -> None:
    for path, told in (
        ("/usr/bin:/bin", True),
        (f"{Path(sys.executable).parent}:/usr/bin:/bin", False),
    ):
        ran = subprocess.run(
            [command(), "demo", str(tmp_path / f"site {told}")],
            env={**os.environ, "PATH": path, "COLUMNS": "500"},
            capture_output=True,
            text=True,
            check=True,
        )
        assert ("bin/activate" in ran.stdout) is told
        assert "cd '" in ran.stdout
