# SPDX-License-Identifier: MIT
"""On the demo site: what is retired is out of every list of work, and its record is still found."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.record_of import label_subjects as subjects
from tests.record_of import record_of
from wiretrack.cli.group import run
from wiretrack.errors import FieldError, RetiredError
from wiretrack.labels.forms.card import CARD
from wiretrack.labels.output import print_labels
from wiretrack.labels.stocks import get_stock, load_stocks
from wiretrack.library import OpenSite
from wiretrack.model.entities import Conductor
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import Wiring
from wiretrack.store.dumping import document
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.cutting import CutEnds
from wiretrack.tasks.change.extending import Extended, Extension, extend
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.describe.landing import Sure, land
from wiretrack.tasks.find.records import ConductorRecord, EnclosureRecord
from wiretrack.tasks.find.showing import conductor_page, scan, show_as
from wiretrack.tasks.find.site_map import site_map
from wiretrack.tasks.find.tracing import trace
from wiretrack.tasks.identify.request import Wanted, split_ends
from wiretrack.tasks.label import ends
from wiretrack.tasks.label.ends import Ends, label_due, place_labels
from wiretrack.tasks.report.checking import check
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.expecting import compare_with_route
from wiretrack.tasks.test.plan import owed_tests
from wiretrack.tasks.test.testing import ReadingText, log_reading, post_reading
from wiretrack.tasks.trouble.isolation import isolation
from wiretrack.tasks.trouble.lines import Temperatures, line_of
from wiretrack.tasks.trouble.searching import start
from wiretrack.web.access import Code, Settings
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.forms.card import BoxCard
    from wiretrack.store.store import Registry

# demo_db/site.json: HOIST and PUMP (three phases) and SLIPLT run through P-SLIP, BYP - W15 - LB3 -
# W16 - PB2 - W17 - JT1, ten conductors of 10 AWG THWN-2 in 1 in RMC.
AT = "2026-05-02"
HOIST_L1 = "6TS-TT6B"


@pytest.fixture
def cut(mill: Registry) -> Extended:
    """The hoist's conductors cut in PB2, the last pull point before the jetty."""
    ends = CutEnds(terminals="TB1:1-3,PE:1")
    return extend(mill, Extension(what=("HOIST",), through="PB2", ends=ends, at=AT))


def everything_named(registry: Registry, circuit: str) -> dict[str, set[str]]:
    """Return the tags that each list of work names."""
    bypass = show_as(registry, EnclosureRecord, "BYP")
    wires = {name for row in Wiring(site_of(registry)).whole().links if (name := row.name)}
    return {
        "punch list": {row.subject for row in punch_list(registry)},
        "labels due": {row.tag for row in label_due(registry)},
        "labels": {s.name for s in subjects(registry)},
        "labels of the circuit": {s.name for s in subjects(registry, circuit)},
        "tests due": {row.subject for row in owed_tests(registry, circuit)},
        "network": wires,
        "terminals": {str(end.conductor.tag) for row in bypass.terminals for end in row.ends},
        "ends in the box": {end["tag"] for end in record_of(registry, "BYP")["ends"]},
        "card": {str(row.tag) for row in card_of(registry, "BYP").rows},
        "circuit": {row["tag"] for row in record_of(registry, circuit)["conductors"]},
        "pull": {row["tag"] for row in record_of(registry, "P-SLIP")["conductors"]},
        "raceway": {row["tag"] for row in record_of(registry, "W15")["conductors"]},
        "rules": {row.subject for row in check(registry)},
        "ring-out": {
            str(c.tag)
            for part in split_ends(registry, Wanted(pull="P-SLIP", near="BYP", far="JT1"))
            for c in part
        },
    }


def card_of(registry: Registry, box: str) -> BoxCard:
    wanted = ends.Wanted(what=box, kind=CARD.kind)
    (card,) = CARD.subjects(ends.asked(registry, wanted))
    return card


def test_cut_conductors_are_in_no_list_of_work_and_their_pieces_are(
    mill: Registry, cut: Extended
) -> None:
    old = {row.tag for row in cut.cut}
    new = {getattr(row, piece).tag for row in cut.cut for piece in ("near", "far")}
    for where, named in everything_named(mill, "HOIST").items():
        assert not named & old, where
        assert named & new or where == "ring-out", where  # no piece runs from BYP to JT1


