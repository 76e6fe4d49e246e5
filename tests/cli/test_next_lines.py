# SPDX-License-Identifier: MIT
"""The last line of a command is what a person would do next, with the exact command."""

from __future__ import annotations

import io
import json
import shlex
from typing import TYPE_CHECKING

import click
import pytest

from tests.pump import L1, L2, PE, PUMP
from tests.terminal import at_a_terminal
from wiretrack.cli.group import wiretrack as group
from wiretrack.cli.wording import NEXT, next_told
from wiretrack.store.store import open_registry
from wiretrack.tasks.report.standing import NextStep, next_on_site, standing

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

STOCK = "flag-90x25-300"


def following(out: str) -> str:
    line = out.splitlines()[-1]
    assert line.startswith("Next, "), out
    return line.partition(": ")[2]


@pytest.mark.parametrize("job", NEXT)
def test_each_next_command_is_one_that_there_is(job: str) -> None:
    words = shlex.split(next_told(NextStep(job, ("A", "B", "C"))).partition(": ")[2])
    assert words[0] == "wiretrack"
    command: click.Command = group
    context = click.Context(command)
    words = words[3:] if words[1] == "--db" else words[1:]
    while words and isinstance(command, click.Group):
        found = command.get_command(context, words.pop(0))
        assert found is not None, job
        command = found
    known = {name for param in command.params for name in param.opts}
    if not command.context_settings.get("ignore_unknown_options"):  # add has --FIELD
        assert {word for word in words if word.startswith("--")} <= known


def test_a_code_with_a_space_is_quoted() -> None:
    assert next_told(NextStep("test", ("PUMP 2",))).endswith("test run 'PUMP 2'")


def test_what_an_error_leads_to_names_the_registry_as_it_was_typed(
    wiretrack: Wiretrack, db: Path, tmp_path: Path
) -> None:
    typed = wiretrack("--db", db, "show", "NOWHERE").err
    assert typed.endswith(f"Look for it with: wiretrack --db {db} find TEXT\n")
    assert wiretrack("show", "NOWHERE").err.endswith("Look for it with: wiretrack find TEXT\n")
    undone = wiretrack("--db", db, "undo").out
    assert f": wiretrack --db {db} undo" in " ".join(undone.split())
    missing = tmp_path / "no such.db"
    made = wiretrack("--db", missing, "show", L1).err
    assert made.endswith(f"Make it with: wiretrack --db '{missing}' new --name NAME\n")
    stock = wiretrack("--db", db, "label", "fit", L1, "--stock", "none").err
    assert stock.endswith("See all: wiretrack label stocks\n")  # which is of no registry


