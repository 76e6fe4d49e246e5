# SPDX-License-Identifier: MIT
"""Errors are facts: each face words what to do about them with its own names."""

from __future__ import annotations

import ast
import pickle
import re
from functools import cache
from typing import TYPE_CHECKING

import click

from tests.code import MODULES, PACKAGE, nodes, strings, text_of
from tests.drawing import each
from wiretrack.cli import wording
from wiretrack.cli.group import COMMANDS, wiretrack
from wiretrack.errors import BadInputError, Hint, LabelError, NotFoundError, OutOfRangeError
from wiretrack.web.shared import said

if TYPE_CHECKING:
    from pathlib import Path

BELOW = [f for f in MODULES if f.relative_to(PACKAGE).parts[0] != "cli"]
SPOKEN = re.compile(rf"(?<![\w'-])--[a-z][a-z]|\bwiretrack ({'|'.join(COMMANDS)})\b")
FIELD = re.compile(r"\{([a-z_]+)\}")


def messages(file: Path) -> list[str]:
    """Return the texts of a module but for its docstrings, with a mark for what is filled in."""
    return strings(text_of(file))


@cache
def hints() -> list[tuple[str, str]]:
    """Return each hint in the code: its words and its job, as far as they are written out."""
    found = []
    for file in BELOW:
        for node in nodes(text_of(file)):
            if not (isinstance(node, ast.Call) and ast.unparse(node.func) == "Hint"):
                continue
            named = {k.arg: k.value for k in node.keywords} | dict(
                zip(("words", "job"), node.args, strict=False)
            )
            words, job = (
                value.value if isinstance(value := named.get(name), ast.Constant) else ""
                for name in ("words", "job")
            )
            found.append((str(words), str(job)))
    return found


def options(command: click.Command) -> set[str]:
    """Return the names of all options of a command and of those below it."""
    found = {o.lstrip("-") for p in command.params for o in (*p.opts, *p.secondary_opts)}
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            found |= options(below) if below else set()
    return found


@each(BELOW)
def test_no_message_outside_the_command_line_names_an_option_or_a_command(file: Path) -> None:
    assert [text for text in messages(file) if SPOKEN.search(text)] == []


def test_a_message_that_names_an_option_would_be_seen(tmp_path: Path) -> None:
    file = tmp_path / "one.py"
    file.write_text('"""Not --this."""\nraise BadInputError("No. Give --out.", "wiretrack show X")')
    assert [bool(SPOKEN.search(text)) for text in messages(file)] == [True, True]


def test_every_job_that_a_hint_leads_on_to_has_its_command() -> None:
    jobs = {job for _, job in hints() if job}
    assert jobs
    assert jobs <= {*wording.JOBS, *wording.NEXT}


def test_every_field_that_a_hint_names_is_an_option() -> None:
    fields = {name for words, _ in hints() for name in FIELD.findall(words)}
    assert fields
    assert {name.replace("_", "-") for name in fields} <= options(wiretrack)


def test_the_faces_word_one_hint_each_in_its_way() -> None:
    error = BadInputError(
        "Nothing was measured", Hint("Give {near} and {near_joined}.", "show", "PMP-001G")
    )
    assert str(error) == "Nothing was measured. Give near and near joined."
    assert wording.told(error) == (
        "Nothing was measured. Give --near and --near-joined. See: wiretrack show PMP-001G"
    )
    assert said(error) == (
        "Nothing was measured."
        " Give “Read at the near end” and “Read at the near end, far ends connected”."
    )


def test_a_page_leaves_out_what_it_has_no_field_for() -> None:
    assert said(BadInputError("It exists already.", Hint("Choose another with {db}."))) == (
        "It exists already."
    )


def test_an_error_says_its_code_field_value_and_what_is_allowed() -> None:
    error = OutOfRangeError("Length", 0, "m", "above 0 m")
    assert (error.code, error.value, error.allowed) == ("out-of-range", 0, "above 0 m")
    missing = NotFoundError("enclosure", "MBD", ["MDB"])
    assert (missing.code, missing.value, missing.near) == ("not-found", "MBD", ("MDB",))
    assert str(missing) == "No enclosure is called 'MBD'. Close to it: MDB."


def test_an_error_passes_from_one_process_to_another() -> None:
    error = LabelError("PMP-001G", "far", "too long", Hint("Take {stock}."))
    again = pickle.loads(pickle.dumps(error))
    assert (type(again), str(again), again.tag) == (LabelError, str(error), "PMP-001G")
