# SPDX-License-Identifier: MIT
"""A workbook says what its records say, starts no formula, and a hostile one gets one line.

What is written is looked at with zipfile and an XML parser, not with the library that wrote it.
"""

from __future__ import annotations

import re
import struct
import zipfile
from datetime import date, datetime, time
from random import Random
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest
from openpyxl import Workbook, load_workbook

from tests.drawing import drawn
from tests.exchange.test_round_trip import documents
from tests.model.random_sites import random_site
from wiretrack.errors import BadInputError, SiteFileError
from wiretrack.exchange import workbook
from wiretrack.exchange.read import read_site
from wiretrack.exchange.workbook_out import write_workbook
from wiretrack.model import words
from wiretrack.model.entities import Circuit, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, Instrument, SiteFacts
from wiretrack.model.source import SiteDocument

if TYPE_CHECKING:
    from pathlib import Path

_NS = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
WIRES = ["circuit", "function", "size", "from.enclosure", "to.enclosure", "length"]


def made(path: Path, **sheets: list[list[Any]]) -> Path:
    """Write a workbook as a person would, a list of rows a sheet."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def barn(path: Path, **changed: list[list[Any]]) -> Path:
    tables: dict[str, list[list[Any]]] = {
        "enclosures": [["code", "name", "wet"], ["A", "barn", None], ["B", "well", True]],
        "circuits": [["code", "title"], ["K", "pump"]],
        "conductors": [WIRES, ["K", "L1", "4 mm2", "A", "B", "12 m"]],
    }
    return made(path, **{**tables, **changed})


def faults(path: Path) -> list[str]:
    with pytest.raises(SiteFileError) as caught:
        read_site(path)
    return [str(fault) for fault in caught.value.faults]


@drawn(5, 25, documents())
def test_what_is_written_reads_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, document: SiteDocument
) -> None:
    file = tmp_path_factory.mktemp("book") / "site.xlsx"
    write_workbook(document, file, ["a site"])
    assert read_site(file) == document


HOSTILE_CODES = ("=A1", "-W1", "+W2", "@W3", "'W4", "#N/A", "_x0041_", "1/2", "007", "1e5", "TRUE")


def test_no_cell_is_a_formula_whatever_a_code_begins_with(tmp_path: Path) -> None:
    boxes = tuple(Enclosure(code=code, name=f"{code}+1") for code in HOSTILE_CODES)
    site = SiteDocument(enclosures=boxes)
    write_workbook(site, tmp_path / "site.xlsx", ["a site"])
    assert read_site(tmp_path / "site.xlsx") == site
    shown = {}
    with zipfile.ZipFile(tmp_path / "site.xlsx") as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/"):
                root = ET.fromstring(parts.read(name))
                assert not [*root.iter(f"{_NS}f")], name
                for cell in root.iter(f"{_NS}c"):
                    if (text := "".join(cell.itertext())) in HOSTILE_CODES:
                        shown[text] = cell.get("t")
    # Each stands as a text; the one that looks like an escape is itself escaped (ECMA-376, 22.4.2).
    assert shown == {code: "inlineStr" for code in HOSTILE_CODES if code != "_x0041_"}


def test_each_choice_has_a_list_of_its_words_a_frozen_heading_and_a_filter(tmp_path: Path) -> None:
    write_workbook(random_site(1), tmp_path / "site.xlsx", ["a site"])
    with zipfile.ZipFile(tmp_path / "site.xlsx") as parts:
        names = re.findall(r'<sheet [^>]*name="(\w+)"', parts.read("xl/workbook.xml").decode())
        sheets = [ET.fromstring(parts.read(f"xl/worksheets/sheet{at}.xml"))
                  for at in range(1, len(names) + 1)]  # fmt: skip
    assert names[:3] == ["about", "site", "enclosures"]
    book = load_workbook(tmp_path / "site.xlsx")
    (devices,) = (root for name, root in zip(names, sheets, strict=True) if name == "devices")
    rules = {rule.get("sqref"): rule.findtext(f"{_NS}formula1")
             for rule in devices.iter(f"{_NS}dataValidation")}  # fmt: skip
    (kinds,) = (formula for cells, formula in rules.items() if (cells or "").startswith("C2:"))
    column, last = re.fullmatch(r"words!\$([A-Z]+)\$2:\$[A-Z]+\$(\d+)", kinds or "").groups()  # type: ignore[union-attr]
    offered = [book["words"][f"{column}{row}"].value for row in range(2, int(last) + 1)]
    assert tuple(offered) == words.DEVICE_KINDS
    assert devices.find(f".//{_NS}pane").get("topLeftCell") == "A2"  # type: ignore[union-attr]
    assert devices.find(f"{_NS}autoFilter").get("ref") == f"A1:H{len(random_site(1).devices) + 1}"  # type: ignore[union-attr]


def test_a_text_longer_than_a_cell_may_be_goes_on_in_the_next_column(tmp_path: Path) -> None:
    steps = {"id": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "pull": "P", "near": "A", "far": "B"}
    work: dict[str, object] = {
        **steps,
        "settings": {"x": "y" * 70_000},
        "at": "2026-05-02T10:15:00Z",
    }
    site = SiteDocument(
        enclosures=(Enclosure(code="A"), Enclosure(code="B")),
        raceways=(Raceway(code="W", from_enclosure="A", to_enclosure="B"),),
        pulls=(Pull(code="P", path=("W",)),),
        rest={"ringouts": ({**work},)},
    )
    write_workbook(site, tmp_path / "site.xlsx", ["a site"])
    assert read_site(tmp_path / "site.xlsx") == site
    for row in load_workbook(tmp_path / "site.xlsx")["ringouts"].iter_rows(values_only=True):
        assert max(len(str(cell)) for cell in row) <= 32_767  # what a cell holds, says its maker


def test_cells_are_read_as_what_somebody_typed(tmp_path: Path) -> None:
    site = barn(
        tmp_path / "barn.xlsx",
        site=[["name", "edition", "rules"], ["Mill", 2023, "NEC "]],
        enclosures=[["code", "name", "wet"], ["A", 12, "x"], [None], ["B", 2.5, False]],
        circuits=[["code", "retired_at", "module.voc_pct_per_k"],
                  ["K", None, -0.28], ["L", date(2026, 5, 2), 1]],
        devices=[["enclosure", "code", "poles"], ["A", 4, "1-2, 3-4"]],
        pulls=[["code", "path"], ["P", "W1; W2"]],
        raceways=[["code", "from", "to", "walls"], ["W1", "A", "B", "3 m, 0.5 m"],
                  ["W2", "A", "B", None]],
        instruments=[["code", "calibrated_on"], ["M1", datetime(2026, 5, 2)]],
    )  # fmt: skip
    found = read_site(site)
    assert found.site == SiteFacts(name="Mill", edition=2023, rules="NEC")
    assert [(box.name, box.wet) for box in found.enclosures] == [("12", True), ("2.5", False)]
    assert found.circuits == (
        Circuit(code="K", module_voc_pct_per_k=-0.28),
        Circuit(code="L", retired_at="2026-05-02", module_voc_pct_per_k=1.0),
    )
    poles = (("4:1", "4:2"), ("4:3", "4:4"))
    assert found.devices == (Device(enclosure="A", code="4", poles=poles),)
    assert (found.pulls[0].path, found.raceways[0].walls_m) == (("W1", "W2"), (3.0, 0.5))
    assert found.instruments == (Instrument(code="M1", calibrated_on="2026-05-02"),)


def test_each_fault_has_sheet_row_column_value_and_what_is_allowed(tmp_path: Path) -> None:
    rows: list[list[Any]] = [
        WIRES,
        ["K", "L9", "4 mm2", "A", "B", 12],
        ["K", "L1", "4 mm2", "A", "C", None],
    ]
    circuits: list[list[Any]] = [["code", "system", "max_voltage"], ["K", "gas", time(10, 30)]]
    sheets: dict[str, list[list[Any]]] = {
        "conductors": rows,
        "circuits": circuits,
        "cables": [["x"]],
        "raceways": [["code", "from", "to", "trade_size"], ["W", "A", "B", date(2026, 1, 2)]],
    }
    assert faults(barn(tmp_path / "barn.xlsx", **sheets)) == [
        "cables: Its headings are of no table. Tables are site, enclosures, terminals, devices,"
        " raceways, circuits, pulls, conductors, instruments, readings, ringouts, fault_searches,"
        " label_prints, placed_labels, notes, attachments, same_records, changes, far_ends."
        " Hide the sheet to leave it out.",
        "raceways row 2 trade_size (D2): The spreadsheet made a date of what was typed. Format the"
        " cell as text and type it again.",
        "circuits row 2 max_voltage (C2): The cell holds a time of day.",
        "circuits row 2 system (B2): 'gas' is not a system. Allowed: dc-pv, dc-battery, dc, ac-1ph,"
        " ac-3ph, signal, earthing.",
        "conductors row 2 function (B2): 'L9' is not a function. Allowed: L1, L2, L3, N, L+, L-, M,"
        " PE, FE, PEN, signal.",
        "conductors row 2 length (F2): '12' is not a length: the unit is missing. Write it like"
        " 31.7 m, 104 ft, 250 cm or 3/4 in.",
        "conductors row 3 to.enclosure (E3): No enclosure is called 'C' in the file or the"
        " registry. Add an enclosure of that code, or correct it.",
    ]


def test_a_formula_counts_by_its_value_and_one_without_is_named(tmp_path: Path) -> None:
    file = barn(tmp_path / "barn.xlsx", circuits=[["code", "title"], ["K", "=1+1"], ["L", "pump"]])
    assert faults(file) == [
        "circuits row 2 title (B2): The cell has a formula without a value. Open the file in the"
        " spreadsheet and save it."
    ]
    calculated = tmp_path / "calculated.xlsx"
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(calculated, "w") as new:
        for part in old.namelist():
            new.writestr(part, old.read(part).replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"))
    assert [circuit.title for circuit in read_site(calculated).circuits] == ["2", "pump"]


def test_merged_hidden_and_broken_cells_are_named(tmp_path: Path) -> None:
    file = barn(tmp_path / "barn.xlsx", enclosures=[["code", "name"], ["A", "barn"], ["B", None]])
    book = load_workbook(file)
    book["enclosures"].merge_cells("B2:B3")
    book["circuits"]["B2"] = "#REF!"
    book["enclosures"]["C2"] = 1e9  # no day that a spreadsheet knows
    book["enclosures"]["C1"] = "wet"
    book["enclosures"]["C2"].number_format = "yyyy-mm-dd"
    book["conductors"].sheet_state = "hidden"
    book.save(file)
    assert faults(file) == [
        "enclosures row 2 wet (C2): The cell shows the error #VALUE!. Mend its formula.",
        "enclosures row 3 name (B3): The cells B2:B3 are merged. Unmerge them and write the value"
        " in each.",
        "circuits row 2 title (B2): The cell shows the error #REF!. Mend its formula.",
    ]
    book["enclosures"].unmerge_cells("B2:B3")
    book["circuits"]["B2"] = book["enclosures"]["C2"] = None
    book.save(file)
    assert read_site(file).conductors == ()


def bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", b"0" * (workbook.MAX_UNPACKED + 1))


def cut_short(path: Path) -> None:
    barn(path)
    path.write_bytes(path.read_bytes()[:3000])


def lying(path: Path) -> None:
    """Say of each part that it unpacks to nothing."""
    barn(path)
    data = path.read_bytes()
    for entry in re.finditer(rb"PK\x01\x02", data):
        at = entry.start() + 24
        data = data[:at] + struct.pack("<I", 0) + data[at + 4 :]
    path.write_bytes(data)


def far_away(path: Path) -> None:
    """Let a row have a number that would be counted to for ever."""
    file = barn(path.with_name("near.xlsx"))
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(path, "w") as new:
        for part in old.namelist():
            new.writestr(part, re.sub(rb'<row r="2"', b'<row r="999999999999"', old.read(part)))


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (bomb, "It unpacks to 200 MB, more than 200 MB. Load it in smaller parts."),
        (cut_short, r"The file is no workbook that can be read \(.*\). Save it as .xlsx."),
        (lying, r"The file is no workbook that can be read \(.*\). Save it as .xlsx."),
        (far_away, r".*: The sheet holds more than 200000 rows or 20000000 cells. Load it in .*"),
        (lambda path: path.write_text("code"), r"The file is no workbook that can be read .*"),
        (lambda path: path.write_text(""), r"The file is no workbook that can be read .*"),
        (lambda path: None, "It can't be read: No such file or directory."),
    ],
)
def test_a_hostile_file_gets_a_line(tmp_path: Path, make: Any, sentence: str) -> None:
    make(tmp_path / "site.xlsx")
    found = faults(tmp_path / "site.xlsx")
    assert found
    assert not [fault for fault in found if not re.fullmatch(sentence, fault)]


def test_a_workbook_with_flipped_or_lost_bytes_is_read_or_refused_in_words(tmp_path: Path) -> None:
    chance, file = Random(17), barn(tmp_path / "barn.xlsx")
    with zipfile.ZipFile(file) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    refused = 0
    for _ in range(60):
        name = chance.choice(list(parts))
        part = bytearray(parts[name])
        at = chance.randrange(len(part))
        part[at : at + chance.choice([0, 1, 20])] = chance.choice([b"", b"<", b"9", b"&x;"])
        with zipfile.ZipFile(tmp_path / "broken.xlsx", "w") as broken:
            for each, held in parts.items():
                broken.writestr(each, bytes(part) if each == name else held)
        try:
            read_site(tmp_path / "broken.xlsx")
        except BadInputError:
            refused += 1
    assert refused


def test_countless_rows_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MAX_ROWS", 100)
    rows = [["code"], *[[f"A{number}"] for number in range(103)]]
    (fault,) = [f for f in faults(barn(tmp_path / "s.xlsx", circuits=rows)) if "holds more" in f]
    told = "The sheet holds more than 100 rows or 20000000 cells. Load it in smaller parts."
    assert fault == told
    monkeypatch.setattr(workbook, "_check_rows", lambda file, parts: None)  # of another form
    (fault,) = [f for f in faults(tmp_path / "s.xlsx") if "holds more" in f]
    assert fault == f"circuits: {told}"
