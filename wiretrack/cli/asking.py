# SPDX-License-Identifier: MIT
"""The one way to ask on a terminal: one short question at a time, asked again where it is wrong.

Whoever leaves (Ctrl-C, or the end of input) ends the command with status 2 and a line; ask before
you write, so that nothing is written then.
"""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

from wiretrack import state
from wiretrack.cli.output import console, say
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError
from wiretrack.plain import few, safe

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

T = TypeVar("T")
D = TypeVar("D")
_ANSWERS = "answers"
_MOST = 12  # choices that are listed
ROOM = 16  # columns that an answer needs beside its question


class StoppedError(click.ClickException):
    """Somebody left while being asked."""

    exit_code = 2

    def __init__(self, message: str = "stopped. Nothing was written.") -> None:
        super().__init__(message)


def can_ask(ctx: click.Context | None = None) -> bool:
    """Return whether somebody is at a terminal who can be asked: no pipe, no ``--json``."""
    given = (ctx or click.get_current_context()).params
    return not given.get("as_json") and sys.stdin.isatty() and sys.stdout.isatty()


def ask(
    question: str,
    parse: Callable[[str], T] = str,  # type: ignore[assignment]
    default: D | None = None,
    choices: Sequence[str] = (),
    last: tuple[Path, str] | None = None,
    *,
    listed: bool = False,
) -> T | D:
    """Return what `parse` makes of the answer; a wrong one gets its line and the question again.

    `question` is a few words, without a colon; the Tab key completes `choices`, of which the first
    are `listed` for a wrong answer that names none of them. `parse` raises
    `BadInputError` for what can't be; where that has two `choices`, which of them was meant is
    asked. `default` is what Enter alone answers, shown in brackets: ``""`` where it may stay
    unknown; without one an answer is needed. What was answered `last` in a registry to a
    question of this word is offered, on any day. Raises `StoppedError` if whoever is asked
    leaves.
    """
    shown = "" if default is None or isinstance(default, bool) else str(default)
    shown = shown or (last and answered(*last)) or ""
    while True:
        text = _typed(question, shown, choices)
        if not text and default is not None:
            return default
        text = text or (shown if last else "")
        try:
            if text:
                answer = parse(text)
                if last:
                    remember(*last, text)
                return answer
            say("An answer is needed. Ctrl-C stops.", style="red")
        except BadInputError as error:
            say(why := told(error), style="red")
            if listed and choices and not any(each in why for each in choices):
                say(f"There are: {few(choices, _MOST)}.")
            if meant := getattr(error, "choices", ()):
                return parse(choose("Which is it", meant))


def answered(registry: Path, word: str) -> str:
    """Return what was answered last to a question of this word, on any day."""
    return str(state.kept(_ANSWERS, registry).get(word, ""))


def remember(registry: Path, word: str, text: str) -> None:
    """Keep an answer in the user's state folder, to be offered the next time."""
    before = state.kept(_ANSWERS, registry)
    if before.get(word) != text:
        state.keep(_ANSWERS, registry, before | {word: text})


def confirm(question: str, *, default: bool = True) -> bool:
    """Return whether the answer is yes; Enter alone answers `default`, the capital letter."""

    def _parse(text: str) -> bool:
        if "yes".startswith(text.lower()) or "no".startswith(text.lower()):
            return text[0] in "yY"
        raise BadInputError(f"'{text}' is neither yes nor no.", "Type y or n.")

    return ask(f"{question} ({'Y/n' if default else 'y/N'})", _parse, default)


def choose(question: str, options: Sequence[str]) -> str:
    """Return one of the options: by its number, or by as much of it as tells it apart."""
    for number, option in enumerate(options, 1):
        say(f"  {number}  {option}")

    def _parse(text: str) -> str:
        word = text.casefold()
        if same := [each for each in options if each.casefold() == word]:
            return same[0]
        if text.isdecimal() and 0 < int(text) <= len(options):
            return options[int(text) - 1]
        like = [each for each in options if each.casefold().startswith(word)]
        if len(like) == 1:
            return like[0]
        raise BadInputError(f"'{text}' is none of them.", f"Type a number, 1 to {len(options)}.")

    return ask(question, _parse, choices=options)


def _typed(question: str, default: str, choices: Sequence[str]) -> str:
    """Return one line; the question stands on a line of its own where it leaves no room."""
    bracket = f" [{safe(default)}]" if default else ""
    prompt = f"{safe(question)}{bracket}: "
    if len(prompt) + ROOM > console().width:
        say(question)
        prompt = f"{bracket[1:]}> "
    sys.stdout.flush()
    try:
        with _completing(choices):
            return input(prompt).strip()
    except (EOFError, KeyboardInterrupt):
        click.echo()
        raise StoppedError from None


@contextmanager
def _completing(choices: Sequence[str]) -> Iterator[None]:
    """Let the Tab key complete the choices, in any case, where the terminal library is there."""
    try:
        import readline
    except ImportError:
        yield
        return

    def _complete(typed: str, number: int) -> str | None:
        like = [each for each in choices if each.casefold().startswith(typed.casefold())]
        return like[number] if number < len(like) else None

    before: Any = readline.get_completer(), readline.get_completer_delims()
    readline.set_completer(_complete)
    readline.set_completer_delims("")
    is_libedit = "libedit" in (readline.__doc__ or "")
    readline.parse_and_bind("bind ^I rl_complete" if is_libedit else "tab: complete")
    try:
        yield
    finally:
        readline.set_completer(before[0])
        readline.set_completer_delims(before[1])
