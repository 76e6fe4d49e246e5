# SPDX-License-Identifier: MIT
"""How a command is: its help says what it is for, and on a terminal it asks for what is missing."""

from __future__ import annotations

from functools import cache
from inspect import cleandoc
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

TYPED = "wiretrack.typed"  # the words of a command, as its context keeps them
_ASKED = {
    "enclosure": "Box",
    "fields": "Field and value, like length=67 m",
    "file": "File",
    "other": "Tag of the other wire",
    "outcome": "yes, no or cant",
    "stock": "Label stock",
    "tag": "Tag of the wire",
    "through": "Box where they are cut",
    "what": "Tag or code",
    "words": "Words to look for",
}


@cache
def examples() -> dict[str, list[str]]:
    """Return two real examples of each command, by its words; they work on the demo's site."""
    text = Path(__file__).with_name("examples.txt").read_text("utf-8")
    parts = (part.splitlines() for part in text.split("\n\n"))
    return {path: [line.strip() for line in lines] for path, *lines in parts}


class _Narrow(click.HelpFormatter):
    """Lists that leave the words their room on a narrow terminal."""

    def write_dl(
        self, rows: Iterable[tuple[str, str]], col_max: int = 30, spacing: int = 2
    ) -> None:
        """Write words and what they mean; a long choice of words is folded between two of them."""
        room = self.width - self.current_indent
        told = [
            (word if len(word) <= room else word.replace("|", "\n" + " " * 6 + "|"), meaning)
            for word, meaning in rows
        ]
        super().write_dl(told, min(col_max, self.width // 3), spacing)

    def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
        """Write the words in their order, on one line where there is room."""
        told = f"{prefix or 'Usage: '}{prog} {args}"
        self.write("\n    ".join(click.wrap_text(told, self.width - 4).splitlines()) + "\n")


class _Said(click.Command):
    """What has a help that begins with what it is for, then two examples."""

    def get_help(self, ctx: click.Context) -> str:
        """Return the help, as wide as the terminal."""
        from shutil import get_terminal_size

        ctx.terminal_width, ctx.formatter_class = min(80, get_terminal_size().columns), _Narrow
        return "\n".join(line.rstrip() for line in super().get_help(ctx).splitlines())

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what it is for, two examples, and then its arguments and options."""
        path, known = ctx.command_path.partition(" ")[2], examples()
        below = [lines[0] for name, lines in known.items() if name.startswith(f"{path} ".lstrip())]
        said, _, more = cleandoc(self.help or "").partition("\n\n")
        formatter.write_text(said)
        with formatter.section("Examples"):
            for line in known.get(path, below[:2]):
                formatter.write(f"  {line}\n")
        formatter.write_paragraph()
        self.format_usage(ctx, formatter)
        if more:
            formatter.write_paragraph()
            formatter.write_text(more)
        self.format_options(ctx, formatter)


class Command(_Said):
    """A command that asks for an argument that is missing, on a terminal."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Return what is left of the words; ask for an argument that is missing, on a terminal."""
        ctx.meta[TYPED] = [*args]
        given = self._options_first(ctx, args)
        while True:
            try:
                return super().parse_args(ctx, [*given])
            except click.MissingParameter as error:
                from wiretrack.cli.asking import can_ask

                if not error.param or {"--json", "--jsonl"} & {*given} or not can_ask(ctx):
                    raise
                answer = _asked(ctx, error.param)
                ctx.default_map = {**(ctx.default_map or {}), str(error.param.name): answer}

    def _options_first(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Return the words with ``--`` between options and the rest, where a code begins with a -.

        Codes do by IEC 81346, and voltages may; no option here is written with one hyphen but -h.
        """
        known = {name: p for p in self.get_params(ctx) if isinstance(p, click.Option)
                 for name in (*p.opts, *p.secondary_opts)}  # fmt: skip
        options, rest, coming = list[str](), list[str](), iter(args)
        for word in coming:
            if word == "--":
                rest += coming
            elif word in known:
                taken = 0 if known[word].is_flag or known[word].count else known[word].nargs
                values = [*islice(coming, taken)]
                if len(values) < taken:
                    return [*args]
                options += [word, *values]
            elif word.startswith("--") and not ctx.ignore_unknown_options:
                options.append(word)
            else:
                rest.append(word)
        return [*options, "--", *rest] if any(w.startswith("-") for w in rest) else [*args]


class Group(_Said, click.Group):
    """A group of such commands."""

    command_class = Command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write each command with all that it is for."""
        commands = [self.get_command(ctx, name) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl([
                (str(each.name), " ".join(cleandoc(each.help or "").partition("\n\n")[0].split()))
                for each in commands if each
            ])  # fmt: skip


def _asked(ctx: click.Context, param: click.Parameter) -> Any:
    """Ask for an argument; what was answered last is offered."""
    from wiretrack.cli.asking import answered, ask
    from wiretrack.cli.completing import named_kinds, words_of
    from wiretrack.cli.output import say, to_be_copied
    from wiretrack.errors import BadInputError
    from wiretrack.store.searching import resolve
    from wiretrack.store.store import open_registry
    from wiretrack.tasks.describe.adding import Addition

    def _parse(text: str) -> str:
        try:
            param.type_cast_value(ctx, [text] if param.nargs < 0 else text)
        except click.UsageError as error:
            raise BadInputError(error.message) from None
        if only_shipped and text not in choices:
            raise BadInputError(f"No label stock is called '{text}'.", "Type one of the list.")
        if name == "kind" and words:
            assert Addition(kind=text).of  # refuses what is none
        if name == "tag":
            with open_registry(registry_of(ctx), "cli") as registry:
                resolve(registry, text, ("conductor",))
        return text

    name, words = str(param.name), words_of(param)
    only_shipped = name == "stock" and "--stocks" not in ctx.meta[TYPED]
    choices = [word for word, _ in words(ctx, "")] if words else getattr(param.type, "choices", ())
    question = _ASKED.get(name, name.replace("_", " ").capitalize())
    word = f"{ctx.command.name} {name}" if name == "kind" else name  # each command has its kinds
    last = registry_of(ctx), "box" if named_kinds(name) == ("enclosure",) else word
    if name == "stock" and answered(*last) not in choices:  # nobody knows their names by heart
        say(f"Label stocks: {', '.join(choices)}.")
        to_be_copied("What each is: wiretrack label stocks", "dim")
    if name == "kind":
        say(f"Kinds: {', '.join(choices)}.")
    answer = ask(question, _parse, choices=choices, last=last)
    return [answer] if param.nargs < 0 else answer


def registry_of(ctx: click.Context) -> Path:
    """Return the path of the registry that a command is about."""
    path: Path = ctx.find_root().obj
    return path
