# SPDX-License-Identifier: MIT
"""The record as sheets that people read and fill: a workbook, or a folder of CSV files."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, FileWriteError, Hint, UnusableError
from wiretrack.files import new_folder, replacing, shipped, write_file
from wiretrack.late import dataclass
from wiretrack.model.tags import NO_TAG
from wiretrack.plain import safe
from wiretrack.store.dumping import Dump

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.exchange.layout import SheetRules
    from wiretrack.store.store import Registry

# The history stays where it can be proved; a dump has it.
LEFT_OUT = ("changes",)
_OTHER_FILES = (
    ".csv", ".doc", ".docx", ".json", ".ods", ".pdf", ".tsv", ".txt", ".xls", ".xlsm", ".zip",
)  # fmt: skip
ABOUT = (
    "The record of {name}, a sheet a table, a row a record.",
    "The sheet 'fields' explains every heading. Allowed words are offered as lists.",
    "Leave a cell empty where something isn't known. Never fill in a guess.",
    "Keep the headings of the first row. Columns may be moved or left out.",
    "Keep the ids: they say which record a row is. A new row needs none.",
    "wiretrack loads this workbook again, all of it or nothing.",
)


@dataclass(frozen=True)
class Exported:
    """What was written: the workbook or the folder."""

    file: str
    kind: str


def export_site(registry: Registry, target: Path, *, force: bool = False) -> Exported:
    """Write all tables but the history as a workbook (.xlsx), or as a new folder of CSV files."""
    from wiretrack.exchange.workbook_out import write_workbook
    from wiretrack.exchange.write import write_csv

    is_book = _is_book(target)
    _check_free(target, force=force, is_book=is_book)
    with registry.unchanging(), replacing(force):
        dump = Dump(registry)
        if is_book:
            about = [line.format(name=dump.site.name or "a site") for line in ABOUT]
            write_workbook(dump, target, about, but=LEFT_OUT)
        else:
            write_csv(dump, target, but=LEFT_OUT, replace=force)
    return Exported(str(target), "workbook" if is_book else "folder")


MAP_FORMAT = "wiretrack-map/1"


def map_file(sheet: Path) -> Path:
    """Return the file beside a sheet that remembers what its headings mean."""
    return sheet.with_name(f"{sheet.name}.map.json")


def with_remembered(sheet: Path, rules: SheetRules) -> SheetRules:
    """Return the rules with what was remembered of a sheet, where they don't say otherwise."""
    file = map_file(sheet)
    if sheet.is_dir() or not file.is_file():
        return rules
    try:
        said = json.loads(file.read_text("utf-8"))
        maps = {**said["headings"]}
        table, box = (str(said.get(key, "")) for key in ("table", "panel"))
        if said["format"] != MAP_FORMAT or not all(isinstance(v, str) for v in maps.values()):
            raise ValueError
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        what = f"{safe(str(file))} is no file that remembers headings."
        raise BadInputError(what, "Delete it and say again what they mean.") from error
    return replace(
        rules, maps=maps | dict(rules.maps), table=rules.table or table, box=rules.box or box
    )


def remember(sheet: Path, rules: SheetRules) -> list[str]:
    """Keep beside a sheet what its headings mean, and say so; where that can't be written, too."""
    file = map_file(sheet)
    if not (rules.used or rules.table):
        return []
    said: dict[str, object] = {"format": MAP_FORMAT, "headings": rules.used}
    said |= {key: what for key, what in (("table", rules.table), ("panel", rules.box)) if what}
    try:
        text = json.dumps(said, ensure_ascii=False, indent=2) + "\n"
        if file.is_file() and file.read_text("utf-8") == text:
            return []
        write_file(file, [text])
    except (FileWriteError, OSError, ValueError) as error:
        return [f"What its headings mean can't be remembered: {error}"]
    return [f"What its headings mean is remembered in {safe(file.name)}."]


_BARN = "barn.json"
_OF_THE_EXAMPLE = (
    "An invented barn: change its rows into yours and delete the others.",
    "Begin with enclosures, circuits and conductors. The other sheets may stay empty.",
    "The folder of CSV files beside it says the same.",
)


def write_example(folder: Path) -> Exported:
    """Write a small invented site to start from, into a new folder.

    It is a site file, and without its tags a workbook and CSV files. `FileWriteError` if the folder
    holds something already, or can't be written.
    """
    from wiretrack.exchange.read import read_site
    from wiretrack.exchange.workbook_out import write_workbook
    from wiretrack.exchange.write import write_csv

    barn = shipped("demo_db") / _BARN
    site = read_site(barn)
    rows = tuple(replace(c, tag=NO_TAG, id=None) for c in site.conductors)
    site = replace(site, conductors=rows)  # whoever makes a site of it gets tags of his own
    with new_folder(folder) as draft:
        (draft / _BARN).write_bytes(barn.read_bytes())
        about = [line.format(name=site.site.name) for line in ABOUT]
        write_workbook(site, draft / "site.xlsx", [*about[:1], *_OF_THE_EXAMPLE, *about[1:]])
        write_csv(site, draft / "csv")
    return Exported(str(folder), "example")


def _is_book(target: Path) -> bool:
    if target.suffix.lower() in _OTHER_FILES:
        what = f"'{safe(str(target))}' is neither a workbook nor a folder."
        raise BadInputError(what, "Name a file that ends in .xlsx, or a folder for CSV files.")
    return target.suffix.lower() == ".xlsx"


def _check_free(target: Path, *, force: bool, is_book: bool) -> None:
    name = safe(str(target))
    if not target.exists() or (target.is_dir() and not is_book and not any(target.iterdir())):
        return
    if target.is_dir() and (is_book or any(e.suffix != ".csv" for e in target.iterdir())):
        raise UnusableError(name, "is a folder that holds other files", "Name another place.")
    if not force:
        raise UnusableError(name, "is there already", Hint("Give {force} to replace it."))
