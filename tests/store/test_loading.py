# SPDX-License-Identifier: MIT
"""Records in and out: loading a dump gives an equal registry; nothing is half loaded."""

from __future__ import annotations

import sqlite3
import tracemalloc
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tests.benchmarks.parts_speed import wired
from tests.record_of import add_document
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, End, FarEnd, Instrument, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import NO_TAG, Tag, check_character
from wiretrack.procedure import FAULT_SEARCH, RINGOUT
from wiretrack.store import label_log, procedures, reading_log, searching
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.loading import create_registry
from wiretrack.store.store import Registry, open_registry
from wiretrack.store.writing import add_site
from wiretrack.tasks.describe.sites import dump_site, new_site

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

TAG = "PVMP01" + check_character("PVMP01")
OLD, NEAR, FAR = (body + check_character(body) for body in ("PVMP11", "PVMP12", "PVMP13"))
SITE = SiteDocument(
    site=SiteFacts(code="ML", name="Mill", units="m", rules="IEC"),
    enclosures=(
        Enclosure(code="MDB", kind="panelboard", name="main board", where="barn"),
        Enclosure(code="PH1", kind="junction-box", name="pump box", wet=True),
    ),
    devices=(
        Device(enclosure="MDB", code="Q4", kind="breaker", closed=True, poles=(("Q4:1", "Q4:2"),)),
    ),
    raceways=(
        Raceway(
            code="W1",
            from_enclosure="MDB",
            to_enclosure="PH1",
            type="RMC",
            trade_size="1",
            length_m=64.0,
            bends_deg=180.0,
            metal=True,
            walls_m=(1.5, 30.0),
        ),
    ),
    circuits=(Circuit(code="PUMP", title="bore pump", system="ac-3ph", max_voltage_v=400.0),),
    pulls=(Pull(code="P1", path=("W1",), far_ends=(FarEnd(enclosure="PH1", mark="1"),)),),
    conductors=(
        Conductor(
            tag=Tag(TAG),
            circuits=("PUMP",),
            function="L1",
            size="4 mm2",
            metal="Cu",
            strands=7,
            colour="BN",
            pull="P1",
            length_m=67.0,
            from_end=End(enclosure="MDB", terminal="Q4:1"),
            to_end=End(enclosure="PH1"),
        ),
    ),
    instruments=(Instrument(code="M1", kind="ohmmeter", accuracy="0.5% + 2 digits"),),
    readings=(
        Reading(
            kind="continuity",
            subject=TAG,
            value="0.31 ohm",
            number=0.31,
            unit="ohm",
            at="2026-05-02T10:15:00+02:00",
            instrument="M1",
        ),
    ),
)


def empty(path: Path) -> Registry:
    create_registry(path)
    registry = open_registry(path)
    add_site(registry, SiteFacts(name="new"))
    return registry


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    with empty(tmp_path / "mill.db") as opened:
        add_document(opened, SITE, who="roof")
        yield opened


def test_what_was_loaded_is_what_the_document_said(registry: Registry) -> None:
    found = document(registry)
    assert replace(found.site, id=None) == SITE.site
    assert [replace(e, id=None) for e in found.enclosures] == list(SITE.enclosures)
    assert [replace(r, id=None) for r in found.raceways] == list(SITE.raceways)
    assert [replace(d, id=None) for d in found.devices] == list(SITE.devices)
    assert [replace(p, id=None) for p in found.pulls] == list(SITE.pulls)
    assert [replace(r, id=None) for r in found.readings] == list(SITE.readings)
    conductor = found.conductors[0]
    assert conductor.from_end == End(enclosure="MDB", terminal="Q4:1", state="landed")
    assert conductor.to_end == End(enclosure="PH1")
    assert {(t.enclosure, t.code) for t in found.terminals} == {("MDB", "Q4:1"), ("MDB", "Q4:2")}


