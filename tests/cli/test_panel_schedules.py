# SPDX-License-Identifier: MIT
"""A spreadsheet with headings of its own: proposed, said, asked about, remembered, loaded whole."""

from __future__ import annotations

import json
import shlex
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import Workbook

from tests.terminal import at_a_terminal
from wiretrack.cli.group import run
from wiretrack.exchange.schedules import breaker, wire

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Ran

HEADINGS = ["Ckt #", "Description", "Breaker", "Wire", "Notes"]
ROWS: list[list[Any]] = [
    ["PANEL: LP1", None, None, None, "120/240 V"],
    [None, "Location: workshop"],
    [],
    HEADINGS,
    [1, "Well pump", "20A 2P", "#12 CU THHN", None],
    [2, "Lights, shop", "15/1", "#14 CU THHN", "check"],
    [3],
    ["5", "Receptacles east", 20, "#12 CU THHN"],
    [4, "SPARE", "20A 1P"],
    [6, "(Space)"],
    ["7, 9", "Compressor", "2P-30A"],
]
MAPS = ["Ckt #=number", "Description=title", "breaker=breaker", "Wire=", "Notes="]
BOARD = [
    ("LP1-1", "Well pump", "20 A"),
    ("LP1-2", "Lights, shop", "15 A"),
    ("LP1-5", "Receptacles east", "20 A"),
    ("LP1-7-9", "Compressor", "30 A"),
]


def book(path: Path, rows: list[list[Any]] = ROWS, title: str = "Sheet1") -> Path:
    made = Workbook()
    made.active.title = title
    for row in rows:
        made.active.append(row)
    made.save(path)
    return path


@pytest.fixture
def shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """The command line on an empty registry."""
    from tests.cli.conftest import Ran

    path = tmp_path / "shop.db"
    assert run(["--db", str(path), "new", "--name", "Shop"]) == 0

    def call(*arguments: object) -> Ran:
        capsys.readouterr()
        status = run(["--db", str(path), *map(str, arguments)])
        return Ran(status, *capsys.readouterr())

    return call


def maps(*said: str) -> list[str]:
    return [part for each in said for part in ("--map", each)]


