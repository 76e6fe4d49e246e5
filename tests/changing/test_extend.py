# SPDX-License-Identifier: MIT
"""Circuits led through a box: each conductor becomes two, and nothing of the old one is lost."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Any

import pytest

from tests.changing.barn import FREE, L1, PE, SOCKET, N
from tests.record_of import record_of
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, NotFoundError, RetiredError
from wiretrack.model.entities import Conductor, Raceway
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import changing, procedures
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.loading import add_conductor
from wiretrack.store.source import site_of
from wiretrack.tasks.change.cutting import CutEnds, Division
from wiretrack.tasks.change.extending import Extended, Extension, Untouched, extend
from wiretrack.tasks.describe.landing import land
from wiretrack.tasks.find.tracing import trace

if TYPE_CHECKING:
    from sqlite_utils import Database

    from wiretrack.store.store import Registry

LIGHT = "LIGHT"
AT = "2026-05-02"


def through(
    registry: Registry, *what: str, box: str = "C", division: Division | None = None,
    at: str = AT, **ends: Any,
) -> Extended:  # fmt: skip
    said = CutEnds(**(ends or {"terminals": "TB9:1-3"}))
    wanted = Extension(what=what, through=box, division=division, ends=said, at=at)
    return extend(registry, wanted, who="cellar")


def conductor(registry: Registry, tag: str) -> Conductor:
    return site_of(registry).one(Conductor, parse_tag(tag))


def test_of_a_cable_that_is_cut_the_near_piece_keeps_the_name(barn: Registry) -> None:
    with barn.write() as db:
        db.execute("UPDATE conductors SET cable = 'K1', core = '1' WHERE tag = ?", [L1])
    row = through(barn, LIGHT).cut[0]
    pieces = [conductor(barn, getattr(row, piece).tag) for piece in ("near", "far")]
    assert [(piece.cable, piece.core) for piece in pieces] == [("K1", "1"), (None, "1")]
    assert problems(barn) == []


def test_each_conductor_becomes_two_that_meet_in_the_box(barn: Registry) -> None:
    done = through(barn, LIGHT)
    assert [row.tag for row in done.cut] == [format_tag(t) for t in (L1, N, PE)]
    for row, terminal in zip(done.cut, ("TB9:1", "TB9:2", "TB9:3"), strict=True):
        old, near, far = (conductor(barn, t) for t in
                          (row.tag, row.near.tag, row.far.tag))  # fmt: skip
        assert (old.retired_at, old.retired_because) == (AT, "cut")
        assert near.follows == far.follows == old.tag
        assert (near.from_end, far.to_end) == (old.from_end, old.to_end)
        for end in (near.to_end, far.from_end):
            assert (end.enclosure, end.terminal, end.state) == ("C", terminal, "landed")
        for piece in (near, far):
            assert (piece.size, piece.metal, piece.insulation, piece.colour, piece.pull) == (
                old.size, old.metal, old.insulation, old.colour, old.pull)  # fmt: skip
            assert (piece.length_m, piece.note, piece.retired_at) == (None, None, None)
    assert problems(barn) == []


def test_the_path_leads_through_both_pieces(barn: Registry) -> None:
    row = through(barn, LIGHT).cut[0]
    path = trace(barn, row.near.tag).as_json()["path"]
    assert isinstance(path, list)
    assert [item["conductor"] for item in path if "conductor" in item] == [
        row.near.tag, row.far.tag]  # fmt: skip
    assert record_of(barn, row.near.tag)["route"] == ["W1", "W2"]
    assert record_of(barn, row.far.tag)["route"] == ["W3"]


def test_what_was_read_before_the_cut_is_shown_under_both_pieces_as_the_old_ones(
    barn: Registry,
) -> None:
    before = {r["id"]: r["verdict"] for r in record_of(barn, L1)["readings"]}
    assert len(before) == 4
    row = through(barn, LIGHT, terminals="TB9:1-3", lengths=("25 m,15 m",)).cut[0]
    for piece in ("near", "far"):
        shown = record_of(barn, getattr(row, piece).tag)
        assert shown["readings"] == []
        (earlier,) = shown["earlier"]
        assert (earlier["tag"], earlier["length_m"]) == (format_tag(L1), 40.0)
        # judged by the old conductor's 40 m, not by the piece's length
        assert {r["id"]: r["verdict"] for r in earlier["readings"]} == before
    assert [r["id"] for r in record_of(barn, L1)["readings"]] == list(before)


def test_stated_lengths_are_kept_and_unknown_ones_stay_unknown(barn: Registry) -> None:
    lengths = ("25 m, ?", f"{format_tag(N)}=20m,20m")
    rows = through(barn, LIGHT, others="capped", lengths=lengths).cut
    found = [(row.near.length_m, row.far.length_m) for row in rows]
    assert found == [(25.0, None), (20.0, 20.0), (25.0, None)]


def test_each_conductor_may_get_terminals_of_its_own(barn: Registry) -> None:
    land = (f"{L1}=S9:1,S9:2", f"{format_tag(N)}=N9")
    done = through(barn, LIGHT, land=land, others="capped")
    assert [(row.near.to, row.far.from_) for row in done.cut] == [
        ("C S9:1", "C S9:2"), ("C N9", "C N9"), ("C (capped)", "C (capped)")]  # fmt: skip
    assert done.notes == [
        "Open in C, as no device connects S9:1 and S9:2 in the record:"
        f" LIGHT L1 ({format_tag(L1)}).",
        f"Open in C, as the ends there are capped: LIGHT PE ({format_tag(PE)}).",
    ]


def test_a_box_put_into_a_raceway_divides_it_for_every_pull(barn: Registry) -> None:
    # W2 is recorded from C to B, and the pull goes through it from B to C.
    division = Division(raceway="W2", into="W2A,W2B", lengths="4 m, 5 m", bends="90,90")
    done = through(barn, LIGHT, box="X", division=division)
    assert done.raceway
    assert done.raceway.pulls == ["P"]
    first, second = site_of(barn).find(Raceway, "code", ["W2A", "W2B"])
    assert (first.code, first.from_enclosure, first.to_enclosure) == ("W2A", "C", "X")
    assert (second.code, second.from_enclosure, second.to_enclosure) == ("W2B", "X", "B")
    assert (first.length_m, second.length_m) == (4.0, 5.0)
    assert (first.bends_deg, second.bends_deg) == (90.0, 90.0)
    assert (first.metal, second.metal) == (True, True)
    # Walls at 2 m and 7 m from C: the second is 7 - 4 = 3 m from X.
    assert (first.walls_m, second.walls_m) == ((2.0,), (3.0,))
    assert document(barn).pulls[0].path == ("W1", "W2B", "W2A", "W3")
    assert record_of(barn, SOCKET)["route"] == ["W1", "W2B", "W2A", "W3"]
    row = done.cut[0]
    assert record_of(barn, row.near.tag)["route"] == ["W1", "W2B"]
    assert record_of(barn, row.far.tag)["route"] == ["W2A", "W3"]


def test_lengths_that_nobody_states_are_unknown_and_walls_are_not_placed_then(
    barn: Registry,
) -> None:
    division = Division(raceway="W2", into="W2,W9")
    wanted = Extension(what=(LIGHT,), through="JB1", new_box="junction-box", division=division,
                       ends=CutEnds(others="loose"))  # fmt: skip
    done = extend(barn, wanted)
    found = {r.code: r for r in site_of(barn).all(Raceway)}
    assert [found[code].length_m for code in ("W2", "W9")] == [None, None]
    assert [found[code].bends_deg for code in ("W2", "W9")] == [None, None]
    assert done.notes[0] == (
        "The walls of W2 (at 2 m, 7 m from C) are no longer placed: the length of its first piece"
        " isn't known."
    )
    assert ("JB1", "junction-box") in [(e.code, e.kind) for e in document(barn).enclosures]


def test_a_conductor_that_does_not_pass_is_left_alone_and_said(barn: Registry) -> None:
    done = through(barn, "SOCKET", terminals="TB9:8")
    assert [row.tag for row in done.cut] == [format_tag(SOCKET)]
    assert done.untouched == [Untouched(format_tag(FREE), "has no recorded route")]


W2X = Division(raceway="W2", into="W2A,W2B")
TAG1 = format_tag(L1)


@pytest.mark.parametrize(
    ("what", "more", "sentence"),
    [
        (LIGHT, {"box": "NOWHERE"}, "No enclosure is called 'NOWHERE'. Look for it with: wiretrack"
         " find TEXT"),
        (LIGHT, {"box": "X"}, f"No conductor of LIGHT passes X: {TAG1} runs by W1 → W2 → W3, not"
         " through X, and so on for 2 more. To put the box into a raceway give --raceway and"
         " --into."),
        (L1, {"box": "D"}, f"No conductor of {L1} passes D: {TAG1} ends in D already. To put the"
         " box into a raceway give --raceway and --into."),
        (L1, {"land": ()}, f"Say where the ends of {TAG1} go in C. Give --terminals, or"
         f" --land, or --capped, or --loose."),
        (LIGHT, {"terminals": "TB9:1-2"}, "'TB9:1-2' is 2 terminals for 3 conductors. Name one for"
         f" each of: {TAG1}, {format_tag(N)}, {format_tag(PE)}."),
        (LIGHT, {"terminals": "T:1,T:1,T:2"}, f"C T:1 can't take both {TAG1} (LIGHT L1) and"
         f" {format_tag(N)} (LIGHT N). Name a terminal for each."),
        (L1, {"box": "B", "land": (f"{L1}=S1:1",)}, f"Both pieces of {TAG1} on B S1:1 lead past"
         " S1. Name the terminal of each: TAG=S1:1,S1:2."),
        (L1, {"land": (f"{N}=T",)}, f"{format_tag(N)} is not cut here. Name one of: {TAG1}."),
        (L1, {"land": ("T1",)}, "'T1' doesn't say where an end goes. Write TAG=TERMINAL, or"
         " TAG=NEAR,FAR."),
        (L1, {"land": (f"{L1}=",)}, "A terminal has no name. Name it, like TB1:4."),
        (L1, {"terminals": "T:4-1"}, "'T:4-1' is no row of terminals. Write the lower number first,"
         " like TB1:1-4."),
        (L1, {"others": "capped", "lengths": ("30m,15m",)}, f"30 m and 15 m can't be cut from the"
         f" 40 m of {TAG1} (a stated length is off by at most 5 %, common practice). Measure again,"
         " or write ?."),
        (L1, {"others": "capped", "lengths": ("30m",)}, "'30m' is not the lengths of two pieces."
         " Write both with a comma between them, ? where one is unknown."),
        (L1, {"others": "capped", "lengths": ("0 m,?",)}, None),
        (L1, {"others": "capped", "lengths": ("nan,?",)}, None),
        (LIGHT, {"box": "B", "division": W2X}, "B is at the end of raceway W2 already. Leave out"
         " --raceway and --into."),
        (LIGHT, {"box": "D", "division": W2X}, "Pull P passes D already, elsewhere than in W2. Name"
         " another box, or leave out --raceway and --into."),
        (LIGHT, {"box": "X", "division": Division(raceway="W9", into="A,B")}, None),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="W2A")}, "'W2A' is not the"
         " codes of two raceways. Write them like W2A,W2B."),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="W2,W1")}, "There is a raceway"
         " W1 already. Choose another code."),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="a,b", lengths="9m,9m")},
         "9 m and 9 m can't be cut from the 10 m of raceway W2 (a stated length is off by at most"
         " 5 %, common practice). Measure again, or write ?."),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="a,b", bends="90,180")},
         "Bends of 90° and 180° are more than the 180° of the whole of W2. Count them again, or"
         " leave out --bends."),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="a,b", bends="270,?")},
         "Bends of 270° are more than the 180° of the whole of W2. Count them again, or leave out"
         " --bends."),
        (LIGHT, {"box": "X", "division": Division(raceway="W2", into="a,b", bends="-90,90")}, None),
    ],
)  # fmt: skip
def test_what_can_not_be_is_refused_in_words_and_nothing_is_written(
    barn: Registry, what: str, more: dict[str, Any], sentence: str | None
) -> None:
    before = document(barn)
    ends = {key: value for key, value in more.items() if key not in ("box", "division")}
    kept = {key: value for key, value in more.items() if key in ("box", "division")}
    with pytest.raises(BadInputError) as caught:
        through(barn, what, **kept, **ends)
    if sentence:
        assert told(caught.value) == sentence
    assert document(barn) == before


def test_a_terminal_of_another_circuit_is_taken(barn: Registry) -> None:
    through(barn, SOCKET, terminals="TB9:1")
    with pytest.raises(BadInputError, match=r"^C TB9:1 is taken by .* \(SOCKET L1\)\. Name anoth"):
        through(barn, LIGHT)


def test_both_pieces_may_lie_on_a_bus(barn: Registry) -> None:
    done = through(barn, L1, SOCKET, box="B", terminals="BAR:1,BAR:1")
    assert len(done.cut) == 2
    assert done.notes == []


def test_a_new_box_must_be_new_and_its_place_said(barn: Registry) -> None:
    for new, kind, sentence in (
        ("C", "junction-box", "There is a box C already. Leave out --new-box."),
        ("JB1", "shed", None),
        ("JB1", "junction-box", "Say where the new box JB1 lies. Give --raceway and"
         " --into: the raceway that it divides."),
    ):  # fmt: skip
        with pytest.raises(BadInputError) as caught:
            extend(barn, Extension(what=(LIGHT,), through=new, new_box=kind))
        assert sentence in (None, told(caught.value))


def test_a_cut_conductor_is_not_cut_again_but_its_pieces_are(barn: Registry) -> None:
    row = through(barn, L1, terminals="TB9:1").cut[0]
    with pytest.raises(RetiredError) as caught:
        through(barn, L1, box="B", terminals="T:1")
    near, far = row.near.tag, row.far.tag
    assert told(caught.value) == (
        f"{TAG1} was cut in two on {AT}. Take what follows it: {near} or {far}."
    )
    with pytest.raises(BadInputError, match=f"^{near} came of {TAG1} on {AT}, so it can't have"):
        through(barn, near, box="B", terminals="T:1", at="2000-01-01")
    again = through(barn, near, box="B", terminals="T:1").cut[0]
    record = record_of(barn, again.near.tag)
    assert [old["tag"] for old in record["earlier"]] == [near, TAG1]
    place = record_of(barn, L1)["retired"]["in_its_place"]
    assert place == [again.near.tag, again.far.tag, far]


def test_a_failure_half_way_leaves_nothing_done(
    barn: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fourth of six pieces can't be written: SQLite's own refusal, as on a full disk."""
    count = 0

    def failing(db: Database, piece: Conductor) -> str:
        nonlocal count
        count += 1
        if count == 4:
            raise sqlite3.OperationalError("database or disk is full")
        return add_conductor(db, piece)

    monkeypatch.setattr("wiretrack.tasks.change.extending.add_conductor", failing)
    before = document(barn)
    with pytest.raises(sqlite3.OperationalError):
        through(barn, LIGHT, box="X", division=W2X, others="capped")
    assert count == 4
    assert document(barn) == before


