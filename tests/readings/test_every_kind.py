# SPDX-License-Identifier: MIT
"""Every kind of reading answers every question, and little else knows a kind by its name."""

from __future__ import annotations

import ast
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import wiretrack
from tests.readings.planning import planned, site_with, wire
from wiretrack.cli.wording import NEXT
from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.electrical.supplies import CircuitFacts
from wiretrack.errors import BadInputError, QuantityError
from wiretrack.model.entities import Circuit, Conductor, Reading
from wiretrack.model.entity import Subject
from wiretrack.model.parts import Device
from wiretrack.model.words import FUNCTIONS, SYSTEMS
from wiretrack.readings import BY_NAME, KINDS, TRENDED, kind_of
from wiretrack.readings.judging import Judge
from wiretrack.tasks.test.testing import OPTIONAL

if TYPE_CHECKING:
    from wiretrack.readings.base import ReadingKind

PACKAGE = Path(wiretrack.__file__).parent
SCHEMAS = PACKAGE.parent / "schemas"
MOST_FILES = 8  # that know a kind of reading by its name, beside its own
# Where a word that is a kind's name means something else.
OTHERWISE = {
    "loop": {
        "cli/find.py", "electrical/faults/locate.py", "render/tree.py", "tasks/find/topology.py",
        "tasks/find/tracing.py", "tasks/trouble/measured.py", "model/path.py", "web/trouble.py",
        "web/shared.py",
    },
    "insulation": {
        "cli/change.py", "cli/show.py", "electrical/assemble.py", "electrical/tables.py",
        "electrical/dimensions.py", "electrical/rules/insulation_type.py",
        "exchange/schema.py", "exchange/schedules.py", "model/entities.py", "model/kinds.py",
        "render/report/tested.py",
        "tasks/change/replacing.py", "tasks/find/conductors.py",
    },
    "voltage": {"electrical/rules/voltage_drop.py", "ringout/answers.py", "model/kinds.py"},
}  # fmt: skip
each_kind = pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])


SUBJECTS: dict[str, Any] = {
    "conductor": wire("L1", "L1", length_m=67.0),
    "device": Device(enclosure="A", code="Q1", kind="breaker", poles=(("1", "2"),)),
    "circuit": Circuit(code="K", system="ac-3ph", max_voltage_v=400.0, supply="400Y/230"),
}
NAMES = {"conductor": "L1", "device": Subject.of_device("A", "Q1"), "circuit": Subject("K")}
SITE = site_with(
    SUBJECTS["circuit"],
    [SUBJECTS["conductor"], *(wire(f, f, length_m=67.0) for f in ("L2", "N", "PE"))],
    devices=(SUBJECTS["device"],),
)
JUDGE = Judge(SITE)


def reading(
    kind: ReadingKind, value: str, *, against: str | None = None,
    test_voltage_v: float | None = None, temp_c: float | None = None,
) -> Reading:  # fmt: skip
    measured = kind.parse(value)
    return Reading(
        kind=kind.name, subject=NAMES[kind.subjects[0]], value=value, number=measured.number,
        unit=measured.unit,
        over_range=measured.over_range, against=against, test_voltage_v=test_voltage_v,
        temp_c=temp_c,
    )  # fmt: skip


def test_each_word_of_a_kind_has_its_file_and_each_file_its_word() -> None:
    others = {"__init__", "base", "judging", "trending"}
    files = {path.stem for path in (PACKAGE / "readings").glob("*.py")} - others
    assert {word.replace("-", "_") for word in BY_NAME} == files
    assert [kind.order for kind in KINDS] == sorted({kind.order for kind in KINDS})


@each_kind
def test_a_kind_says_what_it_is_and_how_it_is_typed(kind: ReadingKind) -> None:
    assert kind.title
    entry = kind.entry()
    assert kind.parse(f"1 {entry.prefix}{entry.unit}").unit == entry.unit
    assert set(entry.fields) <= set(OPTIONAL)
    assert kind.against
    assert kind.caution.endswith(".")
    names = {"subject": "S", "against": "A", "near": "N", "far": "F"}
    assert "S" in kind.leads_on.format(**names)
    assert kind.if_failed[0] in NEXT
    assert kind.told(kind.against[0]).endswith(kind.against[0])
    assert all(SUBJECTS[subject] for subject in kind.subjects)
    assert entry.signed == (kind.parse(f"-1 {entry.unit}").number == -1) if entry.signed else True
    with pytest.raises(QuantityError):
        kind.parse("soon")


@each_kind
def test_over_range_is_no_value_and_no_pass(kind: ReadingKind) -> None:
    measured = kind.parse("OL")
    assert measured.over_range
    assert measured.number is None
    volts = 500.0 if "test_voltage" in kind.fields else None
    taken = reading(kind, "OL", against="PE", test_voltage_v=volts)
    for subject in kind.subjects:
        assert JUDGE.verdict(replace(taken, subject=NAMES[subject])).outcome != "pass"


