# SPDX-License-Identifier: MIT
"""The code keeps its structure.

Imports point downwards and never in a circle, the store alone speaks SQL, and what a function
takes and returns has a name.
"""

from __future__ import annotations

import ast
import re
from typing import TYPE_CHECKING

import pytest

from tests.code import MODULES as FILES
from tests.code import PACKAGE, nodes, strings, text_of
from tests.drawing import each

if TYPE_CHECKING:
    from pathlib import Path

LEVELS = [
    {"late"},
    {"errors", "plain", "manner"},
    {
        *("sources", "model", "days", "files"),
        *("svg", "pdf", "pictures", "procedure", "encoding", "chain", "manual", "progress"),
    },
    {"state", "processes"},
    {"electrical"},
    {"readings"},
    {"store", "ringout", "labels", "exchange"},
    {"render"},
    {"tasks"},
    {"lookup"},
    {"library"},
    {"web"},
    {"cli"},
]


def level_of(room: str) -> int:
    return next(i for i, rooms in enumerate(LEVELS) if room in rooms)


def room_of(file: Path) -> str:
    first = file.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imported_modules(file: Path) -> list[str]:
    found = []
    for node in nodes(text_of(file)):
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


def _name(file: Path) -> str:
    return ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(
        ".__init__"
    )


MODULES = {_name(file): file for file in FILES}


def _imports(file: Path) -> set[str]:
    """Return the modules that one imports, for type hints and within functions too."""
    found = set()
    for node in nodes(text_of(file)):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {name if name in MODULES else node.module for name in names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & set(MODULES)


def test_no_module_imports_itself_by_way_of_others() -> None:
    left = {module: _imports(file) for module, file in MODULES.items()}
    while ends := {module for module, used in left.items() if not used & set(left)}:
        left = {module: used for module, used in left.items() if module not in ends}
    assert left.keys() == set()


FunctionDef = ast.FunctionDef | ast.AsyncFunctionDef


def _functions(file: Path) -> list[FunctionDef]:
    return [n for n in nodes(text_of(file)) if isinstance(n, FunctionDef)]


@each(FILES)
def test_no_function_takes_more_than_six_parameters(file: Path) -> None:
    for function in _functions(file):
        given = function.args.posonlyargs + function.args.args + function.args.kwonlyargs
        count = len([one for one in given if one.arg not in ("self", "cls")])
        assert count <= 6, f"{function.name} takes {count}"


@each(FILES)
def test_no_task_and_no_ringout_returns_a_dictionary_of_anything(file: Path) -> None:
    if room_of(file) in ("tasks", "ringout"):
        for function in _functions(file):
            returned = ast.unparse(function.returns) if function.returns else ""
            assert "dict[str, Any]" not in returned, function.name


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
    return [string for string in strings(text) if SQL.search(string)]


@each(FILES)
def test_only_the_store_has_sql_in_it(file: Path) -> None:
    if room_of(file) != "store":
        assert sql_in(text_of(file)) == []


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
    text = text_of(file)
    assert text.count("\n") <= 400
    for node in nodes(text):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            documentation = len((ast.get_docstring(node) or "").split("\n"))
            assert node.end_lineno - node.lineno + 1 - documentation <= 50, node.name
