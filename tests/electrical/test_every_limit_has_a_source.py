# SPDX-License-Identifier: MIT
"""No limit without its source: in the code, in the tables, and in all that a user sees."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

import wiretrack.electrical
from tests.drawing import each
from tests.readings.planning import planned, wire
from wiretrack import sources
from wiretrack.electrical.checks import check_document, markings_of
from wiretrack.electrical.continuity import Piece, continuity_verdict
from wiretrack.electrical.insulation import insulation_verdict
from wiretrack.electrical.supplies import CircuitFacts
from wiretrack.electrical.voltage import voltage_verdict
from wiretrack.exchange.read import read_site
from wiretrack.model.words import FUNCTIONS, NEC_EDITIONS, SYSTEMS
from wiretrack.readings import parse_reading
from wiretrack.sources import Source

ROOM = Path(wiretrack.electrical.__file__).parent
TESTS = Path(__file__).parents[1]
FILES = sorted(ROOM.rglob("*.py"))
KNOWN = [s for s in vars(sources).values() if isinstance(s, Source)]
PUBLISHED = re.compile(
    "|".join(re.escape(s.key.split(":")[0]) for s in KNOWN) + "|exact|standard test conditions"
)
# Numbers that limit what can be typed or shown, or index a list: no figure of the trade.
PLUMBING = {
    "_LONGEST", "_STEPS", "_MOST_PARTS", "_COUNTS_OF", "AWG", "_RANK", "_GRAVITY", "_SAME",
    "_LOW_OHM", "LONGEST_M", "_MOST_PAIRS_OF", "_SIGNS", "_MOST_NAMED",
}  # fmt: skip


def constants(file: Path) -> list[tuple[str, int, int]]:
    """The module's constants that hold a number: name, first and last line."""
    found = []
    for node in ast.parse(file.read_text("utf-8")).body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        name = ast.unparse(target)
        numbers = [
            n for n in ast.walk(node.value)
            if isinstance(n, ast.Constant) and isinstance(n.value, int | float)
            and not isinstance(n.value, bool)
        ]  # fmt: skip
        if numbers and name.split(",")[0].strip("()").upper() == name.split(",")[0].strip("()"):
            found.append((name, node.lineno, node.end_lineno or node.lineno))
    return found


def remarks(file: Path, first: int, last: int) -> str:
    """The comments on a statement and right above it."""
    lines = file.read_text("utf-8").splitlines()
    said = [line.partition("#")[2] for line in lines[first - 1 : last]]
    above = first - 2
    while above >= 0 and (lines[above].startswith("#") or _is_constant(lines[above])):
        said.append(lines[above].partition("#")[2])
        if _is_constant(lines[above]) and "#" in lines[above]:
            break
        above -= 1
    return " ".join(said)


def _is_constant(line: str) -> bool:
    return bool(re.match(r"[A-Z_]+[A-Z0-9_, ]* = ", line))


def is_reader(file: Path, first: int, last: int) -> bool:
    """Whether the statement tells how text is read, not how large a figure of the trade is."""
    said = " ".join(file.read_text("utf-8").splitlines()[first - 1 : last])
    return bool(re.search(r"_Quantity\(|dict\.fromkeys|re\.compile|_scales", said))


FIGURES = [
    (file, name, first, last)
    for file in FILES
    for name, first, last in constants(file)
    if name not in PLUMBING and not is_reader(file, first, last)
]


def test_the_figures_of_the_trade_are_found_in_the_code() -> None:
    names = {name for _, name, _, _ in FIGURES}
    assert {"IEC_ALPHA_20", "CONTACT_OHM", "NIPPLE_M", "ELV_AC_V, ELV_DC_V", "IEC_FACTOR"} <= {
        name.strip("()") for name in names
    }


@each(FIGURES)
def test_every_figure_in_the_code_names_its_publication(
    figure: tuple[Path, str, int, int],
) -> None:
    file, name, first, last = figure
    said = remarks(file, first, last)
    assert PUBLISHED.search(said), f"{file.name}: {name} says only: {said!r}"


DEMO = read_site(TESTS.parent / "demo_db" / "site.json")
STARTS = (
    "NEC", "IEC", "ANSI", "IEEE", "common practice", "highest voltage stated for the circuit",
)  # fmt: skip


@pytest.mark.parametrize("edition", [*NEC_EDITIONS, None])
@pytest.mark.parametrize("rules", ["NEC", "IEC", None])
def test_every_finding_names_its_publication_and_gives_a_reason(
    rules: str | None, edition: int | None
) -> None:
    site = replace(DEMO.site, rules=rules, edition=edition if rules == "NEC" else None)
    document = replace(DEMO, site=site)
    for finding in check_document(document):
        assert finding.source.startswith(STARTS), finding
        assert finding.reason
    for marking in markings_of(document):
        assert marking.source.startswith("NEC")


READINGS = ["0", "0.3", "500M", ">2000M", "OL", ">1"]


@each(list(product([*SYSTEMS, None], READINGS)))
def test_every_verdict_on_insulation_names_its_publication(system: str | None, text: str) -> None:
    for volts, test_v in product((None, 24, 400, 900), (None, 250, 500, 1000)):
        verdict = insulation_verdict(
            parse_reading("insulation", text), test_v, system=system, max_voltage_v=volts
        )
        assert verdict.source.startswith(STARTS)
        assert verdict.reason


@pytest.mark.parametrize("text", READINGS)
def test_every_verdict_on_continuity_names_its_publication(text: str) -> None:
    for size, metal, length_m, temp_c in product(
        ("12 AWG", "4 mm2", "0.25 mm2", None), ("Cu", "Al", None), (46, None), (20, None)
    ):
        path = [Piece(size, metal, length_m)]
        verdict = continuity_verdict(parse_reading("loop", text), path, temp_c=temp_c)
        assert verdict.source.startswith(STARTS)
        assert verdict.reason


@each(list(product([*SYSTEMS, None], FUNCTIONS)))
def test_every_verdict_on_voltage_names_its_publication(system: str | None, function: str) -> None:
    for text, against, volts in product(("-5", "0", "400", "OL"), (None, "PE", "L-"), (None, 400)):
        verdict = voltage_verdict(
            parse_reading("voltage", text), CircuitFacts(system, volts), function, against
        )
        assert verdict.source.startswith(STARTS)
        assert verdict.reason


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_step_of_a_plan_names_its_publication(system: str) -> None:
    conductors = [wire(f, f) for f in FUNCTIONS]
    assert all(s.source.startswith(STARTS) for s in planned(system, conductors))


@each(KNOWN)
def test_every_publication_is_cited_beside_a_check(source: Source) -> None:
    key = source.key.split(":")[0]
    texts = (file.read_text("utf-8") for file in TESTS.rglob("test_*.py"))
    assert any(key in text for text in texts), f"no test cites {source.key}"


def test_what_is_from_memory_is_cited_without_a_clause_or_table() -> None:
    for source in KNOWN:
        cited = source.key if source.read_as == "memory" else f"{source.key} table 1"
        assert source.cite("table 1") == cited
    assert {"IEC 60364-7-712", "IEC 60364-4-41"} <= {s.key for s in KNOWN if s.read_as == "memory"}
