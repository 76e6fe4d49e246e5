# SPDX-License-Identifier: MIT
"""The program's own files for the tests that look through them: each read and parsed once."""

from __future__ import annotations

import ast
import gc
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "wiretrack"
MODULES = sorted(PACKAGE.rglob("*.py"))


@cache
def text_of(file: Path) -> str:
    """Return the text of a file."""
    return file.read_text("utf-8")


@cache
def nodes(text: str) -> list[ast.AST]:
    """Return every node of a program, its module first."""
    found = list(ast.walk(ast.parse(text)))
    gc.freeze()  # they stay: nobody need look through them again and again
    return found


@cache
def strings(text: str) -> list[str]:
    """Return the strings of a program but those that stand alone, as docstrings do.

    Of an f-string each text between its blanks is one.
    """
    alone = {
        id(node.value)
        for node in nodes(text)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        node.value
        for node in nodes(text)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone
    ]
