# SPDX-License-Identifier: MIT
"""The house keeps its shape: imports point downwards, and the store alone speaks SQL."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "wiretrack"
LEVELS = [
    {"errors", "plain"},
    {"sources", "model", "resources", "broken_json", "days", "files", "svg"},
    {"electrical"},
    {"store", "ringout", "labels", "exchange", "topology"},
    {"render"},
    {"tasks"},
    {"web"},
    {"cli"},
]
FILES = sorted(PACKAGE.rglob("*.py"))


def level_of(room: str) -> int:
    return next(i for i, rooms in enumerate(LEVELS) if room in rooms)


def room_of(file: Path) -> str:
    first = file.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imported_modules(file: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.append(node.module)
        elif isinstance(node, ast.ImportFrom):
            pytest.fail(f"{file} has a relative import; name the module in full")
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_a_module_imports_only_from_its_own_room_or_from_a_lower_level(file: Path) -> None:
    room = room_of(file)
    if room in ("__init__", "__main__"):
        return
    for module in imported_modules(file):
        if not module.startswith("wiretrack."):
            continue
        other = module.split(".")[1]
        assert other == room or level_of(other) < level_of(room), f"{file} imports {module}"


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_only_the_store_speaks_sql(file: Path) -> None:
    if room_of(file) != "store":
        heads = {module.split(".")[0] for module in imported_modules(file)}
        assert not heads & {"sqlite3", "sqlite_utils"}


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_no_file_grows_past_400_lines_and_no_function_past_50(file: Path) -> None:
    text = file.read_text("utf-8")
    assert text.count("\n") <= 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            documentation = len((ast.get_docstring(node) or "").split("\n"))
            assert node.end_lineno - node.lineno + 1 - documentation <= 50, node.name
