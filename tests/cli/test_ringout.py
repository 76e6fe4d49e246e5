# SPDX-License-Identifier: MIT
"""The ring-out over pipes, as programs and people drive it, killed and gone on with."""

from __future__ import annotations

import json
import random
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.pump import L1, L2, PE, PUMP
from tests.warm import command
from wiretrack.encoding import document
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack
    from wiretrack.store.store import Registry

MATE = {format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}
ARGUMENTS = ["ringout", "run", "P1", "--near", "MDB", "--far", "PH1"]


def started(db: Path, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [command(), "--db", str(db), *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def talk(
    process: subprocess.Popen[str], bundle: RealBundle, stop_after: int | None = None
) -> dict[str, Any] | None:
    """Answer steps until the result; or kill the process after so many answers."""
    assert process.stdin is not None
    assert process.stdout is not None
    answered = 0
    for line in process.stdout:
        step = json.loads(line)
        if step["step"] == "result":
            process.stdin.close()
            assert process.wait() == 0
            return dict(step)
        if answered == stop_after:
            process.kill()
            process.wait()
            return None
        process.stdin.write(json.dumps(bundle.answer(step)) + "\n")
        process.stdin.flush()
        answered += 1
    raise AssertionError(process.stderr.read() if process.stderr else "")


def bundle() -> RealBundle:
    # IEC 60228:2004 table 2, class 2: 4 mm², 4.61 Ω/km at 20 °C; 67 m.
    return RealBundle(dict(MATE), ohm_each=4.61 * 0.067, raceway_ohm=0.05)


def test_a_program_rings_out_over_json_lines(db: Path) -> None:
    with started(db, *ARGUMENTS, "--jsonl") as process:
        real = bundle()
        result = talk(process, real)
    assert result is not None
    assert {m["near"]: m["far"] for m in result["matches"]} == MATE
    assert (result["walks"], result["probes"]) == (real.walks, real.probes) == (2, real.probes)
    assert (result["unresolved"], result["faults"]) == ([], [])


def test_colours_make_one_walk_enough(db: Path) -> None:
    with started(db, *ARGUMENTS, "--jsonl", "--far-colours", "BK,GNYE,BN") as process:
        result = talk(process, bundle())
    assert result is not None
    assert result["walks"] == 1
    assert {m["near"]: m["far"] for m in result["matches"]} == MATE


def test_a_ring_out_killed_at_random_steps_goes_on_where_it_stopped(db: Path) -> None:
    real, moments = bundle(), random.Random(4)
    kills = 0
    while True:
        with started(db, *ARGUMENTS, "--jsonl") as process:
            result = talk(process, real, stop_after=moments.randint(0, 3))
        if result is not None:
            break
        kills += 1
    assert kills >= 2
    assert {m["near"]: m["far"] for m in result["matches"]} == MATE
    assert (result["walks"], result["probes"]) == (real.walks, real.probes)


def test_the_result_is_written_to_the_conductors_ends(db: Path, wiretrack: Wiretrack) -> None:
    with started(db, *ARGUMENTS, "--jsonl") as process:
        talk(process, bundle())
    for tag, mark in MATE.items():
        assert wiretrack("show", tag, "--json").json["ends"][1]["mark"] == mark
    status = wiretrack("ringout", "status", "P1", "--json").json
    assert status["finished"]
    assert {m["near"]: m["far"] for m in status["matches"]} == MATE
    assert not [r for r in wiretrack("punchlist", "--json").json if "identified" in r["what"]]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("", "The answers ended before the ring-out did."),
        ("nonsense\n", "'nonsense' is not an answer."),
        ("[1]\n", "'[1]' is not an answer."),
        ('{"ohms": "x"}\n', "error: "),
        ('{"done": true, "done": true}\n', "is not an answer."),
        ('{"done": false}\n', "error: "),
    ],
)
def test_a_wrong_answer_is_told_in_one_line_and_nothing_is_stored(
    db: Path, wiretrack: Wiretrack, line: str, told: str
) -> None:
    process = started(db, *ARGUMENTS, "--jsonl")
    _, err = process.communicate(line)
    assert process.returncode == 2
    assert told in err
    assert err.count("\n") == 1
    assert wiretrack("ringout", "status", "P1", "--json").json["steps"] == 0


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--far-colours", "BK", "--far-ends", "3"], "Colours given: 1 in PH1, but 3 are said"),
        (["--far-ends", "501"], "Ends at the far box: 501. It must be 1 to 500"),
        (["--far-colours", "BK,BK,mauve"], "mauve"),
        (["--reference", "moon"], "moon"),
        (["--near", "PH1", "--far", "PH1"], "Near and far box are both 'PH1'"),
        (["--resistors", "0"], "0 ohm"),
    ],
)
def test_a_request_that_does_not_fit_the_pull_is_refused(
    wiretrack: Wiretrack, options: list[str], told: str
) -> None:
    ran = wiretrack(*ARGUMENTS, *options, "--jsonl")
    assert ran.status == 2
    assert told in ran.err
    assert wiretrack("ringout", "status", "P1").status == 2