@each_kind
def test_a_verdict_names_its_source_and_its_reason(kind: ReadingKind) -> None:
    assert kind.subjects
    for subject in kind.subjects:
        taken = reading(kind, "1", against=kind.against[-1])
        found = JUDGE.check(replace(taken, subject=NAMES[subject]))
        assert found.unit == kind.unit
        assert found.source
        assert found.reason


@each_kind
@pytest.mark.parametrize("system", [None, *SYSTEMS])
def test_what_is_owed_is_of_the_kind_and_cites_why(kind: ReadingKind, system: str | None) -> None:
    circuit = Circuit(code="K", system=system, max_voltage_v=100.0)
    site = site_with(circuit, [wire(name, name) for name in FUNCTIONS], metal=True)
    functions: dict[str | None, str] = {c.tag: c.function for c in site.every(Conductor)}
    for step in kind.owed(site.one(Circuit, "K")):
        assert step.kind == kind.name
        assert step.source
        assert step.why
        assert kind.proves(step, {(step.kind, step.subject, step.against)})
        assert not kind.proves(step, {(step.kind, "another", step.against)})
        kind.expected(step, CircuitFacts(system=system), functions)


@each_kind
def test_cautions_end_with_the_last_word_and_know_the_system(kind: ReadingKind) -> None:
    assert kind.cautions()[-1] == LAST_WORD
    assert len(kind.cautions("dc-pv", ("roof-array",))) > len(kind.cautions()) > 2
    assert isinstance(kind.is_guarded, bool)
    assert isinstance(kind.rests_on_landing, bool)


@each_kind
def test_a_trend_compares_at_one_temperature(kind: ReadingKind) -> None:
    assert (kind.name in TRENDED) == (kind.trend is not None)
    one = reading(kind, "10", temp_c=40.0)
    conductor = SITE.one(Conductor, "L1")
    found = kind.at_20(one, conductor)
    assert found.note
    if kind.trend is None:
        assert found.value == 10
        return
    # Copper has less resistance in the cold, insulation more.
    assert (found.value > 10) == kind.trend.is_log
    assert kind.compares(one)
    limit = kind.limit_at_20(10.0, one, found.value)
    assert limit == (10.0 if kind.trend.is_log else pytest.approx(found.value))


def test_the_working_order_is_that_of_the_standard() -> None:
    """IEC 60364-6:2016, 6.4.3.1 (reprint): continuity, insulation resistance, then polarity."""
    members = [wire(name, name) for name in ("L1", "N", "PE")]
    kinds = [step.kind for step in planned("ac-1ph", members, max_voltage_v=230.0)]
    assert list(dict.fromkeys(kinds)) == ["continuity", "insulation", "voltage"]


def test_an_unknown_kind_names_those_there_are() -> None:
    with pytest.raises(BadInputError) as caught:
        kind_of("telepathy")
    assert str(caught.value) == (
        f"'telepathy' is not a kind of reading. Kinds: {', '.join(BY_NAME)}."
    )


def test_the_api_says_the_kinds_and_their_units() -> None:
    api = json.loads((SCHEMAS / "openapi.json").read_text("utf-8"))
    enums = [tuple(found) for found in enums_of(api)]
    assert enums.count(tuple(BY_NAME)) == 2
    assert tuple(dict.fromkeys(kind.unit for kind in KINDS)) in enums


def enums_of(node: object) -> list[list[str]]:
    if isinstance(node, list):
        return [enum for item in node for enum in enums_of(item)]
    if not isinstance(node, dict):
        return []
    own = [node["enum"]] if "enum" in node else []
    return own + enums_of(list(node.values()))


def knowing(file: Path) -> bool:
    """Return whether a file has a kind's name as a text of its own, or imports a kind."""
    here = str(file.relative_to(PACKAGE))
    names = {word for word in BY_NAME if here not in OTHERWISE.get(word, ())}
    modules = {f"wiretrack.readings.{word.replace('-', '_')}" for word in BY_NAME}
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Constant) and node.value in names:
            return True
        if isinstance(node, ast.ImportFrom) and node.module in modules:
            return True
    return False


def test_at_most_8_files_know_a_kind_by_its_name_beside_its_own() -> None:
    own = {f"readings/{word.replace('-', '_')}.py" for word in BY_NAME}
    known = [str(f.relative_to(PACKAGE)) for f in sorted(PACKAGE.rglob("*.py")) if knowing(f)]
    files = [file for file in known if file not in own]
    assert len(files) <= MOST_FILES, files


def test_no_script_or_template_knows_a_kind() -> None:
    quoted = re.compile("|".join(f"[\"']{word}[\"']" for word in BY_NAME))
    for file in (PACKAGE / "web").rglob("*"):
        if file.suffix in (".js", ".html"):
            assert not quoted.search(file.read_text("utf-8")), file
