# SPDX-License-Identifier: MIT
"""A ring-out argued with: why a match is so, a wrong reading taken back, the record left behind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.pump import L1, L2, PE
from wiretrack.encoding import document
from wiretrack.model.tags import format_tag
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

MATE = {format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}


@pytest.fixture
def rung_out(db: Path) -> dict[str, Any]:
    """The pump's pull, rung out to its end; returns the result."""
    bundle = RealBundle(dict(MATE), ohm_each=4.61 * 0.067)
    with open_registry(db) as registry:
        wanted = Wanted(pull="P1", near="MDB", far="PH1", instrument="M1")
        ringing = Ringing.begin(registry, wanted)
        while not isinstance(step := ringing.next_step(), Result):
            ringing.answer(step, bundle.answer(document(step)))
        found: dict[str, Any] = document(ringing.finish("roof"))
        return found


def touches(wiretrack: Wiretrack) -> list[dict[str, Any]]:
    steps = wiretrack("ringout", "record", "P1", "--json").json["steps"]
    return [step for step in steps if step["step"]["step"] == "probe"]


@pytest.mark.usefixtures("rung_out")
def test_a_match_is_explained_in_words_that_name_its_end(wiretrack: Wiretrack) -> None:
    told = wiretrack("ringout", "status", "P1", "--why", L1).words
    assert told.partition(" Next, ")[0].endswith(f"So {format_tag(L1)} is end 3.")
    assert "read closed" in told


@pytest.mark.usefixtures("rung_out")
def test_the_terminal_names_each_match_that_is_not_sure_and_why(wiretrack: Wiretrack) -> None:
    found = wiretrack("ringout", "status", "P1", "--json").json
    unsure = [match for match in found["matches"] if not match["sure"]]
    assert unsure
    told = " ".join(wiretrack("ringout", "status", "P1").words.split())
    assert told.count("Likely, not sure:") == len({match["why"] for match in unsure})
    for match in unsure:
        assert f"{match['near']} is end {match['far']}" in told
        assert match["why"] in told


@pytest.mark.usefixtures("rung_out")
def test_the_record_holds_every_step_the_meter_and_the_conclusions(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    found = wiretrack("ringout", "record", "P1", "--json").json
    assert (found["instrument"], found["finished"], found["walks"]) == ("M1", True, 2)
    assert {row["near"]: row["far"] for row in found["conclusions"]} == MATE
    assert len(touches(wiretrack)) == found["probes"]
    page = tmp_path / "record.html"
    assert wiretrack("ringout", "record", "P1", "--out", page).status == 0
    text = page.read_text("utf-8")
    for tag in MATE:
        assert tag in text
    assert "<script" not in text
    assert wiretrack("ringout", "record", "P1", "--out", tmp_path / "no" / "x.html").status == 2


@pytest.mark.usefixtures("rung_out")
def test_a_reading_taken_back_reopens_the_ring_out_and_can_be_restored(
    wiretrack: Wiretrack,
) -> None:
    closed = [t for t in touches(wiretrack) if t["answer"] not in ("open (OL)", "open")]
    number = closed[-1]["number"]  # the joins still hold; earlier ones are confirmed by others
    found = wiretrack("ringout", "correct", "P1", number, "o", "--json").json
    assert not found["finished"]
    assert found["next"]
    assert wiretrack("show", L1, "--json").json["ends"][1]["mark"] is None
    changed = next(t for t in touches(wiretrack) if t["number"] == number)
    assert (changed["answer"], changed["superseded"]) == ("open (OL)", 1)
    wiretrack("ringout", "correct", "P1", number, "c")
    restored = wiretrack("ringout", "status", "P1", "--json").json
    assert {m["near"]: m["far"] for m in restored["matches"]} == MATE
    assert next(t for t in touches(wiretrack) if t["number"] == number)["superseded"] == 2


@pytest.mark.usefixtures("rung_out")
@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["correct", "P1", "1", "o"], "'o' is not an answer to this step. Type d when it is done."),
        (["correct", "P1", "1", "1 + 2"], "No end in MDB is called 1, 2. Ends: "),
        (["correct", "P1", "2", "o"], "Step 2 of P1 is no touch and no twist. Those are: 1, 3"),
        (["correct", "P1", "999", "o"], "Step 999 of P1 is no touch and no twist."),
        (["status", "P1", "--why", "ZZZ"], "'ZZZ' is not a tag"),
        (["record", "P9"], "'P9'"),
    ],
)
def test_what_can_not_be_corrected_or_explained_is_said(
    wiretrack: Wiretrack, arguments: list[str], told: str
) -> None:
    ran = wiretrack("ringout", *arguments)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert told in ran.err