@pytest.mark.parametrize("said", [("--far-ends", "2"), ("--far-colours", "BN,GNYE")])
def test_a_conductor_that_stops_short_is_named_extra(db: Path, said: tuple[str, str]) -> None:
    real = bundle()
    real.mate = {format_tag(L1): "1", format_tag(PE): "2"}  # L2, black, isn't in PH1
    with started(db, *ARGUMENTS, "--reference", "raceway", *said, "--jsonl") as process:
        result = talk(process, real)
    assert result is not None
    assert {m["near"]: m["far"] for m in result["matches"]} == real.mate
    assert result["extra"] == {"near": [format_tag(L2)], "far": []}
    assert (result["unresolved"], result["faults"]) == ([], [])


def test_an_end_more_at_the_far_box_is_named_extra_and_remembered(db: Path) -> None:
    real = bundle()
    with started(db, *ARGUMENTS, "--far-ends", "4", "--jsonl") as process:
        assert talk(process, real, stop_after=3) is None
    with started(db, "ringout", "run", "P1", "--jsonl") as process:
        result = talk(process, real)
    assert result is not None
    assert {m["near"]: m["far"] for m in result["matches"]} == MATE
    assert result["extra"] == {"near": [], "far": ["4"]}
    assert (result["unresolved"], result["faults"]) == ([], [])


def two_look_alikes(registry: Registry, folder: Path) -> None:
    wires = [{**PUMP["conductors"][n], "pull": "P2", "colour": "BK"} for n in (0, 1)]
    for wire in wires:
        del wire["tag"]
        wire["from"] = {"enclosure": "MDB"}
    document = {
        "format": "wiretrack-site/1",
        "pulls": [{"code": "P2", "path": ["W1"]}],
        "conductors": wires,
    }
    file = folder / "two.json"
    file.write_text(json.dumps(document), "utf-8")
    load_site(registry, file)


def test_two_look_alikes_and_nothing_else_can_not_be_told_apart_and_help_is_named(
    registry: Registry, tmp_path: Path, wiretrack: Wiretrack
) -> None:
    two_look_alikes(registry, tmp_path)
    ran = wiretrack("ringout", "run", "P2", "--near", "MDB", "--far", "PH1", "--jsonl")
    result = ran.json
    assert result["matches"] == []
    assert len(result["unresolved"]) == 4
    told = " ".join(result["notes"])
    for help_ in ("reference", "resistor", "diode"):
        assert help_ in told


def test_a_ring_out_that_told_nothing_says_so_and_leads_to_no_work_on_its_wires(
    registry: Registry, tmp_path: Path, wiretrack: Wiretrack
) -> None:
    two_look_alikes(registry, tmp_path)
    ran = wiretrack("ringout", "run", "P2", "--near", "MDB", "--far", "PH1")
    assert "No wire of P2 is known yet" in ran.words
    assert "P2 is rung out" not in ran.words
    assert "what it is" not in ran.words  # no head of a table that has no rows
    assert "Next, ring it out: wiretrack ringout run P2" in ran.words
    assert "Then, " not in ran.words


def test_a_person_answers_with_one_key_and_may_stop_and_go_on(db: Path) -> None:
    real = bundle()

    def key(step: dict[str, Any]) -> str:
        answer = real.answer(step)
        return "" if "done" in answer else "o" if answer["ohms"] == "OL" else "c"

    with open_registry(db) as registry:
        planned = Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
        first = document(planned.next_step())
    process = started(db, *ARGUMENTS)
    out, err = process.communicate(f"{key(first)}\nq\n")
    assert process.returncode == 130
    assert "Before you begin" in err
    assert "In MDB: Twist together" in out
    process = started(db, *ARGUMENTS)
    out, err = process.communicate("\n")
    assert "Going on after 1 step." in out
    assert "Walk to PH1\n" in out
