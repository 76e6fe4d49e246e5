# SPDX-License-Identifier: MIT
"""Lines are folded, and columns narrowed, as `rich` does it, which is the judge here."""

from __future__ import annotations

import io
import random
from typing import TYPE_CHECKING

import pytest
from rich.console import Console
from rich.table import Table
from rich.text import Text

from wiretrack.cli import output
from wiretrack.cli.terminal import Terminal, cells, folded, terminal

if TYPE_CHECKING:
    from collections.abc import Sequence

WORDS = ("a", "loop", "0.12 Ω", "insulation", "W8 → W9", "配電盤", "ébène", "x" * 30, "two  spaces")


def texts(chance: random.Random, most: int = 6) -> str:
    return " ".join(chance.choice(WORDS) for _ in range(chance.randint(1, most)))


def one_word(text: str) -> str:
    """A text in which a number and its unit are one word, as ours keeps them."""
    return text.replace("0.12 Ω", "0.12_Ω")


def by_rich(rows: Sequence[Sequence[str]], whole: Sequence[bool], width: int) -> list[str]:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    for kept in whole:
        table.add_column(overflow="fold", vertical="top", no_wrap=kept)
    for row in rows:
        table.add_row(*(Text(one_word(text)) for text in row))
    console = Console(file=(held := io.StringIO()), width=width, color_system=None)
    console.print(table)
    return [line.replace("_", " ").rstrip() for line in held.getvalue().splitlines()]


def test_columns_are_laid_out_as_rich_does() -> None:
    chance = random.Random(1911)
    for _ in range(150):
        width, count = chance.randint(30, 120), chance.randint(1, 5)
        whole = [chance.random() < 0.2 for _ in range(count)]
        rows = [
            ["tag 1" if kept else texts(chance) for kept in whole]
            for _ in range(chance.randint(1, 4))
        ]
        paper = Terminal(io.StringIO(), width, 25, is_terminal=False)
        output.columns([[(text, "") for text in row] for row in rows], whole=whole, target=paper)
        assert isinstance(paper.file, io.StringIO)
        assert paper.file.getvalue().splitlines() == by_rich(rows, whole, width), (rows, width)


def test_a_line_is_folded_as_rich_does() -> None:
    chance = random.Random(1912)
    for _ in range(300):
        text, width = texts(chance, 12), chance.randint(5, 60)
        lines = Text(one_word(text)).wrap(Console(width=width), width, overflow="fold")
        wanted = [str(line).replace("_", " ").rstrip() for line in lines]
        assert [line.rstrip() for line in folded(text, width)] == wanted
        assert "".join(folded(text, width)) == text


def test_the_width_of_a_text_is_that_of_rich() -> None:
    assert {text: cells(text) for text in WORDS} == {text: Text(text).cell_len for text in WORDS}


@pytest.mark.parametrize("env", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
@pytest.mark.parametrize("style", ["bold", "bold red", "dim", "yellow", ""])
def test_a_style_is_written_as_rich_does(
    monkeypatch: pytest.MonkeyPatch, env: dict[str, str], style: str
) -> None:
    for name in ("NO_COLOR", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in {"TERM": "xterm", "FORCE_COLOR": "1", **env}.items():
        monkeypatch.setenv(name, value)
    rich = Console(file=(held := io.StringIO()), highlight=False)
    rich.print(Text("pass", style=style), end="")
    assert terminal(io.StringIO()).styled("pass", style) == held.getvalue()
    assert terminal(io.StringIO()).is_terminal == rich.is_terminal


@pytest.mark.parametrize("env", [{"COLUMNS": "41", "LINES": "9"}, {"COLUMNS": "x"}, {}])
def test_the_size_is_that_of_rich(monkeypatch: pytest.MonkeyPatch, env: dict[str, str]) -> None:
    for name in ("COLUMNS", "LINES"):
        monkeypatch.delenv(name, raising=False)
    for name, value in env.items():
        monkeypatch.setenv(name, value)
    assert (terminal().width, terminal().height) == tuple(Console().size)