def test_a_ring_out_under_way_is_gone_on_with_though_ends_were_landed(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    begin = ("ringout", "run", "P1", "--near", "MDB", "--far", "PH1", "--jsonl")
    assert "answers ended" in wiretrack(*begin).err
    ran = wiretrack("land", L1, "PH1", "--terminal", "T:1", "--new-terminal")
    assert following(ran.out) == "wiretrack ringout run P1"
    assert "answers ended" in wiretrack("ringout", "run", "P1", "--jsonl").err
    refused = wiretrack(*begin)
    assert refused.status == 2
    assert "Go on with it without --near and --far. Or begin again with --again." in refused.err


def test_a_terminal_folds_an_error_between_words_and_keeps_its_command_whole(db: Path) -> None:
    with at_a_terminal("--db", str(db), "show", "NOWHERE-THAT-IS", columns=40) as terminal:
        terminal.ends()
    lines = [line.rstrip() for line in terminal.shown.splitlines() if line.strip()]
    assert len(lines) > 1
    assert all(len(line) <= 40 or "wiretrack" in line for line in lines)
    assert any("NOWHERE-THAT-IS" in line for line in lines)


def test_on_a_narrow_terminal_what_to_do_next_is_a_line_of_its_own(db: Path) -> None:
    with at_a_terminal("--db", str(db), "trace", L1, columns=40) as terminal:
        terminal.ends()
    *_, what, command = terminal.shown.splitlines()
    assert (what, command) == ("it:", f"wiretrack --db {db} isolate {L1}")


def test_from_an_empty_registry_to_the_report_each_line_leads_on(
    db: Path, tmp_path: Path, wiretrack: Wiretrack
) -> None:
    """What is done is what the line before said, with what only a person knows filled in."""
    db.unlink()
    assert following(wiretrack("new", "--name", "Well").out) == "wiretrack load FILE"
    file = tmp_path / "site.json"
    file.write_text(json.dumps(PUMP))
    ringing = following(wiretrack("load", file).out)
    assert ringing == "wiretrack ringout run P1 --near MDB --far PH1"
    said = ""
    for number, tag in enumerate((L1, L2, PE), 1):
        said = wiretrack("land", tag, "PH1", "--terminal", f"T:{number}", "--new-terminal").out
    assert following(said) == "wiretrack label print P1 --out labels.pdf"
    out = tmp_path / "labels.pdf"
    printed = wiretrack("label", "print", "P1", "--out", out, "--stock", STOCK)
    assert following(printed.out) == "wiretrack label placed P1"
    assert following(wiretrack("show", L1).out) == "wiretrack label placed PMP-001G"
    assert following(wiretrack("label", "placed", "P1").out) == "wiretrack test run PUMP"
    assert following(wiretrack("test", "plan", "PUMP").out) == "wiretrack test run PUMP"
    assert following(wiretrack("punchlist").out) == "wiretrack test run PUMP"
    logged = ("test", "log", PE, "--kind", "continuity", "0.51", "--leads", "0.2", "--temp", "20")
    assert following(wiretrack(*logged).out) == "wiretrack test run PUMP"
    steps = wiretrack("test", "plan", "PUMP", "--json").json
    for step in steps:
        value = {"continuity": "0.51", "insulation": ">2000M", "voltage": "400 V"}[step["kind"]]
        more = ["--against", step["against"]] if step["against"] else []
        more += ["--test-voltage", "500"] if step["test_voltage"] else []
        more += ["--leads", "0.2", "--temp", "20"] if step["kind"] == "continuity" else []
        last = wiretrack("test", "log", step["subject"], "--kind", step["kind"], value, *more)
        assert last.status == 0, last
    with open_registry(db) as registry:
        assert standing(registry, "PUMP").points == []
        assert next_on_site(registry) == NextStep("open")
        assert next_on_site(registry, []) == NextStep("report", (None,))
    assert following(last.out) == "wiretrack report PUMP --out report.html"


def test_a_change_ends_with_its_labels(wiretrack: Wiretrack) -> None:
    replaced = wiretrack("replace", L1, "--same", "--length", "67 m")
    assert following(replaced.out) == "wiretrack label print --due --out labels.pdf"


def test_a_find_leads_to_its_first_hit(wiretrack: Wiretrack) -> None:
    assert following(wiretrack("find", "bore").out) == "wiretrack show PUMP"
    assert following(wiretrack("trace", L1).out) == f"wiretrack isolate {L1}"


def test_no_last_line_in_json(wiretrack: Wiretrack) -> None:
    for asked in (("punchlist",), ("check",), ("test", "plan", "PUMP"), ("label", "stocks")):
        assert "Next, " not in wiretrack(*asked, "--json").out


def test_the_stock_is_asked_for_on_a_terminal_and_the_last_one_is_offered(
    db: Path, tmp_path: Path, wiretrack: Wiretrack
) -> None:
    asked = ("--db", db, "label", "print", "PUMP", "--out", tmp_path / "labels.pdf")
    with at_a_terminal(*asked) as terminal:
        assert f" {STOCK}," in terminal.sees("What each is: wiretrack label stocks")
        terminal.answers("Label stock: ", "flag")  # no stock's whole name
        terminal.sees("No label stock is called 'flag'. Type one of the list.")
        terminal.answers("Label stock: ", STOCK)
        assert terminal.ends() == 0
    with at_a_terminal(*asked) as terminal:
        terminal.answers(f"Label stock [{STOCK}]: ", "")
        assert terminal.ends() == 0
    ran = wiretrack("label", "print", "PUMP", "--out", tmp_path / "labels.pdf")
    assert (ran.status, ran.out) == (2, "")
    assert "'--stock'" in ran.err