def test_an_abandoned_circuit_is_in_no_list_of_work(mill: Registry) -> None:
    tags = {row["tag"] for row in record_of(mill, "SLIPLT")["conductors"]}
    assert len(tags) == 3
    retire(mill, "SLIPLT", abandoned=True, at=AT)
    for where, named in everything_named(mill, "SLIPLT").items():
        assert not named & tags, where
    assert site_map(mill, ["W15"]).boxes


def test_abandoned_conductors_are_named_where_they_may_be_touched(mill: Registry) -> None:
    retire(mill, "SLIPLT", abandoned=True, at=AT)
    assert {row["circuit"] for row in record_of(mill, "JT1")["abandoned"]} == {"SLIPLT"}
    assert "3 abandoned: may be live" in card_of(mill, "JT1").hazards
    retired = record_of(mill, "W16")["retired"]
    assert [row["retired_because"] for row in retired] == ["abandoned"] * 3
    found = isolation(mill, ["BYP/Q3"])
    assert len(found.abandoned) == 3
    assert "may still be live" in found.cautions[0]


# NEC chapter 9 (reprint; original not seen): 10 AWG THWN-2 0.0211 in² (table 5), 1 in RMC 0.887 in²
# (table 4); ten take 0.211 in², 23.79 %, seven 0.1477 in², 16.65 %.
@pytest.mark.parametrize(("abandoned", "fill_pct"), [(True, 23.79), (False, 16.65)])
def test_abandoned_conductors_take_their_room_in_the_raceway(
    mill: Registry, abandoned: bool, fill_pct: float
) -> None:
    retire(mill, "SLIPLT", abandoned=abandoned, at=AT)
    (fill,) = [r for r in check(mill, "W16") if (r.rule, r.subject) == ("raceway-fill", "W16")]
    assert fill.figure == pytest.approx(fill_pct, abs=0.005)
    assert ("3 of them abandoned" in fill.reason) is abandoned


def test_a_cut_does_not_change_the_fill(mill: Registry, cut: Extended) -> None:
    assert cut.cut
    (fill,) = [r for r in check(mill, "W16") if (r.rule, r.subject) == ("raceway-fill", "W16")]
    assert fill.figure == pytest.approx(23.79, abs=0.005)


