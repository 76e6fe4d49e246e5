# SPDX-License-Identifier: MIT
"""A folder of CSV files says what a JSON file says; its faults carry file, line and column."""

from __future__ import annotations

import errno
import os
import pathlib
import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.errors import SiteFileError
from wiretrack.exchange import raw
from wiretrack.exchange.cells import bare, inert, read_cell, write_cell
from wiretrack.exchange.csv_source import read_folder
from wiretrack.exchange.layout import SheetRules
from wiretrack.exchange.read import read_site
from wiretrack.exchange.schema import columns, csv_tables, required_columns
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import End, FarEnd

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FILES = {
    "site": "name,rules,edition\nMill,NEC,2023\n",
    "enclosures": "code,name,wet\nA,barn,\nB,well head,TRUE\nC,,false\n",
    "devices": "enclosure,code,poles\nA,Q4,1 2 3 TB1:4\n",
    "raceways": "code,from,to,walls,bends_deg\nW1,A,B,3 m 150cm,90\nW2,C,B,,\n",
    "circuits": "code,title,module.voc,module.series\nK,pump,49.5 V,18\nL,,,\n",
    "pulls": "code,path\nP,W1 W2\n",
    "far_ends": "pull,enclosure,mark,colour\nP,C,1,BK\nP,C,2,\n",
    "conductors": "circuit,function,size,pull,from.enclosure,from.terminal,to.enclosure,note\n"
    'K,L1,4 mm2,P,A,Q4:2,C,"old, dry"\nK,L2,4 mm2,P,A,,C,\n',
}


def write(folder: Path, **changed: str | bytes | None) -> Path:
    """Write the files, some of them changed or left out."""
    for name, content in {**FILES, **changed}.items():
        if isinstance(content, str):
            content = content.encode()
        if content is not None:
            (folder / f"{name}.csv").write_bytes(content)
    return folder


def faults(folder: Path) -> list[str]:
    with pytest.raises(SiteFileError) as caught:
        read_site(folder)
    return [str(fault) for fault in caught.value.faults]


def test_a_folder_becomes_the_records_that_its_files_say(tmp_path: Path) -> None:
    found = read_site(write(tmp_path))
    assert (found.site.name, found.site.rules, found.site.edition) == ("Mill", "NEC", 2023)
    assert [box.wet for box in found.enclosures] == [None, True, False]
    assert found.devices[0].poles == (("Q4:1", "Q4:2"), ("Q4:3", "TB1:4"))
    assert (found.raceways[0].walls_m, found.raceways[0].bends_deg) == ((3.0, 1.5), 90.0)
    pump = Circuit(code="K", title="pump", module_voc_v=49.5, modules_in_series=18)
    assert found.circuits == (pump, Circuit(code="L"))
    assert found.pulls[0].path == ("W1", "W2")
    ends = (FarEnd(enclosure="C", mark="1", colour="BK"), FarEnd(enclosure="C", mark="2"))
    assert found.pulls[0].far_ends == ends
    first, second = found.conductors
    assert first.from_end == End(enclosure="A", terminal="Q4:2")
    assert (first.note, second.note, second.from_end) == ("old, dry", None, End(enclosure="A"))


@pytest.mark.parametrize(
    "rows",
    [
        b"\xef\xbb\xbfcode,name\nA,x\nB,\nC,\n",
        b"code,name\r\nA,x\r\n\r\nB,\r\nC,\r\n",
        b"code , name\n'A',x\nB,\nC,\n".replace(b"'", b'"'),
        b"name,code\nx,A\n,B\n,C",
        b"code,name,,\nA,x,,\nB,,,\nC,,,\n,,,\n",
    ],
)
def test_files_as_spreadsheets_write_them_are_read(tmp_path: Path, rows: bytes) -> None:
    found = read_site(write(tmp_path, enclosures=rows))
    assert [(box.code, box.name) for box in found.enclosures] == [
        ("A", "x"),
        ("B", None),
        ("C", None),
    ]


def test_other_files_in_the_folder_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "read me.txt").write_text("notes")
    assert read_site(write(tmp_path)).site.name == "Mill"


_CHANGES = "id,at,what,record,action\n"
WIRES = "circuit,function,size,from.enclosure,to.enclosure,strands,length\n"


