# SPDX-License-Identifier: MIT
"""What commands share: an open site, one way to answer, and options that come in groups."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from dataclasses import fields, is_dataclass, replace
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.bar import bars
from wiretrack.cli.command import TYPED
from wiretrack.cli.output import cautions, one_screen, say, show, to_be_copied
from wiretrack.cli.wording import at_registry, for_shell, next_told, told, typed_db
from wiretrack.errors import AmbiguousError
from wiretrack.late import dataclass
from wiretrack.model.fields import facts as facts_of
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path

    from wiretrack.library import OpenSite
    from wiretrack.model.fields import Kind
    from wiretrack.store.store import Registry
    from wiretrack.tasks.report.standing import NextStep

    Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


@dataclass(frozen=True)
class Answer:
    """What a command answers: its `result`, how `text` writes that for people, the exit status.

    `then` tells what a person would do next, the last line: a job and what it is done with, or what
    finds that out; without it, it is what the change or the site asks for.
    """

    result: object
    text: Callable[[], object]
    status: int = 0
    then: Callable[[], NextStep | None] | tuple[str | None, ...] | None = None


json_option = click.option(
    "--json", "as_json", is_flag=True, help="One JSON document instead of text."
)


def answers(function: Callable[..., Answer]) -> Callable[..., int]:
    """Make a command of a function of the open site, its other parameters those of the command."""
    return _command(function, open_site)


def prints(function: Callable[..., Answer]) -> Callable[..., int]:
    """Make a command of a function of the registry's path, which opens it itself, if at all."""
    return _command(function, nullcontext)


def _command(
    function: Callable[..., Answer], given: Callable[[Path], AbstractContextManager[Any]]
) -> Callable[..., int]:
    @json_option
    @click.pass_obj
    @wraps(function)
    def command(db: Path, /, *, as_json: bool, **asked: Any) -> int:
        with given(db) as subject:
            with bars():
                answer = _answered(function, subject, asked)
            _say_read_as(subject)
            show(answer.result, as_json, answer.text)
            if not as_json and answer.then is not nothing:
                say_next(_next(answer) or _after(subject, answer.result))
        return answer.status

    return command


def a_screen(function: Callable[..., Answer]) -> Callable[..., Answer]:
    """Give a command ``--all``; without it people get a screen of its answer, and how to get all.

    Stands below `answers` or `prints`, above the command's own options.
    """

    @click.option("--all", "everything", is_flag=True, help="All of it, not just a screen.")
    @wraps(function)
    def command(subject: Any, /, *, everything: bool, **asked: Any) -> Answer:
        answer = function(subject, **asked)
        return answer if everything else replace(answer, text=lambda: _on_a_screen(answer.text))

    return command


def _on_a_screen(text: Callable[[], object]) -> None:
    context = click.get_current_context()
    typed = map(for_shell, context.meta[TYPED])
    with one_screen(" ".join((context.command_path, *typed, "--all"))):
        text()


def _next(answer: Answer) -> NextStep | None:
    then = answer.then
    return do_next(*then) if isinstance(then, tuple) else then() if then else None


def nothing() -> None:
    """Return no next step: of an answer for scripts alone."""


def _after(subject: Any, result: Any) -> NextStep | None:
    """Return what a person would do after a change, or else on the site of an open registry."""
    from wiretrack.tasks.report.standing import after_change, next_on_site

    registry = getattr(subject, "registry", None)
    if registry is None:
        return None
    if hasattr(result, "labels_due"):
        return after_change(registry, result.labels_due, result.tests_owed)
    return next_on_site(registry)


def say_next(
    step: NextStep | None, *then: NextStep, when: str = "Next", with_data: bool = False
) -> None:
    """Write what a person would do next, if it is known, and what follows.

    `with_data` it stands on standard error, on a terminal; a script that keeps the data gets none.
    """
    if step and not with_data:
        to_be_copied(next_told(step, when, db=typed_db.get()), "bold")
        for later in then:
            to_be_copied(next_told(later, "Then", db=typed_db.get()))
    elif step and sys.stderr.isatty():
        click.echo(next_told(step, db=typed_db.get()), err=True)


def warn(site: OpenSite, brief: str, lines: Sequence[str], for_all: str) -> None:
    """Write cautions in full the first time in a day, then one line and the command for all."""
    from wiretrack.tasks.test.visit import Visit

    if Visit.today(site.registry).reads(lines):
        cautions(lines)
    else:
        click.echo(at_registry(f"CAUTION: {brief} All {len(lines)}: {for_all}"), err=True)


def _say_read_as(subject: Any) -> None:
    """Say which tag was meant by one whose check character was taken for its look-alike."""
    registry = getattr(subject, "registry", subject)
    if read_as := getattr(registry, "read_as", None):
        click.echo("{} is read as {}.".format(*map(safe, read_as)), err=True)


def next_of(site: OpenSite, what: str) -> NextStep:
    """Return what a person would do next with a record."""
    from wiretrack.tasks.report.standing import standing

    return standing(site.registry, what).next


