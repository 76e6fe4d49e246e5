# SPDX-License-Identifier: MIT
"""A pull of which some conductors end in one box and some in the next, and a chain through both."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import PUMP, conductor, tag
from tests.ringout.test_several_boxes import Pull
from wiretrack.cli.group import run
from wiretrack.encoding import document
from wiretrack.errors import BadInputError
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import format_tag
from wiretrack.ringout.results import Result
from wiretrack.store.loading import create_registry
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site
from wiretrack.tasks.identify.planning import ringout_plan
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.identify.state import status

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

WANTED = Wanted(pull="P1", near="MDB", far="PH1,PH2")
SHORT, LONG = [tag(f"PMP01{i}") for i in range(3)], [tag(f"PMP02{i}") for i in range(4)]
LEAD, ON = tag("PMP030"), tag("PMP031")


def wire(code: str, box: str, **more: Any) -> dict[str, Any]:
    return {**conductor(code, "L1", "BK", f"Q5:{code}"), "to": {"enclosure": box}, **more}


def site(*more: dict[str, Any]) -> dict[str, Any]:
    boxes = [*PUMP["enclosures"], {"code": "PH2", "kind": "junction-box"}]
    ways = [*PUMP["raceways"], {**PUMP["raceways"][0], "code": "W2", "from": "PH1", "to": "PH2"}]
    wires = [wire(one, "PH1") for one in SHORT] + [wire(one, "PH2") for one in LONG]
    pulls = [{"code": "P1", "path": ["W1", "W2"]}]
    return PUMP | {
        "enclosures": boxes, "raceways": ways, "pulls": pulls, "conductors": [*wires, *more],
    }  # fmt: skip


@contextmanager
def made(folder: Path, facts: dict[str, Any]) -> Iterator[Registry]:
    file = folder / "site.json"
    file.write_text(json.dumps(facts))
    create_registry(folder / "site.db", SiteFacts())
    with open_registry(folder / "site.db") as registry:
        load_site(registry, file)
        yield registry


@pytest.fixture
def chained(tmp_path: Path) -> Any:
    """A registry with a chain: one conductor is landed in PH1, another goes on from there."""
    lead = wire(LEAD, "PH1")
    on = wire(ON, "PH2")
    lead["to"]["terminal"] = "TB1:1"
    on["from"] = {"enclosure": "PH1", "terminal": "TB1:1"}
    with made(tmp_path, site(lead, on)) as registry:
        yield registry


def wires() -> Pull:
    near = {box: list(map(format_tag, tags)) for box, tags in (("PH1", SHORT), ("PH2", LONG))}
    near["PH2"].append(format_tag(LEAD))  # which answers in PH2 by way of PH1
    return Pull(
        {
            "PH1": dict(zip(near["PH1"], "231", strict=True)),
            "PH2": dict(zip(near["PH2"], "75486", strict=True)),
        }
    )


def rung_out(registry: Registry, real: Pull, stop: int = 1_000) -> Ringing:
    ringing = Ringing.begin(registry, WANTED)
    for _ in range(stop):
        step = ringing.next_step()
        if isinstance(step, Result):
            ringing.finish()
            break
        ringing.answer(step, real.answer(document(step)))
    return ringing


def test_each_end_gets_its_mark_in_its_own_box_and_a_chain_in_the_last_one(chained: Any) -> None:
    real = wires()
    rung_out(chained, real, stop=9)
    ringing = rung_out(chained, real)  # gone on with
    assert ringing.finished
    marks = {
        (row["tag"], row["code"]): row["mark"]
        for row in chained.rows(
            "SELECT c.tag, e.code, n.mark FROM ends AS n JOIN conductors AS c ON"
            " c.id = n.conductor_id JOIN enclosures AS e ON e.id = n.enclosure_id"
            " WHERE n.mark IS NOT NULL"
        )
    }
    assert marks == {
        **dict(zip(((one, "PH1") for one in SHORT), "231", strict=True)),
        **dict(zip(((one, "PH2") for one in (*LONG, ON)), "75486", strict=True)),
    }
    lead, on = format_tag(LEAD), format_tag(ON)
    notes = ringing.result().notes
    assert any(note.startswith(f"{lead} goes on to PH2 as {on}. Leave the joint") for note in notes)


def test_the_step_names_its_box_and_the_plan_counts_the_walks_between_boxes(chained: Any) -> None:
    ringing = Ringing.begin(chained, WANTED)
    assert [(end.name, end.box) for end in ringing.settings.far] == [
        *((mark, "PH1") for mark in "123"), *((mark, "PH2") for mark in "45678"),
    ]  # fmt: skip
    plan = ringout_plan(chained, WANTED)
    assert (plan.far, plan.conductors) == ("PH1, PH2", 8)
    joins = next(m for m in plan.methods if m.name == "joins and walks")
    one = ringout_plan(chained, Wanted(pull="P1", near="MDB", far="PH1"))
    assert one.methods[0].forecast.walks == 2
    assert joins.forecast.walks == 3  # out, on, and back: apart it would be four
    now = status(rung_out(chained, wires()))
    assert now.far == "PH1, PH2"
    assert now.result.walks == 3


def test_a_box_too_many_and_marks_typed_for_two_boxes_are_refused_in_a_line(
    chained: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for far, told in (
        ("PH1,MDB", "Near and far box are both 'MDB'"),
        ("PH1,PH9", "PH9"),
    ):
        with pytest.raises(BadInputError, match=told):
            Ringing.begin(chained, Wanted(pull="P1", near="MDB", far=far))
    with pytest.raises(BadInputError, match="can't be typed at once"):
        Ringing.begin(chained, Wanted(pull="P1", near="MDB", far="PH1,PH2", far_ends=4))
    with pytest.raises(BadInputError, match="can't be a reference for 2 far boxes"):
        Ringing.begin(
            chained, Wanted(pull="P1", near="MDB", far="PH1,PH2", references=(format_tag(LEAD),))
        )
    assert run(["--db", str(tmp_path / "site.db"), "ringout", "plan", "P1", "--near", "MDB",
                "--far", "PH1,PH2"]) == 0  # fmt: skip
    out = capsys.readouterr().out
    assert "MDB → PH1, PH2" in out
    assert "joins and walks ~15 3" in " ".join(out.split())
    assert "--far PH1,PH2" in out


def test_a_conductor_that_goes_on_to_two_ends_is_refused(tmp_path: Path) -> None:
    lead = wire(LEAD, "PH1")
    lead["to"]["terminal"] = "TB1:1"
    on = [
        {**wire(tag(f"PMP04{i}"), "PH2"), "from": {"enclosure": "PH1", "terminal": "TB1:1"}}
        for i in range(2)
    ]
    with (
        made(tmp_path, site(lead, *on)) as registry,
        pytest.raises(BadInputError, match="goes on from PH1 TB1:1 to several ends"),
    ):
        Ringing.begin(registry, WANTED)