def test_a_ring_out_under_way_that_names_what_was_cut_is_named(barn: Registry) -> None:
    settings = {"near": [{"name": TAG1}, {"name": format_tag(N)}]}
    about = {"pull": "P", "near": "A", "far": "D"}
    procedures.start(barn, RINGOUT, about, settings, after=None)
    assert through(barn, L1, others="capped").notes[0] == (
        f"The ring-out of P under way names {TAG1}. Begin it again."
    )


def test_both_ends_of_one_conductor_are_not_landed_on_one_terminal(barn: Registry) -> None:
    changing.land_end(barn, FREE, "to", "loose")
    with barn.write() as db:
        db.execute("UPDATE ends SET enclosure_id = (SELECT id FROM enclosures WHERE code = 'X'),"
                   " terminal_id = NULL, state = 'loose' WHERE side = 'from' AND conductor_id ="
                   " (SELECT id FROM conductors WHERE tag = ?)", [FREE])  # fmt: skip
    changing.land_end(barn, FREE, "to", "landed", "T:1")
    with pytest.raises(BadInputError) as caught:
        land(barn, FREE, End(enclosure="X", terminal="T:1"))
    assert told(caught.value) == (
        f"Both ends of {format_tag(FREE)} would be on X T:1. Name another terminal."
    )


def test_an_unknown_circuit_is_not_found(barn: Registry) -> None:
    with pytest.raises(NotFoundError):
        through(barn, "LIHGT")