@pytest.mark.parametrize(
    ("table", "content", "sentences"),
    [
        ("conductors", WIRES + "K,L1,7 foo,A,C,,\n\nK,L9,4 mm2,A,X,,3\n", [
            "conductors.csv:2 size: '7 foo' is not a conductor size. Write it like 10 AWG, 1/0 AWG,"
            " 250 kcmil or 6 mm2.",
            "conductors.csv:4 function: 'L9' is not a function. Allowed: L1, L2, L3, N, L+, L-, M,"
            " PE, FE, PEN, signal.",
            "conductors.csv:4 length: '3' is not a length: the unit is missing. Write it like"
            " 31.7 m, 104 ft, 250 cm or 3/4 in.",
            "conductors.csv:4 to.enclosure: No enclosure is called 'X' in the file or the registry."
            " Add an enclosure of that code, or correct it."]),
        ("conductors", WIRES + "K,L1,4 mm2,A,,seven,\n", [
            "conductors.csv:2 strands: 'seven' is not a number of strands. How many strands the"
            " conductor has, from 1 to 10000.",
            "conductors.csv:2 to.enclosure: It is missing. An end needs it."]),
        ("conductors", "circuit,function,size,from,to.enclosure\nK,L1,4 mm2,A,C\n", [
            "conductors.csv:1: 'from' is not a column of conductors.csv. Did you mean"
            " from.enclosure?",
            "conductors.csv:1: The column 'from.enclosure' is missing. Every row needs it."]),
        ("conductors", WIRES.replace(",", ";") + "K;L1;4 mm2;A;C;;1.500 m\n", [
            "conductors.csv:2 length: '1.500 m' may be 1500 or 1,500. Write the one that is"
            " meant."]),
        ("conductors", WIRES + "K,L1,4 mm2,A,C\n", [
            "conductors.csv:2: The row has 5 cells, the header 7. Fill it up."]),
        ("conductors", WIRES + "K,L1,4 mm2,A,C,,,more\n", [
            "conductors.csv:2: The cell 'more' stands under no column name."]),
        ("conductors", WIRES + 'K,L1,"4 mm2,A,C,,\n', [
            "conductors.csv:2: The file is not CSV: unexpected end of data. Check its quotation"
            " marks."]),
        ("conductors", "", ["conductors.csv: The file is empty."]),
        ("enclosures", b"code,name\nA,M\xfc\x81hle\n", [
            "enclosures.csv: The file is neither UTF-8 nor Windows-1252: the byte 0xfc at offset"
            " 13. Save it as UTF-8."]),
        ("enclosures", "code,code,wet\nA,A,\nB,B,\nC,C,maybe\n", [
            "enclosures.csv:1: The column 'code' is there twice.",
            "enclosures.csv:4 wet: 'maybe' is not true or false. Write true or false, and leave it"
            " out where unknown."]),
        ("enclosures", 'code,name\nA,"two\nlines"\nB,\nC,\nA,\n', [
            "enclosures.csv:2 name: The text is refused: it holds a line break (U+000A) as"
            " character 4. Take it out.",
            "enclosures.csv:6 code: 'A' is the code of enclosures.csv:2 too. Give each enclosure"
            " its own."]),
        ("far_ends", "pull,enclosure,mark,colour\nP,C,1,plaid\nQ,C,1,\n,C,1,\nP,,2,\n", [
            "far_ends.csv:5 enclosure: It is missing. A far end needs it.",
            "far_ends.csv:2 colour: 'plaid' is not a colour. Write it like RD, GNYE or RDBU"
            " (IEC 60757).",
            "far_ends.csv:3 pull: No pull is called 'Q' in pulls.csv. Add it there.",
            "far_ends.csv:4 pull: It is missing."]),
        ("far_ends", "pull,enclosure\nP,C\n", [
            "far_ends.csv:1: The column 'mark' is missing. Every row needs it."]),
        ("devices", "enclosure,code,poles\nA,Q4,1 2 3\n", [
            "devices.csv:2 poles: a list of 1 is not a pole. A pole is a pair of terminals, like"
            ' ["1", "2"].']),
        ("pulls", "code,path\nP,W1 'W2\n", [
            "pulls.csv:2 path: 'W1 'W2' is not a path. Codes of raceways, in the order they are"
            " connected; leave it out where unknown. Close its quotation marks."]),
        ("devices", "enclosure,code,poles\nA,Q4,1 '2\n", [
            "devices.csv:2 poles: '1 '2' is not a list of poles. Pairs of terminals: \"1\" of"
            " device Q4 is the terminal Q4:1; a name with a colon is taken as it is. Close its"
            " quotation marks."]),
        ("far_ends", "enclosure,mark\nC,1\n", [
            "far_ends.csv:1: The column 'pull' is missing. Every row needs it."]),
        ("changes", "id,at,what,record,action,new\n"
         "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab,2026-05-02T10:15:00Z,site,x,added,"
         '"{""in"": {""a"": ""\\u0007""}}"\n', [
            "changes.csv:2 new: The text is refused: it holds a control character (U+0007) as"
            " character 1. Take it out."]),
        ("site", "name\nMill\nBarn\n", [
            "site.csv:3: A second site is described. A file is of one site."]),
        ("site", "format,name\nwiretrack-site/9,Mill\n", [
            "site.csv:2 format: 'wiretrack-site/9' is another version of the format; this program"
            " reads wiretrack-site/1. Update wiretrack, or dump the site again."]),
        ("cables", "code\nX\n", [
            "cables.csv: The file is none of a site's tables. Known: site.csv, enclosures.csv,"
            " terminals.csv, devices.csv, raceways.csv, circuits.csv, pulls.csv, conductors.csv,"
            " instruments.csv, readings.csv, ringouts.csv, fault_searches.csv, label_prints.csv,"
            " placed_labels.csv, notes.csv, attachments.csv, same_records.csv, changes.csv,"
            " far_ends.csv."]),
    ],
)  # fmt: skip
def test_a_fault_is_named_with_file_line_and_column(
    tmp_path: Path, table: str, content: str | bytes, sentences: list[str]
) -> None:
    assert faults(write(tmp_path, **{table: content})) == sentences