def test_loading_a_dump_gives_an_equal_registry(registry: Registry, tmp_path: Path) -> None:
    ringout = procedures.start(
        registry,
        RINGOUT,
        {"pull": "P1", "near": "MDB", "far": "PH1"},
        {"references": ["raceway"]},
        after=None,
    )
    step = {"step": "walk", "to": "far"}
    ringout = procedures.add_answer(registry, ringout, step, {"done": True})
    result = {"matches": [{"near": TAG, "far": "1"}], "walks": 1}
    procedures.finish(registry, ringout, result)
    about = {"circuit": "PUMP", "symptom": "dead-circuit"}
    search = procedures.start(registry, FAULT_SEARCH, about, {"suspects": []}, after=None)
    asked = procedures.add_answer(registry, search, {"question": 1}, {"outcome": "no"})
    assert asked is not None
    again = {"outcome": "yes"}
    asked = procedures.add_answer(registry, asked, {}, again, supersedes=asked.answers[0])
    procedures.finish(registry, asked, {"left": ["W"]})
    legend = {"tag": TAG, "circuit": "PUMP"}
    printed = {"tag": TAG, "end": "to", "form": "flag", "stock": "s", "legend": legend}
    label_log.add_prints(registry, [printed])
    (label,) = document(registry).rest["label_prints"]
    of_end = {"tag": TAG, "end": "to"}
    with registry.write():
        rows: list[dict[str, object]] = [
            of_end | {"print_id": label["id"]},
            {"tag": TAG, "end": "from", "legend": legend},
        ]
        label_log.add_placed(registry, rows, who="roof")
        first = registry.row("SELECT id FROM placed_labels WHERE print_id IS NOT NULL")
        assert first is not None
        label_log.add_placed(registry, [of_end | {"takes_back": first["id"]}])
    found = document(registry)
    assert [sorted({"print", "legend", "takes_back"} & row.keys()) for row in
            found.rest["placed_labels"]] == [["print"], ["legend"], ["takes_back"]]  # fmt: skip
    with empty(tmp_path / "copy.db") as copy:
        add_document(copy, found)
        assert document(copy) == found
        assert problems(copy) == []
    assert found.conductors[0].to_end.mark == "1"
    assert any(change["by"] == "roof" for change in found.rest["changes"])


def test_a_dump_with_retired_and_following_conductors_loads_in_any_order(
    registry: Registry, tmp_path: Path
) -> None:
    old = replace(SITE.conductors[0], tag=Tag(OLD), retired_at="2026-05-02", retired_because="cut")
    pieces = [replace(SITE.conductors[0], tag=Tag(tag), follows=Tag(OLD)) for tag in (NEAR, FAR)]
    circuit = Circuit(code="GONE", retired_at="2026-05-03T08:00:00Z")
    add_document(registry, SiteDocument(conductors=(*pieces, old), circuits=(circuit,)))
    found = document(registry)
    with empty(tmp_path / "copy.db") as copy:
        add_document(copy, found)
        assert document(copy) == found
        assert problems(copy) == []
    by_tag: dict[str, Conductor] = {conductor.tag: conductor for conductor in found.conductors}
    assert [by_tag[tag].follows for tag in (NEAR, FAR, OLD)] == [OLD, OLD, None]
    assert (by_tag[OLD].retired_at, by_tag[OLD].retired_because) == ("2026-05-02", "cut")
    assert found.circuits[1].retired_at == "2026-05-03T08:00:00Z"


def test_retiring_is_noted_in_the_history(registry: Registry) -> None:
    with registry.write("cellar") as db:
        db.execute("UPDATE conductors SET retired_at = '2026-05-02', retired_because = 'removed'")
    change = document(registry).rest["changes"][-1]
    old, new = change["old"], change["new"]
    assert isinstance(old, dict)
    assert isinstance(new, dict)
    assert change["by"] == "cellar"
    assert (old["retired_because"], new["retired_because"]) == (None, "removed")
    assert {"follows_id", "retired_at"} <= new.keys()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE conductors SET retired_because = 'cut'",
        "UPDATE conductors SET retired_at = '2026-05-02'",
        "UPDATE conductors SET retired_at = '2026-05-02', retired_because = 'lost'",
        "UPDATE conductors SET follows_id = id",
    ],
)
def test_half_a_retirement_is_refused(registry: Registry, statement: str) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        registry.db.execute(statement)


def test_a_conductor_in_service_in_a_retired_circuit_breaks_the_registry(
    registry: Registry,
) -> None:
    with registry.write() as db:
        db.execute("UPDATE circuits SET retired_at = '2026-05-02'")
    assert [problem.what for problem in problems(registry)] == [
        f"conductor {TAG} is in use in circuit PUMP, which is retired"
    ]


def test_answers_of_a_fault_search_stay_and_the_last_one_counts(registry: Registry) -> None:
    about = {"circuit": "PUMP", "symptom": "low-voltage"}
    begun = procedures.start(registry, FAULT_SEARCH, about, {}, after=None)
    asked = procedures.add_answer(registry, begun, {"question": 3}, {"outcome": "no"})
    first = asked.answers[0]
    procedures.add_answer(registry, asked, first.step, {"outcome": "yes"}, supersedes=first)
    found = procedures.latest(registry, FAULT_SEARCH, circuit="PUMP")
    assert found is not None
    assert [(a.number, a.answer["outcome"], a.superseded) for a in found.answers] == [(1, "yes", 1)]
    assert problems(registry) == []
    for statement in ("UPDATE procedure_answers SET answer = '{}'",
                      "DELETE FROM procedure_answers"):  # fmt: skip
        with pytest.raises(sqlite3.IntegrityError, match="an answer is never"):
            registry.db.execute(statement)


