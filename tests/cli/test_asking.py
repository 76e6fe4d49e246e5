# SPDX-License-Identifier: MIT
"""Asking on a real terminal: defaults, completion, wrong answers, and leaving."""

from __future__ import annotations

import pytest

from tests.terminal import CTRL_C, CTRL_D, TAB, program_at_a_terminal

_ASK = """
import sys
from wiretrack.cli.asking import StoppedError, ask, choose, confirm
from wiretrack.electrical.quantities import parse_length_m
from wiretrack.errors import UnlikelyValueError

def slipped(text):
    if text.isdecimal():
        raise UnlikelyValueError(text, text, (text + "M", text + "ohm"))
    return text

try:
    print("got", repr({call}))
except StoppedError as stopped:
    print("left:", stopped.format_message())
    sys.exit(stopped.exit_code)
"""


@pytest.mark.parametrize("columns", [80, 40])
def test_a_wrong_answer_gets_its_line_and_the_question_again(columns: int) -> None:
    call = "ask('Length', parse_length_m)"
    with program_at_a_terminal(_ASK.format(call=call), columns) as terminal:
        terminal.answers("Length: ", "seven")
        assert "'seven' is not a length." in terminal.sees("Length: ")
        terminal.types("")
        assert "An answer is needed." in terminal.sees("Length: ")
        terminal.types("31.7m")
        terminal.sees("got 31.7")
        assert terminal.ends() == 0


def test_enter_answers_the_default_which_stands_in_brackets() -> None:
    with program_at_a_terminal(_ASK.format(call="ask('Meter', default='M1')")) as terminal:
        terminal.answers("Meter [M1]: ", "")
        terminal.sees("got 'M1'")
    with program_at_a_terminal(_ASK.format(call="ask('Note', default='')")) as terminal:
        terminal.answers("Note: ", "")
        terminal.sees("got ''")


def test_tab_completes_in_any_case() -> None:
    call = "ask('Box', choices=('MDB', 'PH1'))"
    with program_at_a_terminal(_ASK.format(call=call)) as terminal:
        terminal.answers("Box: ", f"p{TAB}")
        terminal.sees("got 'PH1'")


@pytest.mark.parametrize("key", [CTRL_C, CTRL_D])
@pytest.mark.parametrize("call", ["ask('Box')", "confirm('Sure')", "choose('Which', ['a', 'b'])"])
def test_leaving_is_one_line_and_status_2(key: str, call: str) -> None:
    with program_at_a_terminal(_ASK.format(call=call)) as terminal:
        terminal.sees(": ")
        terminal.leaves(key, "left: stopped. Nothing was written.")
        assert terminal.ends() == 2


@pytest.mark.parametrize(("typed", "meant"), [("", True), ("n", False), ("YES", True)])
def test_yes_and_no(typed: str, meant: bool) -> None:
    with program_at_a_terminal(_ASK.format(call="confirm('Sure?')")) as terminal:
        terminal.answers("Sure? (Y/n): ", "perhaps")
        terminal.sees("'perhaps' is neither yes nor no.")
        terminal.answers("Sure? (Y/n): ", typed)
        terminal.sees(f"got {meant}")


@pytest.mark.parametrize(
    ("typed", "meant"), [("2", "0.55ohm"), ("550", "550M"), ("0.55OHM", "0.55ohm")]
)
def test_one_of_several_by_number_or_its_beginning(typed: str, meant: str) -> None:
    call = "choose('Which', ['550M', '0.55ohm'])"
    with program_at_a_terminal(_ASK.format(call=call)) as terminal:
        terminal.answers("Which: ", "9")
        assert "'9' is none of them." in terminal.sees("Which: ")
        terminal.types(typed)
        terminal.sees(f"got '{meant}'")


def test_where_two_may_be_meant_which_is_asked() -> None:
    call = "ask('Value', slipped)"
    with program_at_a_terminal(_ASK.format(call=call)) as terminal:
        terminal.answers("Value: ", "5")
        terminal.answers("Which is it: ", "1")
        terminal.sees("got '5M'")


def test_a_long_question_leaves_room_for_its_answer() -> None:
    question = "Which breaker feeds the pump house now"
    with program_at_a_terminal(
        _ASK.format(call=f"ask({question!r}, default='Q4')"), 40
    ) as terminal:
        shown = terminal.sees("[Q4]> ")
        assert all(len(line) <= 40 for line in shown.splitlines())
        terminal.types("")
        terminal.sees("got 'Q4'")
