# SPDX-License-Identifier: MIT
"""On 40 columns no word is cut, a number stays with its unit, and no line ends in a space."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wiretrack.cli import output
from wiretrack.cli.terminal import cells, folded

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from tests.cli.conftest import Wiretrack

NARROW, WIDE = 40, 300
COMMANDS = [
    "show 6TS-TT6B --all", "show QF1-895O --all", "show HOIST --all", "show MDP --all",
    "show W8 --all", "show P-SLIP --all", "show MDP/Q4", "show site", "find sluice --limit 50",
    "sites", "trace M0H-TA7K", "isolate HOIST --all", "ringout status P-SLIP --all",
    "ringout status P-WHEEL --all", "test plan SLUICE --all", "label stocks --all",
    "label fit HOIST --stock flag-90x25-300 --all", "label due MDP --all", "check SLUICE --all",
    "marking W1", "punchlist --all", "history 0AZ-EMTB", "expect --size 4mm2 --length 54m",
    "verify",
]  # fmt: skip
QUANTITY = re.compile(r"(?<![\w.])\d[\d.]* (?:[kMG]?Ω|V|A|m|ft|mm2?|°C|AWG)(?!\w)")


def test_what_is_said_on_a_wide_terminal_is_whole_on_a_narrow_one(
    demo_db: Path, wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong: list[tuple[str, object]] = []
    for command in COMMANDS:
        monkeypatch.setenv("COLUMNS", str(WIDE))
        wide = wiretrack("--db", demo_db, *command.split()).out
        monkeypatch.setenv("COLUMNS", str(NARROW))
        lines = wiretrack("--db", demo_db, *command.split()).out.splitlines()
        cut = {word for line in lines for word in line.split()} - {*wide.split()}
        parted = {*QUANTITY.findall(wide)} - {q for line in lines for q in QUANTITY.findall(line)}
        wrong += [(command, sorted(each)) for each in (cut, parted) if each]
        wrong += [(command, line) for line in lines if line.endswith(" ") or _is_long(line)]
    assert wrong == []


def _is_long(line: str) -> bool:
    """Whether a line is too long, and is neither a command to copy nor has one long word."""
    longest = max(map(cells, line.split()), default=0)
    return cells(line) > NARROW and "wiretrack " not in line and longest <= NARROW


def test_a_record_is_a_block_where_a_column_would_cut_a_word(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(NARROW))
    names = ("tag", "enclosure", "terminal", "state", "labelled")
    rows = [("6TS-TT6B", "BYP", "Q1:2", "landed", "printed, not on"),
            ("6AZ-DCM4", "JT1", None, "loose", None)]  # fmt: skip
    output.table(names, rows)
    assert capsys.readouterr().out.splitlines() == [
        "6TS-TT6B  enclosure BYP  terminal Q1:2",
        "  state landed  labelled printed, not on",
        "6AZ-DCM4  enclosure JT1  state loose",
    ]
    monkeypatch.setenv("COLUMNS", "80")
    output.table(names, rows)
    assert capsys.readouterr().out.splitlines()[0].split() == [*names]


def test_a_number_and_its_unit_stay_on_one_line() -> None:
    """NIST SP 811 (2008), 7.2: a quantity is its number, a space and its unit."""
    for text in ("169 ft (51.5 m) of 10 AWG", "limit 620 kΩ at 20 °C", "57 A, 4 mm2 Cu"):
        for width in range(12, 30):
            lines = folded(text, width)
            for quantity in QUANTITY.findall(text):
                assert any(quantity in line for line in lines), (width, lines)