def do_next(job: str | None, *about: str | None) -> NextStep:
    """Return a job that a person would do next, and what it is done with."""
    from wiretrack.tasks.report.standing import NextStep

    return NextStep(job or "", about)


def _answered(function: Callable[..., Answer], subject: Any, asked: dict[str, Any]) -> Answer:
    """Return what a command answers; on a terminal, ask which of several meanings a word has."""
    while True:
        try:
            return function(subject, **asked)
        except AmbiguousError as error:
            from wiretrack.cli.asking import can_ask, choose

            if not can_ask():
                raise
            say(told(error), style="yellow")
            meant = (str(error.value), choose("Which is it", error.choices))
            asked, before = {key: _with(value, meant) for key, value in asked.items()}, asked
            if asked == before:
                raise


def _with(value: Any, meant: tuple[str, str]) -> Any:
    """Return a value as a command got it, one text in it replaced by what was meant."""
    if isinstance(value, str):
        return value.replace(*meant)
    if isinstance(value, tuple):
        return tuple(_with(each, meant) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        given = {each.name: getattr(value, each.name) for each in fields(value)}
        return replace(value, **{name: _with(each, meant) for name, each in given.items()})
    return value


def open_site(path: Path) -> OpenSite:
    """Return the open site; what is written is noted as by the person at the keyboard."""
    from wiretrack.library import open as open_registry

    site = open_registry(path, who=person())
    site.registry.face = "cli"
    return site


def opened(path: Path) -> Registry:
    """Return the open registry; use it in a ``with`` block."""
    from wiretrack import manner
    from wiretrack.store.store import open_registry

    registry = open_registry(path, "cli")
    manner.use(registry.manner())
    return registry


def person() -> str | None:
    """Return the name of whoever is at the keyboard, for the history."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return None


def wants_json() -> bool:
    """Return whether the command at hand answers in JSON."""
    return bool(click.get_current_context().params["as_json"])


def together(name: str, make: Callable[..., Any], *options: Decorator) -> Decorator:
    """Add options to a command, which takes them as one: `name`, what `make` makes of them."""

    def _add(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def command(*context: Any, **given: Any) -> Any:
            made = make(**{key: given.pop(key) for key in keys})
            return function(*context, **{name: made}, **given)

        before = len(getattr(command, "__click_params__", ()))
        for option in reversed(options):
            option(command)
        keys = [p.name for p in reversed(command.__click_params__[before:])]  # type: ignore[attr-defined]
        return command

    return _add


def either(name: str, **flags: str) -> Decorator:
    """Add flags that rule each other out, by their help; the command takes the one given."""
    options = (
        click.option(f"--{flag.replace('_', '-')}", flag, is_flag=True, help=text)
        for flag, text in flags.items()
    )
    return together(name, one_of, *options)


def one_of(**said: bool) -> str | None:
    """Return the flag that was given, `None` if none was.

    Raises `click.UsageError` if several were given that rule each other out.
    """
    given = [name for name, is_said in said.items() if is_said]
    if len(given) > 1:
        names = " and ".join(f"--{name.replace('_', '-')}" for name in given)
        raise click.UsageError(f"{names} rule each other out. Give one of them.")
    return given[0] if given else None


@dataclass(frozen=True)
class Change:
    """When the work was changed, and by whom; the person at the keyboard where that isn't said."""

    at: str | None
    by: str | None

    @property
    def who(self) -> str | None:
        """Who changed it."""
        return self.by or person()


def field_options(of: type, *keys: str, **types: Any) -> Decorator:
    """Add options for fields of a record to a command, by what the field list says of them."""
    known = {fact.key: fact for fact in facts_of(of)}

    def _add(function: Callable[..., Any]) -> Callable[..., Any]:
        for key in reversed(keys):
            fact, named = known[key], f"--{key.replace('_', '-')}"
            like = f", like {fact.example}" if fact.example and "like" not in fact.label else ""
            click.option(named, type=types.get(key), help=f"{fact.label}{like}.")(function)
        return function

    return _add


class Word(click.Choice[str]):
    """One of the allowed words of a kind, read as people say it; a mistyped one gets a near one."""

    def __init__(self, kind: Kind, words: Iterable[str] = ()) -> None:
        super().__init__([*(words or kind.words)])
        self._kind = kind

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the word that is meant."""
        return super().convert(self._kind.meant(str(value)), param, ctx)


def _may_replace(ctx: click.Context, _: click.Parameter, given: bool) -> None:
    from wiretrack.files import replacing

    if given:
        ctx.with_resource(replacing())


# Of every command that writes a file; what it writes asks `files.refuse_others`.
force_option = click.option(
    "--force", is_flag=True, expose_value=False, callback=_may_replace,
    help="Replace a file that wiretrack didn't write.",
)  # fmt: skip


at_option = click.option(
    "--at", "--on", "at", help="The day or time of the change; now if left out."
)
by_option = click.option("--by", help="Who changed it.")
change_options = together("change", Change, at_option, by_option)
