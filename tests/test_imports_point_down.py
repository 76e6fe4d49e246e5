# SPDX-License-Identifier: MIT
"""The house keeps its shape: imports point downwards, and the store alone speaks SQL."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from tests.drawing import each

PACKAGE = Path(__file__).parents[1] / "wiretrack"
LEVELS = [
    {"errors", "plain"},
    {
        *("sources", "model", "resources", "broken_json", "days", "files"),
        *("svg", "pdf", "procedure", "encoding"),
    },
    {"electrical"},
    {"readings"},
    {"store", "ringout", "labels", "exchange"},
    {"render"},
    {"tasks"},
    {"library"},
    {"web"},
    {"cli"},
]
FILES = sorted(PACKAGE.rglob("*.py"))


def level_of(room: str) -> int:
    return next(i for i, rooms in enumerate(LEVELS) if room in rooms)


def room_of(file: Path) -> str:
    first = file.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


@cache
def parsed(text: str) -> ast.Module:
    return ast.parse(text)


def imported_modules(file: Path) -> list[str]:
    found = []
    for node in ast.walk(parsed(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.append(node.module)
        elif isinstance(node, ast.ImportFrom):
            pytest.fail(f"{file} has a relative import; name the module in full")
    return found


@each(FILES)
def test_a_module_imports_only_from_its_own_room_or_from_a_lower_level(file: Path) -> None:
    room = room_of(file)
    if room in ("__init__", "__main__"):
        return
    for module in imported_modules(file):
        if not module.startswith("wiretrack."):
            continue
        other = module.split(".")[1]
        assert other == room or level_of(other) < level_of(room), f"{file} imports {module}"


@each(FILES)
def test_only_the_store_speaks_sql(file: Path) -> None:
    if room_of(file) != "store":
        heads = {module.split(".")[0] for module in imported_modules(file)}
        assert not heads & {"sqlite3", "sqlite_utils"}


def test_one_module_writes_pdf() -> None:
    writers = [file for file in FILES if "fpdf" in map(_head, imported_modules(file))]
    assert writers == [PACKAGE / "pdf.py"]


def _head(module: str) -> str:
    return module.split(".")[0]


# A statement, or a condition such as "c.tag = ?".
SQL = re.compile(
    r"\bSELECT\b.*\bFROM\b|\bINSERT (OR \w+ )?INTO\b|\bDELETE FROM\b|\bUPDATE \w+ SET\b"
    r"|\bWITH RECURSIVE\b|\b(FROM|JOIN|WHERE|ORDER BY) \w+ ?[.(=<>,]|^\s*PRAGMA\b"
    r"|[\w.]+ *(=|<>|[<>]=?|IN|LIKE|IS( NOT)?) *\(?(\?|:\w+)|\bIS (NOT )?NULL\b",
    re.DOTALL,
)


def sql_in(text: str) -> list[str]:
    """Return the strings of a program that hold SQL; docstrings aren't among them."""
    tree = parsed(text)
    prose = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node)
        if isinstance(node.body[0], ast.Expr)
    }
    strings = (
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in prose
    )
    return [string for string in strings if SQL.search(string)]


@each(FILES)
def test_only_the_store_has_sql_in_it(file: Path) -> None:
    if room_of(file) != "store":
        assert sql_in(file.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "string",
    [
        "SELECT tag FROM conductors",
        " UNION SELECT tag FROM conductors",
        "UPDATE ends SET state = NULL",
        "WITH RECURSIVE back (id) AS (",
        "c.tag = ?",
        "code IN (?, ?)",
        "retired_at IS NULL",
        " JOIN pulls AS p ON p.id = x.pull_id WHERE p.code = 'P1'",
        "WHERE c.tag = 'A'",
        "DELETE FROM ends",
        "PRAGMA wal_checkpoint(TRUNCATE)",
    ],
)
def test_sql_in_a_string_is_seen(string: str) -> None:
    assert sql_in(f"x = {string!r}") == [string]
    assert sql_in(f"x = f{string + ' {y}'!r}") != []


@pytest.mark.parametrize(
    "string",
    [
        "Select the tags from the list. What is it?",
        "Insert the lead into the terminal.",
        "Delete from here on?",
        "/find?q=1&what=conductor",
        "Which one is it in? Update it.",
        "where",
    ],
)
def test_words_for_people_are_no_sql(string: str) -> None:
    assert sql_in(f"x = {string!r}") == []


@each(FILES)
def test_no_file_grows_past_400_lines_and_no_function_past_50(file: Path) -> None:
    text = file.read_text("utf-8")
    assert text.count("\n") <= 400
    for node in ast.walk(parsed(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            documentation = len((ast.get_docstring(node) or "").split("\n"))
            assert node.end_lineno - node.lineno + 1 - documentation <= 50, node.name
