# SPDX-License-Identifier: MIT
"""No file has words, bands or figures of an instrument maker's book; no citation is remembered."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from tests.code import ROOT, strings, text_of

PLACES = ("wiretrack", "tests", "schemas", "demo_db", "README.md", "DEVELOPERS.md")
TEXTS = {".py", ".csv", ".md", ".html", ".js", ".css", ".json", ".sql", ".txt", ".svg"}
# What was here and is gone, by what must not come back.
GONE = {
    "words for what a ratio of readings is worth": r"\b(questionable|excellent)\b",
    "their table": r"absorption[ _]bands|bands of polari[sz]ation",
    "a maker's name for a break by capacitance": r"opens?[ _]by[ _]ratio",
    "a maker's table of lengths": r"feet[ _]per[ _]ohm",
    "a company's page, or a program's source": r"compan(y|ies)'s|training (compan|article|hand)|"
    r"magazine|forums?\b|(?<!braille )institute\b|cable maker|knowledge base|constants file|"
    r"load-schedule|open (java|librar)|training page|sources of an",
    "a maker's terminal": r"\b[568]\.2 ?mm|pitch_mm=\d\.2",
    "a bar and a button in somebody's colours": r"#102a43|#ffd24a",
    "people's names": r"\b(Ada|Grace|Bob)\b",
    "a maker's book": r"(instrument|locator|tester)'?s?'? manual|manual of (a|an|some) \w+",
}


@cache
def texts() -> list[Path]:
    found = [ROOT / place for place in PLACES]
    found += [file for place in found for file in place.rglob("*") if place.is_dir()]
    return [file for file in found if file.suffix in TEXTS and file != Path(__file__)]


@pytest.mark.parametrize("what", GONE)
def test_what_came_from_an_instrument_maker_is_gone(what: str) -> None:
    pattern = re.compile(GONE[what], re.I)
    held = [
        f"{file.relative_to(ROOT)}:{number}: {line.strip()}"
        for file in texts()
        if pattern.search(text_of(file))
        for number, line in enumerate(text_of(file).splitlines(), 1)
        if pattern.search(line)
    ]
    assert held == []


@pytest.mark.parametrize(
    ("what", "line"),
    [
        ("words for what a ratio of readings is worth", 'assert found.word == "Excellent"'),
        ("their table", 'load_table("absorption_bands")'),
        ("a maker's name for a break by capacitance", "OPENS_BY_RATIO = Source("),
        ("a maker's table of lengths", "gauge: int, feet_per_ohm: float"),
        ("a company's page, or a program's source", "# A training company's article: 32.8 A"),
        ("a company's page, or a program's source", "# read as: reprint; a constants file"),
        ("a maker's terminal", "Terminals' pitch, such as 5.2 mm."),
        ("a bar and a button in somebody's colours", "--deep: #102a43;"),
        ("people's names", 'who="Grace"'),
        ("a maker's book", "# As the manual of a hand-held meter prints them."),
        ("a maker's book", '"""A cable locator\'s manual says so."""'),
    ],
)
def test_each_of_them_would_be_found(what: str, line: str) -> None:
    assert re.search(GONE[what], line, re.I)


def test_the_files_that_people_read_are_searched() -> None:
    names = {str(file.relative_to(ROOT)) for file in texts()}
    assert {"README.md", "wiretrack/sources.py", "demo_db/site.json"} <= names
    assert "wiretrack/render/templates/conductor.html" in names


def test_nothing_that_is_shown_says_that_a_citation_is_from_memory() -> None:
    for file in texts():
        if not file.is_relative_to(ROOT / "wiretrack"):
            continue
        text = text_of(file)
        if file.suffix == ".py":
            assert not [one for one in strings(text) if "from memory" in one], file
        else:
            rows = [line for line in text.splitlines() if not line.startswith("#")]
            if file.name == "22-sources.md":  # which tells how each table was read
                continue
            assert not [line for line in rows if "from memory" in line], file


def test_a_string_is_told_from_a_docstring() -> None:
    source = '"""From memory."""\nA = "x (from memory)"\nB = f"{A} (from memory)"\n'
    assert strings(source) == ["x (from memory)", " (from memory)"]
