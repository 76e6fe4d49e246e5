# SPDX-License-Identifier: MIT
"""What is exported as a workbook or as CSV files loads again to an equal registry."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import load_workbook

from tests.random_sites import random_site
from wiretrack.cli.group import run
from wiretrack.files import shipped

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def registry(path: Path, *loaded: Path) -> Path:
    assert run(["--db", str(path), "new", "--name", "Mill"]) == 0
    for file in loaded:
        assert run(["--db", str(path), "load", str(file)]) == 0
    return path


def dumped(db: Path) -> dict[str, Any]:
    """Return all that a registry holds but its history, and the site's id, which `new` makes."""
    assert run(["--db", str(db), "dump", "--out", str(db.with_suffix(".json"))]) == 0
    found: dict[str, Any] = json.loads(db.with_suffix(".json").read_text("utf-8"))
    found["site"].pop("id", None)
    return {table: rows for table, rows in found.items() if table != "changes"}


@pytest.mark.parametrize("target", ["site.xlsx", "tables"])
@pytest.mark.parametrize("seed", [None, 1, 2])
def test_an_export_loads_to_an_equal_registry(
    tmp_path: Path, target: str, seed: int | None, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "given.json"
    text = (shipped("demo_db") / "site.json").read_text("utf-8")
    file.write_text(text if seed is None else json.dumps(random_site(seed)), "utf-8")
    one = registry(tmp_path / "one.db", file)
    assert run(["--db", str(one), "export", str(tmp_path / target)]) == 0
    other = registry(tmp_path / "other.db", tmp_path / target)
    assert dumped(other) == dumped(one)
    assert capsys.readouterr().err == ""


def test_the_example_loads_from_both_of_its_forms_and_explains_each_heading(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "start"
    assert run(["--db", str(tmp_path / "none.db"), "export", "--example", str(folder)]) == 0
    assert " load " in capsys.readouterr().out
    forms = [
        dumped(registry(tmp_path / f"{form}.db", folder / form))
        for form in ("site.xlsx", "csv", "barn.json")
    ]
    told = [
        [{key: value for key, value in row.items() if key not in ("id", "tag")} for row in rows]
        for found in forms for table, rows in found.items() if table == "conductors"
    ]  # fmt: skip
    assert told[0] == told[1] == told[2]
    tags = [{row["tag"] for row in found["conductors"]} for found in forms]
    assert not tags[0] & tags[1]
    assert len(told[0]) == 11
    book = load_workbook(folder / "site.xlsx")
    explained = {(row[0], row[1]): row[3] for row in book["fields"].iter_rows(values_only=True)}
    for sheet in set(book.sheetnames) - {"about", "fields", "words"}:
        for cell in book[sheet][1]:
            assert explained.get((sheet, cell.value)) or (sheet, cell.value) == ("site", "format")
    assert run(["--db", str(tmp_path / "none.db"), "export", "--example", str(folder)]) == 2


def test_what_is_there_is_replaced_only_by_force(wiretrack: Wiretrack, tmp_path: Path) -> None:
    for target in (tmp_path / "site.xlsx", tmp_path / "tables"):
        done = wiretrack("export", target, "--json")
        kind = "workbook" if target.suffix else "folder"
        assert done.json == {"file": str(target), "kind": kind}
        again = wiretrack("export", target)
        assert (again.status, again.err) == (
            2, f"error: {target} is there already. Give --force to replace it.\n"
        )  # fmt: skip
        assert wiretrack("export", target, "--force").status == 0


def test_a_folder_with_other_files_and_other_endings_are_refused(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "will.txt").write_text("mine")
    refused = wiretrack("export", tmp_path / "papers", "--force")
    assert refused.err == (
        f"error: {tmp_path}/papers is a folder that holds other files. Name another place.\n"
    )
    assert wiretrack("export", tmp_path / "site.csv").err == (
        f"error: '{tmp_path}/site.csv' is neither a workbook nor a folder. Name a file that ends in"
        " .xlsx, or a folder for CSV files.\n"
    )
    assert [file.name for file in (tmp_path / "papers").iterdir()] == ["will.txt"]