def test_whoever_is_sent_to_a_box_is_told_what_to_do_first(
    mill_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in (
        ["extend", "HOIST", "--through", "PB2", "--capped"],
        ["replace", "QF1-895O", "--same"],
        ["swap", "R20-HWWO", "DAN-1SBK", "--at", "BYP"],
    ):
        assert run(["--db", str(mill_path), *words]) == 0
        told = " ".join(capsys.readouterr().err.split())
        assert told.startswith("Before you begin: ! Isolate the circuit, lock it off")
        assert "Prove it dead" in told
        assert told.endswith("The local code and a licensed electrician decide.")


def test_a_conduit_body_on_a_site_of_the_nec_is_said_to_need_its_volume(mill: Registry) -> None:
    """NEC 314.16(C)(2) (reprint): splices only in conduit bodies marked with their volume."""
    ends = CutEnds(others="capped")
    at_body, in_box = (
        extend(mill, Extension(what=(what,), through=box, ends=ends, at=AT)).notes
        for what, box in (("HOIST", "LB3"), ("PUMP", "PB2"))
    )
    assert any("NEC 2023 314.16(C)(2)" in note for note in at_body)
    assert not any("314.16" in note for note in in_box)


ON_ONE_CONDUCTOR: list[Callable[[Registry, str], object]] = [
    lambda registry, tag: trace(registry, tag),
    lambda registry, tag: land(registry, tag, End(enclosure="JT1", state="loose")),
    lambda registry, tag: line_of(registry, [tag], Temperatures()),
    lambda registry, tag: compare_with_route(registry, tag, "0.3 ohm"),
    lambda registry, tag: subjects(registry, tag),
    lambda registry, tag: start(registry, "dead-circuit", tag),
    lambda registry, tag: retire(registry, tag, abandoned=True),
    lambda registry, tag: replace_conductor(registry, Replacement(tag=tag, same=True)),
    lambda registry, tag: log_reading(
        registry, ReadingText(subject=tag, kind="continuity", value="0.3 ohm", at="2026-05-03")
    ),
]


@pytest.mark.parametrize("use", ON_ONE_CONDUCTOR)
def test_work_on_a_cut_conductor_is_refused_and_its_pieces_are_named(
    mill: Registry, cut: Extended, use: Callable[[Registry, str], object]
) -> None:
    row = next(row for row in cut.cut if row.tag == HOIST_L1)
    with pytest.raises(RetiredError) as caught:
        use(mill, HOIST_L1)
    assert str(caught.value) == (
        f"{HOIST_L1} was cut in two on {AT}. Take what follows it: {row.near.tag} or {row.far.tag}."
    )


def test_a_reading_taken_before_the_cut_may_come_late(mill: Registry, cut: Extended) -> None:
    count = len(record_of(mill, HOIST_L1)["readings"])
    text = {"subject": HOIST_L1, "kind": "continuity", "value": "0.3 ohm"}
    log_reading(mill, ReadingText(**text, at="2026-05-02T08:00:00+00:00"))
    document = {**text, "id": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"}
    post_reading(mill, {**document, "at": "2026-05-01T08:00:00+00:00"})
    assert len(record_of(mill, HOIST_L1)["readings"]) == count + 2
    late = {**document, "id": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ac"}
    with pytest.raises(FieldError) as caught:
        post_reading(mill, {**late, "at": "2026-05-03T08:00:00+00:00"})
    assert caught.value.field == "subject"
    assert cut.cut[0].near.tag in str(caught.value) or "was cut" in str(caught.value)


def test_an_abandoned_conductor_may_be_tested_with_a_caution(mill: Registry) -> None:
    retire(mill, HOIST_L1, abandoned=True, at=AT)
    reading = ReadingText(subject=HOIST_L1, kind="voltage", value="0 V", against="PE")
    assert "abandoned" in log_reading(mill, reading).cautions[0]


def test_find_shows_what_is_in_service_first_and_says_what_is_retired(
    mill: Registry, cut: Extended
) -> None:
    hits = [hit for hit in find(mill, "hoist L1") if hit.what == "conductor"]
    assert len(hits) >= 3
    retired = ["retired cut" in hit.text for hit in hits]
    assert retired == sorted(retired)
    assert any(retired)
    first = next(hit for hit in find(mill, HOIST_L1) if hit.what == "conductor")
    assert format_tag(first.code) == HOIST_L1


def test_old_labels_are_to_be_taken_off_until_the_new_ones_are_on(
    mill: Registry, tmp_path: Path
) -> None:
    OpenSite(mill).print_labels(HOIST_L1, "flag-90x25-a4", tmp_path / "old.pdf")
    ends = CutEnds(others="capped")
    done = extend(mill, Extension(what=(HOIST_L1,), through="PB2", ends=ends, at=AT))
    (row,) = done.cut
    outer = {(row.near.tag, "from"), (row.far.tag, "to")}
    off = {(r.tag, r.end) for r in label_due(mill) if r.take_off == HOIST_L1}
    assert off == outer == {(r.tag, r.end) for r in done.labels_due if r.take_off}
    for piece in ("near", "far"):
        OpenSite(mill).print_labels(
            getattr(row, piece).tag, "flag-90x25-a4", tmp_path / f"{piece}.pdf"
        )
        assert {r.take_off for r in label_due(mill, getattr(row, piece).tag)} >= {HOIST_L1}
    known = Sure(new_terminal=True)  # so that it is known which end it is
    land(mill, row.far.tag, End(enclosure="JT1", terminal="TB9:1"), sure=known)
    for tag, _ in outer:
        place_labels(mill, Ends(tag))
    assert not {r.tag for r in label_due(mill)} & {tag for tag, _ in outer}
    assert not [r for r in label_due(mill) if r.take_off]


def test_labels_that_were_drawn_out_with_their_conductor_are_not_looked_for(
    mill: Registry, tmp_path: Path
) -> None:
    OpenSite(mill).print_labels(HOIST_L1, "flag-90x25-a4", tmp_path / "old.pdf")
    done = replace_conductor(mill, Replacement(tag=HOIST_L1, same=True, at=AT))
    assert [r.take_off for r in done.labels_due] == [None, None]
    assert not done.take_off


def test_a_photograph_of_an_old_label_leads_to_its_record_and_on(
    mill: Registry, tmp_path: Path
) -> None:
    stock = get_stock("flag-90x25-203", load_stocks())
    picture = tmp_path / "old.png"
    print_labels(subjects(mill, HOIST_L1)[:1], stock, picture)
    ends = CutEnds(others="capped")
    done = extend(mill, Extension(what=(HOIST_L1,), through="PB2", ends=ends, at=AT))
    (found,) = scan(mill, picture)
    assert isinstance(found.record, ConductorRecord)
    assert found.record.retired is not None
    assert (found.tag, found.record.retired.because) == (HOIST_L1, "cut")
    pieces = [getattr(done.cut[0], piece).tag for piece in ("near", "far")]
    assert found.record.retired.in_its_place == pieces


def test_the_page_of_an_old_label_links_to_what_follows(
    mill: Registry, mill_path: Path, cut: Extended
) -> None:
    codes = (Code("lantern-moss-17"),)
    app = create_app(Settings(db=mill_path, codes=codes))
    client = app.test_client()
    bearer = {"Authorization": "Bearer lantern-moss-17"}
    row = next(row for row in cut.cut if row.tag == HOIST_L1)
    page = client.get(f"/{HOIST_L1}", headers=bearer).text
    assert "cut in two" in page
    assert AT in page
    for piece in ("near", "far"):
        assert f'href="/{getattr(row, piece).tag}"' in page
    assert "Land, cap or loosen" not in page
    near = client.get(f"/{row.near.tag}", headers=bearer).text
    assert f'href="/{HOIST_L1}"' in near
    assert "readings don&#39;t count" in near or "readings don't count" in near
    answer = client.get(f"/api/conductors/{HOIST_L1}", headers=bearer).json
    assert answer is not None
    assert answer["retired"]["because"] == "cut"
    retire(mill, "SLIPLT", abandoned=True, at=AT)
    assert "SLIPLT" not in client.get("/tests", headers=bearer).text
    assert AT in client.get("/circuits/SLIPLT", headers=bearer).text
    assert "abandoned" in client.get("/enclosures/JT1", headers=bearer).text.lower()
    app.extensions["registries"].close()


def test_a_retired_conductor_has_no_open_points(mill: Registry, cut: Extended) -> None:
    assert conductor_page(mill, HOIST_L1).points == []
    assert conductor_page(mill, cut.cut[0].near.tag).points != []


def test_each_page_shows_what_the_punch_list_says_of_its_conductor(
    mill: Registry, cut: Extended
) -> None:
    told = [(row.subject, row.what, row.detail) for row in punch_list(mill)]
    shown = [
        (point.subject, point.what, point.detail)
        for row in mill.rows("SELECT tag FROM conductors")
        for point in conductor_page(mill, row["tag"]).points
    ]
    assert cut
    assert sorted(shown) == sorted(told)


def test_the_commands_print_one_document_with_json(
    mill_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    db = ["--db", str(mill_path)]
    for words in (
        ["extend", "HOIST", "--through", "PB2", "--capped", "--at", AT, "--json"],
        ["replace", "QF1-895O", "--same", "--on", AT, "--by", "cellar", "--json"],
        ["swap", "R20-HWWO", "DAN-1SBK", "--at", "BYP", "--json"],
        ["retire", "SLIPLT", "--abandoned", "--json"],
    ):
        assert run([*db, *words]) == 0
        assert isinstance(json.loads(capsys.readouterr().out), dict)
    with open_registry(mill_path) as registry:
        found = site_of(registry).one(Conductor, "QF1895O")
        assert (found.retired_at, found.retired_because) == (AT, "replaced")
        changes: Any = document(registry).rest["changes"]
        assert "cellar" in {change["by"] for change in changes if "by" in change}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["retire", "SLIPLT"], "error: Say what became of the conductors. Give --removed or"
         " --abandoned."),
        (["extend", "HOIST", "--through", "PB2", "--raceway", "W16"], "error: --raceway and --into"
         " go together. Give both, or neither."),
        (["extend", "HOIST", "--through", "PB2", "--bends", "90,90"], "error: --raceway-lengths"
         " and --bends go with --raceway and --into."),
        (["retire", "SLIPLT", "--removed", "--abandoned"], "error: --removed and --abandoned rule"
         " each other out. Give one of them."),
        (["extend", "HOIST", "--through", "PB2", "--loose", "--capped"], "error: --capped and"
         " --loose rule each other out. Give one of them."),
        (["land", "R20-HWWO", "BYP", "--loose", "--capped"], "error: --capped and --loose rule"
         " each other out. Give one of them."),
        (["extend", "HOIST"], None),
        (["swap", "R20-HWWO"], None),
        (["replace"], None),
    ],
)  # fmt: skip
def test_wrong_usage_is_one_line_and_writes_nothing(
    mill_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str | None
) -> None:
    assert run(["--db", str(mill_path), *words]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert sentence in (None, told.err.partition(" See:")[0])