def test_one_broken_file_doesnt_hide_the_faults_of_the_others(tmp_path: Path) -> None:
    folder = write(tmp_path, enclosures='code\n"A', circuits="code,system\nK,dc\nL,ac\n")
    assert faults(folder) == [
        "enclosures.csv:2: The file is not CSV: unexpected end of data. Check its quotation marks.",
        "circuits.csv:3 system: 'ac' may be a system in several ways. Write ac-1ph or ac-3ph.",
    ]


def test_a_file_with_nothing_but_its_header_holds_nothing(tmp_path: Path) -> None:
    found = read_site(write(tmp_path, readings="kind,subject,value\n", changes=_CHANGES))
    assert (found.readings, found.rest) == ((), {"changes": ()})


def test_a_folder_that_cant_be_listed_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_: Path) -> Iterator[Path]:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(pathlib.Path, "iterdir", refused)
    assert faults(tmp_path) == ["It can't be read: Permission denied."]


def test_a_file_of_countless_rows_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(raw, "MAX_ITEMS", 100)
    assert faults(write(tmp_path, terminals="enclosure,code\n" + "A,T\n" * 100)) == [
        "terminals.csv: The file holds more than 100 rows. Load the site in smaller parts."
    ]


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    none = "The folder holds no CSV file, such as conductors.csv."
    assert faults(tmp_path) == [none]
    for name in ("barn.json", "site.xlsx", "notes.txt"):
        (tmp_path / name).touch()
    assert faults(tmp_path) == [f"{none} Load one of its files: barn.json, site.xlsx."]


def test_every_table_has_its_required_columns_among_its_columns() -> None:
    for table in csv_tables():
        assert required_columns(table) <= set(columns(table))
    assert required_columns("conductors") == {
        "function",
        "size",
        "from.enclosure",
        "to.enclosure",
    }


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("list", ["W1", "north wall", "O'Neil", '"']),
        ("pairs", [["a b", "c"], ["'", "d"]]),
        ("lengths", ["3 m", "0.25 m"]),
        ("list", ["A,B", "C;D"]),
        ("pairs", [["1", "2"], ["TB1:3", "4"]]),
        ("pairs", [["Q4-1", "Q4-2"]]),
        ("pairs", [["a-b", "c-d,e"], ["[f", "g"]]),
        ("boolean", False),
        ("number", -0.28),
        ("number", 1e-07),
        ("integer", 12),
        ("json", {"a": [1, None, "x,\n"], "b": 0.1}),
    ],
)
def test_a_cell_reads_as_it_was_written(kind: str, value: object) -> None:
    assert read_cell(kind, write_cell(kind, value)) == value