def table(shop: Callable[..., Ran], name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = shop("dump").json.get(name, [])
    return found


def circuits(shop: Callable[..., Ran]) -> list[tuple[Any, ...]]:
    return [(c["code"], c.get("title"), c.get("overcurrent")) for c in table(shop, "circuits")]


def test_what_headings_mean_must_be_said_and_the_options_for_it_are_told(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    before = shop("dump").out
    refused = shop("load", book(tmp_path / "panel.xlsx"))
    assert (refused.status, refused.out) == (2, "")
    assert refused.err == (
        "error: Sheet1 row 4: what headings mean isn't sure: 'Ckt #' (1, 2) may be number,"
        " 'Description' (Well pump, Lights, shop) may be circuits.title, 'Breaker' (20A 2P, 15/1)"
        " may be breaker, 'Wire' (#12 CU THHN, #14 CU THHN) may be left out, as no column says"
        " what a wire is and to which box it goes, 'Notes' (check) is unknown. Say it, an empty"
        " one leaves its column out: --map 'Ckt #=number' --map Description=circuits.title"
        " --map Breaker=breaker --map Wire= --map Notes=\n"
    )
    assert shop("dump").out == before


def test_after_a_look_the_next_command_says_the_headings_too_and_loads(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    file = book(tmp_path / "panel.xlsx", ROWS[3:])
    looked = shop("load", file, "--look", "--in", "LP1", *maps(*MAPS))
    assert circuits(shop) == []
    typed = shlex.split(looked.out.splitlines()[-1].partition(": ")[2])
    assert typed[:2] + typed[3:5] == ["wiretrack", "--db", "load", str(file)]
    loaded = shop(*typed[3:])
    assert (loaded.status, circuits(shop)) == (0, BOARD)
    assert "Loaded panel.xlsx: 1 enclosure, 5 devices, 4 circuits." in loaded.words.replace(
        f"{tmp_path}/", ""
    )


def test_a_row_becomes_a_circuit_and_its_breaker_in_the_panel(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    file = book(tmp_path / "panel.xlsx")
    loaded = shop("load", file, *maps(*MAPS), "--json")
    assert (loaded.status, loaded.err) == (0, "")
    assert loaded.json["rows"] == [
        "Sheet1 row 5: panel LP1 is new",
        "Sheet1 row 5: circuit LP1-1 (Well pump), breaker LP1/1 (20 A, 2 poles)",
        "Sheet1 row 6: circuit LP1-2 (Lights, shop), breaker LP1/2 (15 A, 1 pole)",
        "Sheet1 row 7: nothing: no load and no breaker",
        "Sheet1 row 8: circuit LP1-5 (Receptacles east), breaker LP1/5 (20 A)",
        "Sheet1 row 9: breaker LP1/4 (20 A, 1 pole)",
        "Sheet1 row 10: nothing: no load and no breaker",
        "Sheet1 row 11: circuit LP1-7-9 (Compressor), breaker LP1/7-9 (30 A, 2 poles)",
    ]
    assert circuits(shop) == BOARD
    boxes = [(box["code"], box["kind"]) for box in table(shop, "enclosures")]
    assert boxes == [("LP1", "panelboard")]
    devices = {d["code"]: (d["kind"], d["rating"], d.get("poles")) for d in table(shop, "devices")}
    two = [["1", "2"], ["3", "4"]]
    assert devices == {
        "1": ("breaker", "20 A", two), "2": ("breaker", "15 A", two[:1]),
        "5": ("breaker", "20 A", None), "4": ("breaker", "20 A", two[:1]),
        "7-9": ("breaker", "30 A", two),
    }  # fmt: skip


def test_what_was_said_is_remembered_beside_the_sheet(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    file = book(tmp_path / "panel.xlsx")
    assert shop("load", file, *maps(*MAPS)).status == 0
    kept = json.loads((tmp_path / "panel.xlsx.map.json").read_text("utf-8"))
    assert kept == {
        "format": "wiretrack-map/1",
        "panel": "LP1",
        "headings": {"Ckt #": "number", "Description": "title", "Breaker": "breaker",
                     "Wire": "", "Notes": ""},
    }  # fmt: skip
    other: list[list[Any]] = [["Panel LP2"], HEADINGS, [1, "Boiler", "16 A"]]
    book(file, other)
    assert shop("load", file, "--in", "LP2").status == 0
    assert circuits(shop)[-1] == ("LP2-1", "Boiler", "16 A")
    (tmp_path / "panel.xlsx.map.json").write_text("[]")
    assert shop("load", file).err == (
        f"error: {file}.map.json is no file that remembers headings. Delete it and say again what"
        " they mean.\n"
    )


def test_every_fault_of_a_schedule_is_a_line_and_nothing_is_loaded(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    wrong: list[list[Any]] = [
        [11, "Kiln", "a lot"], [1, "Again", "20A"], [12, "Saw", date(2026, 2, 20)],
    ]  # fmt: skip
    file = book(tmp_path / "panel.xlsx", [*ROWS, *wrong])
    before = shop("dump").out
    refused = shop("load", file, *maps(*MAPS))
    first, *lines = refused.err.splitlines()
    assert first == f"error: {file} was not loaded, 4 faults:"
    assert lines == [
        "Sheet1 row 12 Breaker (C12): 'a lot' is not a current. Write it like 9.5 A, 500 mA or"
        " 1.2 kA.",
        "Sheet1 row 13 Ckt # (A13): '1' is the code of Sheet1 row 5 too. Give each device its own.",
        "Sheet1 row 13 Ckt # (A13): 'LP1-1' is the code of Sheet1 row 5 too. Give each circuit"
        " its own.",
        "Sheet1 row 14 Breaker (C14): The spreadsheet made a date of what was typed. Format the"
        " cell as text and type it again.",
    ]
    assert shop("dump").out == before
    assert not (tmp_path / "panel.xlsx.map.json").exists()


def test_a_circuit_may_keep_its_own_code(shop: Callable[..., Ran], tmp_path: Path) -> None:
    said = maps("Ckt #=code", *MAPS[1:])
    assert shop("load", book(tmp_path / "panel.xlsx"), *said).status == 2  # some rows have no load
    assert shop("load", book(tmp_path / "p.xlsx", ROWS[:6]), *said).status == 0
    assert [code for code, *_ in circuits(shop)] == ["1", "2"]
    assert [device["code"] for device in table(shop, "devices")] == ["1", "2"]


def test_both_halves_of_a_schedule_in_two_columns_are_read(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    half = ["Ckt", "Load", "Amps"]
    rows: list[list[Any]] = [
        [*half, *half],
        [1, "Pump", 20, 2, "Lights", 15],
        [3, "Saw", 30, 4, None, None],
    ]
    said = maps("Ckt=number", "Load=circuits.title", "Amps=devices.rating")
    unsaid = shop("load", book(tmp_path / "p.xlsx", rows), *said)
    assert unsaid.err == (
        "error: Sheet1 row 1: no column says in which panel the breakers are. Give the panel's"
        " code with --in.\n"
    )
    assert shop("load", book(tmp_path / "p.xlsx", rows), *said, "--in", "A").status == 0
    assert circuits(shop) == [
        ("A-1", "Pump", "20 A"), ("A-2", "Lights", "15 A"), ("A-3", "Saw", "30 A"),
    ]  # fmt: skip


def test_the_panel_may_stand_beside_its_word_above_the_headings(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    rows: list[list[Any]] = [
        ["PANELBOARD SCHEDULE"], ["Panel:", "DP-2", "Volts: 208Y/120"],
        ["Ckt", "Load served", "Trip / Poles"], [1, "Roof fan", "40/3"],
    ]  # fmt: skip
    file = book(tmp_path / "p.xlsx", rows)
    assert "--map 'Trip / Poles=breaker'" in shop("load", file).err
    said = maps("Ckt=number", "Load served=title", "Trip / Poles=breaker")
    assert shop("load", file, *said).status == 0
    assert circuits(shop) == [("DP-2-1", "Roof fan", "40 A")]


def test_a_wire_whose_ends_are_said_is_a_conductor(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    rows: list[list[Any]] = [
        ["Ckt", "Load", "Wire", "Function", "To", "Length (ft)"],
        [1, "Pump", "#12 CU THHN", "L1", "PH1", 120],
        [3, "Saw", "2.5 mm2", "L1", "PH1", "30 m"],
    ]
    boxes = tmp_path / "enclosures.csv"
    boxes.write_text("code\nLP1\nPH1\n")
    assert shop("load", boxes).status == 0
    said = maps("Ckt=number", "Load=title", "Wire=wire", "Function=function",
                "To=conductors.to.enclosure", "Length (ft)=conductors.length")  # fmt: skip
    loaded = shop("load", book(tmp_path / "p.xlsx", rows), *said, "--in", "LP1")
    assert (loaded.status, loaded.err) == (0, "")
    wires = [(c["circuit"], c["size"], c.get("metal"), c.get("insulation"), c["from"]["enclosure"],
              c["to"]["enclosure"], c["length"]) for c in table(shop, "conductors")]  # fmt: skip
    assert wires == [
        ("LP1-1", "12 AWG", "Cu", "THHN", "LP1", "PH1", "36.576 m"),  # 120 ft, NIST SP 811 B.9
        ("LP1-3", "2.5 mm2", None, None, "LP1", "PH1", "30 m"),
    ]


def test_a_file_of_one_table_is_known_by_its_name_its_headings_or_as_it_is_said(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    (tmp_path / "enclosures.csv").write_text("Code,Wet\nA,yes\nB,no\n")
    (tmp_path / "list.csv").write_text("code;from;to;Length (m)\nW1;A;B;12,5\n")
    (tmp_path / "more.csv").write_text("code,name\nC,barn\n")
    assert shop("load", tmp_path / "enclosures.csv").status == 0
    told = shop("load", tmp_path / "list.csv", "--json").json["notes"]
    assert told == [
        "list.csv was read with semicolons between cells and decimal commas.",
        "list.csv was read as the table raceways, by its headings.",
    ]
    assert table(shop, "raceways")[0]["length"] == "12.5 m"
    assert shop("load", tmp_path / "more.csv").err == (
        "error: The headings of more.csv may be of enclosures or instruments. Say which with"
        " --table.\n"
    )
    assert shop("load", tmp_path / "more.csv", "--table", "instruments").status == 0
    assert table(shop, "instruments")[0]["name"] == "barn"
    again = shop("load", tmp_path / "more.csv", "--json")  # that was remembered
    assert (again.status, again.json["unchanged"]["instruments"]) == (0, 1)
    (tmp_path / "circuits.csv").write_text("code,Load,VA\nK,pump,300\n")
    assert "'Load' is not a column" in shop("load", tmp_path / "circuits.csv").err
    assert shop("load", tmp_path / "circuits.csv", *maps("Load=title", "va=")).status == 0
    assert circuits(shop) == [("K", "pump", None)]
    kept = json.loads((tmp_path / "circuits.csv.map.json").read_text("utf-8"))
    assert kept == {"format": "wiretrack-map/1", "headings": {"Load": "title", "VA": ""}}


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("Ckt #=nmber", "'nmber' is no field of a site. Close to it: number."),
        ("Ckt #=kind", "'kind' is a field of enclosures, devices, instruments, readings. Write"
         " which: enclosures.kind."),
        ("Notse=title", "No heading is called 'Notse'. Close to it: Notes."),
        ("Ckt #", "'Ckt #' is no HEADING=FIELD. Write one like Load=title."),
    ],
)  # fmt: skip
def test_a_wrong_word_for_a_heading_is_named(
    shop: Callable[..., Ran], tmp_path: Path, said: str, line: str
) -> None:
    refused = shop("load", book(tmp_path / "panel.xlsx"), *maps(MAPS[0], *MAPS[1:], said))
    assert (refused.status, refused.err.partition(" See: ")[0].strip()) == (2, f"error: {line}")


def test_somebody_at_a_terminal_is_asked_and_the_answer_remembered(
    shop: Callable[..., Ran], tmp_path: Path
) -> None:
    file, db = book(tmp_path / "panel.xlsx"), tmp_path / "shop.db"
    with at_a_terminal("--db", db, "load", file) as terminal:
        shown = terminal.sees("Read it so (Y/n): ")
        assert "Well pump" in shown
        assert "circuits.title" in shown
        terminal.types("n")
        for prompt, answer in [
            ("Ckt # [number]: ", ""), ("Description [circuits.title]: ", ""),
            ("Breaker [breaker]: ", "braker"), ("Breaker [breaker]: ", ""), ("Wire [-]: ", ""),
            ("Notes [-]: ", ""), ("Which panel are the breakers in [LP1]: ", "LP9"),
        ]:  # fmt: skip
            terminal.answers(prompt, answer)
        assert terminal.ends() == 0
    assert [code for code, *_ in circuits(shop)] == ["LP9-1", "LP9-2", "LP9-5", "LP9-7-9"]
    kept = json.loads((tmp_path / "panel.xlsx.map.json").read_text("utf-8"))
    assert (kept["panel"], kept["headings"]["Wire"]) == ("LP9", "")


# As schedules in the trade write them; what each means is plain to read.
@pytest.mark.parametrize(
    ("text", "amps", "poles"),
    [
        ("20A 2P", "20 A", "2"), ("20/2", "20 A", "2"), ("20A/2P", "20 A", "2"),
        ("2P20", "20 A", "2"), ("2P 20A", "20 A", "2"), ("20-1", "20 A", "1"),
        ("3P-100A", "100 A", "3"), ("20A", "20 A", ""), ("20", "20 A", ""), ("202", "202 A", ""),
        ("30 amps", "30 A", ""), ("16A 1-pole", "16A 1-pole", ""), ("20A1P", "20 A", "1"),
        ("none", "none", ""), ("7.5A", "7.5 A", ""),
    ],
)  # fmt: skip
def test_a_breaker_is_read_as_people_write_it(text: str, amps: str, poles: str) -> None:
    assert breaker(text) == (amps, poles)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("#12 CU THHN", {"size": "12 AWG", "metal": "Cu", "insulation": "THHN"}),
        ("12 AWG THHN Cu", {"size": "12 AWG", "metal": "Cu", "insulation": "THHN"}),
        ("4/0 AL XHHW-2", {"size": "4/0 AWG", "metal": "Al", "insulation": "XHHW-2"}),
        ("250 MCM Cu", {"size": "250 kcmil", "metal": "Cu"}),
        ("2,5 mm² H07V-K", {"size": "2.5 mm2", "insulation": "H07V-K"}),
        ("(2) #12, #12G", {"size": "(2) #12, #12G"}),
    ],
)
def test_a_wire_is_read_as_people_write_it(text: str, found: dict[str, str]) -> None:
    assert wire(text) == found
