# SPDX-License-Identifier: MIT
"""Two look-alikes and a diode, as programs and people ring them out; gear changed half way."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.test_ringout import started, two_look_alikes
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

ASKED = ("ringout", "run", "P2", "--near", "MDB", "--far", "PH1")


@pytest.fixture
def two(db: Path, tmp_path: Path) -> tuple[str, str]:
    """Put a pull of two conductors alike into the registry; return their tags."""
    with open_registry(db) as registry:
        two_look_alikes(registry, tmp_path)
        rows = registry.rows(
            "SELECT c.tag FROM conductors AS c JOIN pulls AS p ON p.id = c.pull_id"
            " WHERE p.code = 'P2' ORDER BY c.rowid"
        )
    one, other = (f"{row['tag'][:3]}-{row['tag'][3:]}" for row in rows)
    return one, other


class Diode:
    """A diode over two conductors: what a meter shows at either box, either way round."""

    def __init__(self, mate: dict[str, str]) -> None:
        self.mate, self.legs = mate, {"cathode": "", "anode": ""}

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        if "diode" in step:
            self.legs = step["diode"]
        if step["step"] != "probe":
            return {"done": True}
        entry = self.legs["anode"] if step["at"] == "near" else self.mate[self.legs["anode"]]
        return {"volts": 0.61 if step["plus"] == entry else "OL"}


def talk(process: Any, diode: Diode) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Answer every step; return the steps and the result."""
    steps: list[dict[str, Any]] = []
    with process:
        for line in process.stdout:
            step = json.loads(line)
            if step["step"] == "result":
                return steps, step
            steps.append(step)
            process.stdin.write(json.dumps(diode.answer(step)) + "\n")
            process.stdin.flush()
        raise AssertionError(process.stderr.read())


@pytest.mark.parametrize("marks", ["12", "21"])
def test_a_program_tells_two_look_alikes_apart_with_a_diode(
    db: Path, two: tuple[str, str], marks: str
) -> None:
    mate = dict(zip(two, marks, strict=True))
    steps, result = talk(started(db, *ASKED, "--diode", "--jsonl"), Diode(mate))
    assert {match["near"]: match["far"] for match in result["matches"]} == mate
    assert result["walks"] == 1
    assert [step["step"] for step in steps].count("fit") == 1
    assert {"step", "at", "diode", "id"} <= set(steps[0])
    assert all(step["plus"] in step["between"] for step in steps if step["step"] == "probe")


def test_a_person_is_told_how_to_put_it_on_and_which_lead_goes_where(
    db: Path, two: tuple[str, str], wiretrack: Wiretrack
) -> None:
    keys = ["", "0.6", "o", "", "612mV", "OL", "o"]
    out, _ = started(db, *ASKED, "--diode").communicate("\n".join(keys) + "\n")
    words = " ".join(out.split())
    told = words.partition("In MDB: Put a diode over two ends ")[2]
    assert told.startswith(f"band on {two[0]} PUMP L1, black other leg on {two[1]} PUMP L2, black")
    assert "an ohms range may be too weak" in words
    assert "In PH1: Touch, on the diode range red: 1 black: 2" in words
    assert "P2 is rung out" in words
    told = wiretrack("ringout", "status", "P2", "--why", two[0]).words
    assert f"With a diode over {two[1]} and {two[0]} in MDB" in told
    record = wiretrack("ringout", "record", "P2", "--json").json
    assert [step["answer"] for step in record["steps"]][4:6] == ["0.612 V", "open (OL)"]
    assert record["gear"] == ["alone, a diode"]


def test_a_bare_number_that_could_be_millivolts_or_ohms_is_asked_for_again(
    db: Path, two: tuple[str, str]
) -> None:
    assert two
    out, _ = started(db, *ASKED, "--diode").communicate("\n612\n612ohm\nq\n")
    words = " ".join(out.split())
    assert "'612' could be millivolts of the diode range, or ohms. Write 612mV or 612ohm" in words
    with open_registry(db) as registry:
        assert Ringing.latest(registry, "P2").record.answers[-1].answer == {"ohms": 612.0}


def test_a_wrong_direction_is_taken_back_and_the_match_turns_round(
    db: Path, two: tuple[str, str], wiretrack: Wiretrack
) -> None:
    mate = dict(zip(two, "12", strict=True))
    talk(started(db, *ASKED, "--diode", "--jsonl"), Diode(mate))
    both = wiretrack("ringout", "correct", "P2", "5", "0.6V", "--json").json
    assert not both["matches"]
    assert "closed both ways" in both["questions"][0]["reason"]
    turned = wiretrack("ringout", "correct", "P2", "6", "o", "--json").json
    assert not turned["matches"]
    assert turned["next"].startswith("In PH1: touch 2 with plus")


def test_gear_is_changed_half_way_and_what_was_answered_stays(
    db: Path, two: tuple[str, str], wiretrack: Wiretrack
) -> None:
    assert two
    started(db, *ASKED, "--diode").communicate("\n0.6\nq\n")
    refused = wiretrack(*ASKED, "--crew", "2")
    assert refused.status == 2
    assert "with other gear is under way: alone, a diode" in refused.err
    assert "--switch" in refused.err
    started(db, *ASKED, "--diode", "--crew", "2", "--switch").communicate("q\n")
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P2")
    assert ringing.steps_done == 2
    assert (ringing.settings.gear.crew, ringing.settings.gear.diode) == (2, True)


def test_again_and_switch_contradict(wiretrack: Wiretrack) -> None:
    refused = wiretrack(*ASKED, "--again", "--switch")
    assert refused.status == 2
    assert refused.err.startswith("error: --again begins again, --switch goes on.")


def test_the_plan_offers_a_diode_where_nothing_else_does(
    two: tuple[str, str], wiretrack: Wiretrack
) -> None:
    assert two
    asked = ("ringout", "plan", "P2", "--near", "MDB", "--far", "PH1")
    rows = {row["method"]: row for row in wiretrack(*asked, "--json").json["methods"]}
    assert rows["diode"]["identifies_all"]
    assert not rows["joins and walks"]["identifies_all"]
    assert "a diode over them settles it in one walk" in wiretrack(*asked).words
