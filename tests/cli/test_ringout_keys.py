# SPDX-License-Identifier: MIT
"""What a person may type at each step of a ring-out, and nothing else."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from typing import TYPE_CHECKING, Any
from unittest import mock

import pytest

from tests.cli.test_ringout import ARGUMENTS, started
from wiretrack.cli.group import run
from wiretrack.procedure import RINGOUT
from wiretrack.store.procedures import latest
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack
    from wiretrack.store.store import Registry

RUN = [*ARGUMENTS, "--reference", "raceway"]


def typed(db: Path, *lines: str) -> tuple[int, str, str]:
    """Type lines into a ring-out; return how it ended, and what it wrote, a blank for a break."""
    out, err = io.StringIO(), io.StringIO()
    keys = mock.patch("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    with keys, redirect_stdout(out), redirect_stderr(err):
        status = run(["--db", str(db), *RUN])
    return status, " ".join(out.getvalue().split()), err.getvalue()


def kept(db: Path) -> list[tuple[str, dict[str, Any]]]:
    with open_registry(db) as registry:
        found = latest(registry, RINGOUT, pull="P1")
    assert found is not None
    return [(one.step["step"], one.answer) for one in found.answers]


@pytest.mark.parametrize("word", ["no", "foo", "c", "0.4", "230V", "dead", "done?", "quiet", "s"])
def test_only_done_is_done(db: Path, word: str) -> None:
    status, out, _ = typed(db, word, "q")
    assert status == 130
    assert f"'{word}' is not an answer to this step. Type d when it is done." in out
    assert kept(db) == []


@pytest.mark.parametrize("word", ["", "d", "done", "DONE", " d "])
def test_enter_d_and_done_are_done(db: Path, word: str) -> None:
    typed(db, word, "q")
    assert kept(db) == [("join", {"done": True})]


@pytest.mark.parametrize("word", ["q", "quit", "QUIT"])
@pytest.mark.parametrize("before", [[], ["d", "d"]])
def test_quit_stops_at_any_step_and_stores_nothing(db: Path, before: list[str], word: str) -> None:
    status, _, _ = typed(db, *before, word, "d")
    assert status == 130
    assert len(kept(db)) == len(before)


@pytest.mark.parametrize("word", ["h", "help", "?"])
@pytest.mark.parametrize("before", [[], ["d", "d"]])
def test_help_says_what_can_be_typed_and_asks_again(db: Path, before: list[str], word: str) -> None:
    _, out, _ = typed(db, *before, word, "q")
    assert "q quit: all answers are kept." in out
    assert len(kept(db)) == len(before)


@pytest.mark.parametrize("word", ["u", "undo"])
def test_any_step_is_undone_and_asked_again(db: Path, word: str) -> None:
    _, out, _ = typed(db, "d", "d", "c", word, word, word, word, "d", "q")
    assert "Nothing was done yet in the ring-out of P1." in out
    assert out.count("Walk to PH1 ") == 3  # asked, asked again once undone, and after the join
    assert kept(db) == [("join", {"done": True})]


def test_an_earlier_touch_is_corrected_by_its_number(db: Path) -> None:
    typed(db, "d", "d", "c", "u 3", "o", "q")
    assert kept(db)[2:] == [("probe", {"ohms": "OL"})]
    _, out, _ = typed(db, "u 2", "no", "u 9", "q")
    assert "All that was done after it is taken back too. yes or no" in out
    assert "P1 has no step 9. Steps: 1, 2, 3." in out
    assert len(kept(db)) == 3


def test_an_earlier_twist_is_said_or_taken_back(db: Path, wiretrack: Wiretrack) -> None:
    typed(db, "d", "q")
    asked = wiretrack("ringout", "record", "P1", "--json").json["steps"][0]["step"]["groups"]
    one, two, *_ = [end for group in asked for end in group]
    _, out, _ = typed(db, "u 1", f"{one} + {two}", "u 1", "", "no", "q")
    assert f"Again, step 1: In MDB: twist together, each line on its own: {one} (" in out
    assert "what was twisted: 1 + 3, 4 + 5 · or Enter to take the step back" in out
    assert "All that was done after it is taken back too. yes or no" in out
    assert kept(db) == [("join", {"done": True, "twisted": [[one, two]]})]
    typed(db, "u 1", "", "yes", "q")
    assert kept(db) == []


def test_a_step_that_is_no_touch_is_taken_back_with_all_after_it(
    db: Path, wiretrack: Wiretrack
) -> None:
    typed(db, "d", "d", "c", "u 2", "yes", "q")
    assert kept(db) == [("join", {"done": True})]
    typed(db, "d", "o", "q")
    (last,) = [n for n, (step, _) in enumerate(kept(db)) if step == "probe"]
    number = wiretrack("ringout", "record", "P1", "--json").json["steps"][last]["number"]
    assert wiretrack("ringout", "undo", "P1", "77").status == 2
    assert wiretrack("ringout", "undo", "P1", str(number), "--json").json["steps"] == 2
    assert [step for step, _ in kept(db)] == ["join", "walk"]


def test_over_json_lines_any_step_is_undone(db: Path) -> None:
    lines: list[dict[str, Any]] = [
        {"done": True}, {"done": True}, {"ohms": "OL"}, {"undo": 3}, {"undo": True},
    ]  # fmt: skip
    sent = "".join(json.dumps(line) + "\n" for line in lines)
    out, err = started(db, *RUN, "--jsonl").communicate(sent)
    join, walk, touch, _, again, last = [json.loads(line) for line in out.splitlines()]
    assert (again["step"], again["between"]) == ("probe", touch["between"])
    assert (last["step"], last["to"]) == ("walk", walk["to"])
    assert len({step["id"] for step in (join, walk, touch, again, last)}) == 5
    assert kept(db) == [("join", {"done": True})]
    assert "ended before" in err
    for wrong in ({"undo": "x"}, {"undo": 9}, {"undo": False}, {"undo": True, "ohms": 1}):
        process = started(db, *RUN, "--jsonl")
        assert process.communicate(json.dumps(wrong) + "\n")[1].startswith("error: ")
        assert process.returncode == 2
    assert kept(db) == [("join", {"done": True})]


def test_undo_as_a_command_takes_the_last_step_back(db: Path, wiretrack: Wiretrack) -> None:
    typed(db, "d", "d", "q")
    assert "Walk to PH1" in wiretrack("ringout", "undo", "P1").out
    assert wiretrack("ringout", "undo", "P1", "--json").json["steps"] == 0
    assert wiretrack("ringout", "undo", "P1").status == 2
    assert kept(db) == []


@pytest.mark.parametrize(
    ("reading", "volts"),
    [
        ("230V", 230.0), ("live", None), ("-412 V", -412.0), ("12.3v", 12.3), ("1.5 kV", 1500.0),
        ("48VDC", 48.0), ("24 V DC", None), (">600V", None), ("500 mV", 0.5), ("voltage", None),
    ],
)  # fmt: skip
def test_a_voltage_stops_until_it_is_proven_dead(
    db: Path, reading: str, volts: float | None
) -> None:
    _, out, _ = typed(db, "d", "d", reading, "d", "c", "ok", "q")
    assert "In PH1: Voltage present. Prove dead." in out
    assert "DANGER Never test continuity on a live conductor." in out
    assert out.count("Voltage present. Prove dead. Type dead when it is, not") == 3
    assert kept(db)[2:] == [("probe", {"volts": volts})]
    _, out, _ = typed(db, "dead", "c", "q")
    assert [answer for _, answer in kept(db)[3:]] == [{"done": True}, {"closed": True}]
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P1")
        assert ringing.result().probes == 1  # the voltage was no reading
        assert any("Step 3 found a voltage" in note for note in ringing.result().notes)


@pytest.mark.parametrize("reading", ["0V", "0 V", "v5", "5x", "-1", "no"])
def test_what_is_neither_a_reading_nor_a_voltage_is_asked_again(db: Path, reading: str) -> None:
    _, out, _ = typed(db, "d", "d", reading, "0.4", "q")
    assert "Prove dead" not in out
    assert kept(db)[2:] == [("probe", {"ohms": 0.4})]


def test_a_touch_that_cannot_be_reached_is_put_off_and_named(
    db: Path, wiretrack: Wiretrack
) -> None:
    typed(db, "d", "d", "s", "q")
    assert kept(db)[2:] == [("probe", {"skip": True})]
    notes = wiretrack("ringout", "status", "P1", "--json").json["notes"]
    assert any(note.startswith("Put off and not made: In PH1: touch ") for note in notes)
    assert "not made" in wiretrack("ringout", "record", "P1").out


def test_over_json_lines_a_voltage_stops_and_goes_on_once_it_is_dead(
    db: Path, registry: Registry
) -> None:
    answers: list[dict[str, Any]] = [
        {"done": True}, {"done": True}, {"volts": 12.3}, {"volts": 11.9}, {"dead": True},
        {"skip": True},
    ]  # fmt: skip
    out, _ = started(db, *RUN, "--jsonl").communicate(
        "".join(json.dumps(a) + "\n" for a in answers)
    )
    steps = [json.loads(line) for line in out.splitlines()]
    touch, stop, still, again = steps[2:6]
    assert touch["step"] == again["step"] == "probe"
    assert touch["between"] == again["between"] == stop["between"]
    assert (stop["step"], stop["volts"], still["volts"]) == ("prove-dead", 12.3, 11.9)
    assert stop["say"] == "Voltage present. Prove dead."
    assert len({step["id"] for step in steps}) == len(steps) == 7
    assert Ringing.latest(registry, "P1").result().probes == 0
