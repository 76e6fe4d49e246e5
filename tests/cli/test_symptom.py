# SPDX-License-Identifier: MIT
"""Guided searches from the command line: every culprit is found, and answers can be taken back."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PUMP
from wiretrack.cli.group import run
from wiretrack.electrical.symptoms import SYMPTOMS as KNOWN
from wiretrack.electrical.symptoms import symptom_of
from wiretrack.errors import BadInputError
from wiretrack.files import shipped
from wiretrack.model.words import SYMPTOMS
from wiretrack.procedure import FAULT_SEARCH
from wiretrack.store import procedures
from wiretrack.store.procedures import latest
from wiretrack.store.store import open_registry
from wiretrack.tasks.trouble.search import Answer
from wiretrack.tasks.trouble.searching import answer, start, status

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ran, Wiretrack
    from wiretrack.store.store import Registry


@pytest.fixture
def db(mill_db: Path) -> Path:
    return mill_db


def test_every_symptom_is_known_to_files_and_to_the_command_line() -> None:
    schema = json.loads((shipped("schemas") / "site.schema.json").read_text("utf-8"))
    assert set(KNOWN) == set(SYMPTOMS)
    assert schema["$defs"]["fault_search"]["properties"]["symptom"]["enum"] == list(SYMPTOMS)
    with pytest.raises(BadInputError, match="'smoke' is not a symptom"):
        symptom_of("smoke")


SEARCHES = [
    ("dead-circuit", "YNF-W939", "YARD"),
    ("low-voltage", "QF1-895O", "SLUICE"),
    ("reversed-polarity", "G2M-9KPY", "PV-OUT"),
    ("wrong-string-voltage", "11V-83VT", "PV-OUT"),
    ("tripping-breaker", "SLUICE", "SLUICE"),
    ("insulation-alarm", "YARD", "YARD"),
    ("insulation-alarm", "J64-81PS", "YARD"),
]


@pytest.mark.parametrize(("symptom", "what", "circuit"), SEARCHES)
def test_whoever_is_at_fault_is_found_or_left(
    registry: Registry, symptom: str, what: str, circuit: str
) -> None:
    """The answers are those of each suspect in turn, were it the culprit."""
    suspects = start(registry, symptom, what).suspects
    shown = 0
    for culprit, suspect in enumerate(suspects):
        found = start(registry, symptom, what) if culprit else status(registry, circuit)
        record = latest(registry, FAULT_SEARCH, circuit=circuit)
        assert record is not None
        by_ask = {q["ask"]: q for q in record.settings["questions"]}
        any_bad = False
        for _ in by_ask:
            if found.next is None:
                break
            question = by_ask[found.next.ask]
            assert question["between"] == list(found.next.between)
            is_bad = culprit in question["bad"]
            any_bad |= is_bad
            said = question["bad_if"] if is_bad else {"yes": "no", "no": "yes"}[question["bad_if"]]
            found = answer(registry, circuit, Answer(said))
        assert found.next is None
        assert found.contradiction is None
        code = record.settings["suspects"][culprit]["code"]
        assert (found.found is None) == bool(found.undecided)
        if found.found:
            assert any_bad
            assert (found.found.code, bool(found.confirm)) == (code, True)
            shown += 1
        else:
            assert suspect.name in {one.name for one in found.undecided}
    assert shown  # and of a pair of poles without an earth none


def test_an_open_breaker_on_record_is_the_first_suspect(wiretrack: Wiretrack) -> None:
    # The site file: MDP Q4, which feeds the sluice, was left open.
    found = wiretrack("symptom", "start", "dead-circuit", "QF1-895O", "--json").json
    likely = max(found["suspects"], key=lambda s: s["likelihood"])
    assert (likely["name"], likely["because"]) == ("MDP Q4", "open in the record")
    assert found["next"]["box"] == "MDP"


def test_a_failed_old_reading_makes_its_conductor_the_first_suspect(wiretrack: Wiretrack) -> None:
    # The site file: insulation of QF1-895O fell to 0.21 MΩ, below the 1 MΩ of IEC 60364-6.
    found = wiretrack("symptom", "start", "tripping-breaker", "SLUICE", "--json").json
    likely = max(found["suspects"], key=lambda s: s["likelihood"])
    assert (likely["name"], "fail" in likely["because"]) == ("QF1-895O", True)


def answered(wiretrack: Wiretrack, *outcomes: str) -> Ran:
    ran = wiretrack("symptom", "start", "dead-circuit", "YNF-W939")
    for outcome in outcomes:
        ran = wiretrack("symptom", "answer", "YARD", outcome)
    return ran


def test_answers_are_kept_corrected_and_concluded_anew(wiretrack: Wiretrack) -> None:
    answered(wiretrack, "no")
    first = wiretrack("symptom", "status", "YARD", "--json").json
    wiretrack("symptom", "correct", "YARD", "1", "yes", "--note", "lead was off")
    second = wiretrack("symptom", "status", "YARD", "--json").json
    assert {s["name"] for s in first["suspects"] if s["left"]}.isdisjoint(
        {s["name"] for s in second["suspects"] if s["left"]}
    )
    entry = second["log"][0]
    assert (entry["outcome"], entry["superseded"], entry["note"]) == ("yes", 1, "lead was off")
    assert wiretrack("verify").status == 0
    assert wiretrack("symptom", "correct", "YARD", "7", "yes").status == 2


@pytest.mark.parametrize("word", ["good", "bad", "skip", "maybe"])
def test_the_answers_are_yes_no_and_cant(wiretrack: Wiretrack, word: str) -> None:
    wiretrack("symptom", "start", "dead-circuit", "YNF-W939")
    assert wiretrack("symptom", "answer", "YARD", word).status == 2
    log = wiretrack("symptom", "answer", "YARD", "can't", "--json").json["log"]
    assert [line["outcome"] for line in log] == ["cant"]


def test_a_reading_that_can_not_be_taken_is_skipped_for_another(wiretrack: Wiretrack) -> None:
    wiretrack("symptom", "start", "dead-circuit", "YNF-W939")
    before = wiretrack("symptom", "status", "YARD", "--json").json["next"]["ask"]
    after = wiretrack("symptom", "answer", "YARD", "cant", "--json").json
    assert after["next"]["ask"] != before
    assert all(suspect["left"] for suspect in after["suspects"])


def test_a_contradiction_is_reported_and_not_guessed_over(wiretrack: Wiretrack) -> None:
    answered(wiretrack, "no", "yes")
    numbers = wiretrack("symptom", "status", "YARD", "--json").json["log"]
    assert len(numbers) == 2
    # Good further on and bad before it can't both be on one path with one fault.
    found = wiretrack("symptom", "correct", "YARD", "1", "yes", "--json").json
    wiretrack("symptom", "correct", "YARD", "2", "no")
    found = wiretrack("symptom", "status", "YARD", "--json").json
    assert found["found"] is None
    assert found["undecided"]
    assert "repeat the reading that you trust least" in found["contradiction"]
    assert "Contradiction" in wiretrack("symptom", "status", "YARD").out


def test_a_search_outlives_a_dump(wiretrack: Wiretrack, tmp_path: Path) -> None:
    answered(wiretrack, "no")
    before = wiretrack("symptom", "status", "YARD").out
    file, copy = tmp_path / "dump.json", str(tmp_path / "copy.db")
    file.write_text(wiretrack("dump").out, "utf-8")
    assert run(["--db", copy, "new", "--name", "copy"]) == 0
    assert run(["--db", copy, "load", str(file)]) == 0
    again = wiretrack("--db", copy, "symptom", "status", "YARD")
    told = before.replace(": wiretrack symptom", f": wiretrack --db {copy} symptom")
    assert (again.status, again.out) == (0, told)


def test_the_face_warns_and_says_what_to_type_next(wiretrack: Wiretrack) -> None:
    ran = wiretrack("symptom", "start", "wrong-string-voltage", "G2M-9KPY")
    assert "live whenever light falls on it" in " ".join(ran.err.split())
    assert "symptom answer PV-OUT yes|no|cant" in ran.words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["status", "YARD"], "No fault of YARD is searched for"),
        (["start", "dead-circuit", "YARD"], "Name the one at the load's terminal"),
        (["start", "dead-circuit", "W1"], "No conductor or circuit is called 'W1'"),
        (["start", "smoke", "YARD"], "'smoke' is not one of"),
    ],
)
def test_what_can_not_be_searched_for_is_refused(
    wiretrack: Wiretrack, arguments: list[str], words: str
) -> None:
    ran = wiretrack("symptom", *arguments)
    assert (ran.status, words in ran.err) == (2, True)


def small(tmp_path: Path, closed: bool | None, second_way: bool) -> str:
    """A pump behind a breaker of some state, and perhaps a second conductor beside the first."""
    site: dict[str, Any] = deepcopy(PUMP)
    device: dict[str, Any] = {"enclosure": "MDB", "code": "Q4", "kind": "breaker",
                              "poles": [["0", "1"]]}  # fmt: skip
    if closed is not None:
        device["closed"] = closed
    site["devices"] = [device]
    site["conductors"][0]["to"]["terminal"] = "T1"
    if second_way:
        site["conductors"][1]["from"]["terminal"] = "Q4:1"
        site["conductors"][1]["to"]["terminal"] = "T1"
    file, path = tmp_path / "small.json", str(tmp_path / "small.db")
    file.write_text(json.dumps(site), "utf-8")
    assert run(["--db", path, "new", "--name", "s"]) == 0
    assert run(["--db", path, "load", str(file)]) == 0
    return path


def test_a_device_of_unknown_position_is_named(wiretrack: Wiretrack, tmp_path: Path) -> None:
    path = small(tmp_path, None, False)
    found = wiretrack("--db", path, "symptom", "start", "dead-circuit", L1, "--json").json
    assert "whether MDB Q4 is closed isn't recorded: look at it" in found["remarks"]
    likely = max(found["suspects"], key=lambda s: s["likelihood"])
    assert likely["name"] == "MDB Q4"


def test_a_path_with_a_loop_is_refused(wiretrack: Wiretrack, tmp_path: Path) -> None:
    path = small(tmp_path, True, True)
    for symptom in ("dead-circuit", "tripping-breaker"):
        ran = wiretrack("--db", path, "symptom", "start", symptom, L1)
        assert ran.status == 2
        assert "loop" in ran.err


def test_a_reading_says_between_what_it_is_read_and_in_which_state(
    wiretrack: Wiretrack,
) -> None:
    asked = wiretrack("symptom", "start", "dead-circuit", "YNF-W939", "--json").json["next"]
    # The site file: MDP Q5 feeds J64-81PS from its terminal 2; the board's neutral bar is N.
    assert (asked["kind"], asked["live"], asked["loads"]) == ("voltage", True, "on")
    assert (asked["box"], asked["between"]) == ("MDP", ["MDP/Q5:2", "MDP/N"])
    assert asked["disconnected"] == []
    asked = wiretrack("symptom", "start", "tripping-breaker", "SLUICE", "--json").json["next"]
    assert (asked["kind"], asked["live"], asked["loads"]) == ("insulation", False, "off")
    assert set(asked["between"]) - {"PE"} <= set(asked["disconnected"])
    assert "below its limit?" in asked["ask"]


def test_a_search_that_another_program_wrote_is_refused_in_words(
    wiretrack: Wiretrack, db: Path
) -> None:
    strange = {"suspects": [{"name": "MDP Q5"}], "questions": [{"box": "MDP", "bad": [0]}]}
    with open_registry(db) as registry:
        about = {"circuit": "YARD", "symptom": "dead-circuit"}
        before = latest(registry, FAULT_SEARCH, circuit="YARD")
        procedures.start(registry, FAULT_SEARCH, about, strange, after=before)
    ran = wiretrack("symptom", "status", "YARD")
    assert ran.status == 2
    assert "search for a fault of YARD can't be read. Begin it again." in ran.err


def test_an_answer_is_taken_back_and_its_question_asked_again(
    wiretrack: Wiretrack, db: Path
) -> None:
    begun = wiretrack("symptom", "start", "insulation-alarm", "YARD", "--json").json
    answered = wiretrack("symptom", "answer", "YARD", "no", "--value", ">200 M", "--json").json
    assert answered["next"] != begun["next"]
    assert len(answered["log"]) == 1
    undone = wiretrack("symptom", "undo", "YARD", "--json").json
    assert (undone["next"], undone["log"]) == (begun["next"], [])
    assert undone["suspects"] == begun["suspects"]
    assert run(["--db", str(db), "symptom", "undo", "YARD"]) == 2  # nothing is left to take back