def test_a_document_with_one_impossible_record_loads_nothing(registry: Registry) -> None:
    before = document(registry)
    second = replace(SITE.conductors[0], tag=NO_TAG, size="6 mm2")
    twice = SiteDocument(
        conductors=(second,), enclosures=(Enclosure(code="NEW"), Enclosure(code="MDB"))
    )
    with pytest.raises(sqlite3.IntegrityError):
        add_document(registry, twice)
    assert document(registry) == before


def test_a_file_of_another_site_is_refused(registry: Registry) -> None:
    with pytest.raises(BadInputError) as caught:
        add_document(registry, SiteDocument(site=SiteFacts(code="OTHER")))
    assert str(caught.value) == (
        "This registry is of site 'ML', the file is of site 'OTHER'."
        " Load it into a registry of its own."
    )


def test_a_reading_can_not_be_changed_or_deleted(registry: Registry) -> None:
    for statement in ("UPDATE readings SET number = 1", "DELETE FROM readings"):
        with pytest.raises(sqlite3.IntegrityError, match="a reading is never"):
            registry.db.execute(statement)


def test_a_reading_is_superseded_at_most_once(registry: Registry) -> None:
    first = document(registry).readings[0]
    later = replace(first, id=None, number=0.3, value="0.30 ohm", supersedes=first.id)
    reading_log.add_reading(registry, later)
    with pytest.raises(sqlite3.IntegrityError, match="superseded already"):
        reading_log.add_reading(registry, later)


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("pump", ("circuit", "PUMP")),
        ("barn", ("enclosure", "MDB")),
        ("bore l1", ("conductor", TAG)),
        (TAG.lower(), ("conductor", TAG)),
        (f"{TAG[:3]}-{TAG[3:]}", ("conductor", TAG)),
        ("Q4:1", ("conductor", TAG)),
        ("w1 rmc", ("raceway", "W1")),
        ("0.31", ("reading", TAG)),
        ("p1", ("pull", "P1")),
    ],
)
def test_everything_a_person_would_type_is_found(
    registry: Registry, words: str, first: tuple[str, str]
) -> None:
    hits = searching.find(registry, words)
    assert (hits[0].what, hits[0].code) == first


@pytest.mark.parametrize("words", ["", '"', "OR", "NEAR(", "* *", "pump AND", "a:b", "\x00"])
def test_no_text_is_a_syntax_error_for_the_search(registry: Registry, words: str) -> None:
    assert isinstance(searching.find(registry, words), list)


def test_the_search_follows_a_renamed_circuit(registry: Registry) -> None:
    with registry.write() as db:
        db.execute("UPDATE circuits SET title = 'tide gauge' WHERE code = 'PUMP'")
    assert ("conductor", TAG) in [(h.what, h.code) for h in searching.find(registry, "gauge")]
    assert searching.find(registry, "bore") == []


@pytest.mark.parametrize(
    ("statement", "word", "what"),
    [
        ("UPDATE enclosures SET code = 'LIGHTHOUSE' WHERE code = 'MDB'", "lighthouse", "raceway"),
        ("UPDATE circuits SET code = 'TIDE'", "tide", "reading"),
        ("UPDATE instruments SET code = 'FLUX7'", "flux7", "reading"),
    ],
)
def test_the_search_follows_a_code_to_what_names_it(
    registry: Registry, statement: str, word: str, what: str
) -> None:
    with registry.write() as db:
        db.execute(statement)
    assert what in {hit.what for hit in searching.find(registry, word)}


def test_what_breaks_the_registry_is_named(registry: Registry) -> None:
    with registry.write() as db:
        db.execute("DELETE FROM ends WHERE side = 'to'")
    assert [p.what for p in problems(registry)] == [f"conductor {TAG} has not two ends"]


def test_a_dump_keeps_no_rows_in_memory(tmp_path: Path) -> None:
    new_site(tmp_path / "large.db", "large")
    with open_registry(tmp_path / "large.db") as registry:
        add_document(registry, wired(0, 1_600))
        dump_site(registry, tmp_path / "first.json")  # so that what is cached once is cached
        whole = _peak_bytes(lambda: document(registry))
        # What else the process does in that moment counts too: the less of two is the dump's.
        again = [_peak_bytes(lambda: dump_site(registry, tmp_path / "2.json")) for _ in range(2)]
    assert min(again) < whole / 10, (whole, again)


def _peak_bytes(does: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        does()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