# Each as people write it, by the manual's table of cells.
@pytest.mark.parametrize(
    ("kind", "texts", "value"),
    [
        ("boolean", ["yes", "Y", "TRUE", "x", "1"], True),
        ("boolean", ["no", "N", "false", "0"], False),
        ("list", ["W1, W2", "W1;W2", "W1 W2", " W1 , W2 "], ["W1", "W2"]),
        ("list", ["north wall, W2", "'north wall' W2"], ["north wall", "W2"]),
        ("codes", ["HOIST, PUMP", "HOIST;PUMP", '["HOIST", "PUMP"]'], ["HOIST", "PUMP"]),
        ("lengths", ["3 m, 0.5 m", "3 m; 0.5 m", "3 m 0.5 m"], ["3 m", "0.5 m"]),
        ("pairs", ["1-2, 3-4", "1-2;3-4", "1 - 2, 3 - 4", "1 2 3 4"], [["1", "2"], ["3", "4"]]),
        ("pairs", ["1-2", "1 2"], [["1", "2"]]),
    ],
)
def test_a_cell_is_read_as_people_write_it(kind: str, texts: list[str], value: object) -> None:
    assert [read_cell(kind, text) for text in texts] == [value] * len(texts)


GERMAN = (
    "code;from;to;length;walls;bends_deg;trade_size\r\n"
    "W1;A;B;1.064,5 m;0,5 m, 3 m;22,5;1\r\nW2;C;B;3.5 m;;;\r\n"
)


@pytest.mark.parametrize(
    ("content", "note"),
    [
        (GERMAN.encode("cp1252"), "with semicolons between cells and decimal commas"),
        (GERMAN.encode("utf-8-sig"), "with semicolons between cells and decimal commas"),
        (GERMAN.encode("utf-16"), "as UTF-16, with semicolons between cells and decimal commas"),
        (GERMAN.encode("utf-16-le"), "as UTF-16, with semicolons between cells and decimal commas"),
        (GERMAN.replace(";", "\t").encode(), "with tabs between cells and decimal commas"),
        (b"sep=;\r\n" + GERMAN.encode(), "with semicolons between cells and decimal commas"),
    ],
)
def test_a_file_with_decimal_commas_is_read_and_said_to_be(
    tmp_path: Path, content: bytes, note: str
) -> None:
    folder = write(tmp_path, raceways=content)
    one, other = read_site(folder).raceways
    assert (one.length_m, one.walls_m, one.bends_deg) == (1064.5, (0.5, 3.0), 22.5)
    assert other.length_m == 3.5
    assert read_folder(folder, SheetRules()).faults.notes == [f"raceways.csv was read {note}."]


def test_a_file_of_a_german_spreadsheet_keeps_its_umlauts(tmp_path: Path) -> None:
    boxes = "code;name\nA;Mühle, Süd\nB;\nC;"
    folder = write(tmp_path, enclosures=boxes.encode("cp1252"))
    assert read_site(folder).enclosures[0].name == "Mühle, Süd"
    told = "as Windows-1252, with semicolons between cells and decimal commas"
    assert read_folder(folder, SheetRules()).faults.notes == [f"enclosures.csv was read {told}."]
    assert read_site(write(tmp_path, enclosures="code,name\nA,Mühle\nB,\nC,")).enclosures
    assert read_folder(folder, SheetRules()).faults.notes == []


@pytest.mark.parametrize(
    ("kind", "text"),
    [("boolean", "2"), ("integer", "٣"), ("number", "1,5"), ("number", "inf"), ("json", "{")],
)
def test_a_cell_of_another_kind_keeps_its_text(kind: str, text: str) -> None:
    assert read_cell(kind, text) == text


@given(st.text() | st.from_regex(r"'*[=+@-][-+A-Z0-9. ']*", fullmatch=True))
def test_a_cell_starts_no_formula_and_reads_as_it_was(cell: str) -> None:
    # OWASP, "CSV Injection": a cell must not begin with one of these.
    if inert(cell).startswith(("=", "+", "-", "@", "\t", "\r")):
        assert re.fullmatch(r"[+-][0-9.]+ ?[A-Za-z]*", cell)  # a number, perhaps with its unit
    assert bare(inert(cell)) == cell
