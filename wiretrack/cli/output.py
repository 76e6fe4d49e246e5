# SPDX-License-Identifier: MIT
"""Showing results: one JSON document for programs, tables and plain lines for people.

Colour appears on a terminal only and ``NO_COLOR`` is obeyed (rich does both). Names never reach
rich's markup: every text is made safe and handed over as a `Text`.
"""

from __future__ import annotations

import io
import json
import re
import sys
from contextlib import contextmanager
from functools import cache
from itertools import chain, islice, zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import click

from wiretrack.encoding import document
from wiretrack.manner import words
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

OUTCOME_STYLES = {"pass": "green", "fail": "bold red", "doubt": "yellow"}
UNKNOWN = "–"
LONG, LEAST_WIDTH = 200, 8  # rows that are laid out together; characters of a folded column
SCREEN, WIDE = 24, 60  # lines, where the terminal doesn't tell; columns that a command fits into
_AT_END = re.compile(r" +((?:\x1b\[[0-9;]*m)*)$", re.M)
_screen: dict[str, Any] = {}  # where `console` writes meanwhile
# Columns whose cells are typed in again or read at a glance: never folded.
_WHOLE = ("tag", "of", "code", "stock", "date", "since")


def show(result: object, as_json: bool, text: Callable[[], object]) -> None:
    """Write a result as one JSON document, or as `text` writes it for people."""
    if as_json:
        print_json(result)
    else:
        text()


def print_json(result: object, indent: int | None = 2) -> None:
    """Write one JSON document on standard output, in UTF-8 whatever the terminal speaks.

    What UTF-8 can't hold, a byte of a file's name that is no text, is written as JSON escapes it.
    """
    line = json.dumps(document(result), ensure_ascii=False, indent=indent) + "\n"
    sys.stdout.flush()
    sys.stdout.buffer.write(line.encode("utf-8", "backslashreplace"))
    sys.stdout.flush()


def console(**given: Any) -> Console:
    """Return the console for people; 80 columns where the width isn't known."""
    return _trimmed()(
        highlight=False, markup=False, emoji=False, soft_wrap=False, **_screen | given
    )


@cache
def _trimmed() -> type[Console]:
    from rich.console import Console

    class Trimmed(Console):
        """A console whose lines don't end in spaces."""

        def print(self, *things: Any, **how: Any) -> None:
            with self.capture() as held:
                super().print(*things, **how)
            self.file.write(_AT_END.sub(r"\1", held.get()))

    return Trimmed


@contextmanager
def one_screen(for_all: str, *, kept: int = 2) -> Iterator[None]:
    """Keep what is written within a screen, `kept` lines of it left for what follows.

    Where lines are cut off, the last one says how many, and by which command `for_all`.
    """
    real = console()
    lines = (max(12, real.height - 1) if real.is_terminal else SCREEN) - 1 - kept
    lines -= 2 * (real.width < WIDE)  # where what follows is folded
    held = io.StringIO()
    _screen.update(file=held, width=real.width, force_terminal=real.is_terminal)
    try:
        yield
    finally:
        _screen.clear()
    shown = held.getvalue().splitlines()
    cut = len(shown) - lines if len(shown) > lines + 1 else 0
    sys.stdout.writelines(f"{line}\n" for line in shown[: len(shown) - cut])
    if cut:
        to_be_copied(f"{cut} more lines: {for_all}", "dim")


def say(*lines: str, style: str = "") -> None:
    """Write lines for people, folded to the terminal.

    One with a word too long for it, a path perhaps, stays whole, so that it can be copied.
    """
    target = console()
    for line in lines:
        too_long = max(map(len, line.split()), default=0) > target.width
        target.print(text(line, style), soft_wrap=too_long)


def to_be_copied(line: str, style: str = "") -> None:
    """Write a line that ends in a command, whole: the terminal folds it, and a copy doesn't."""
    console().print(text(line, style), soft_wrap=True)


def heading(title: str, *details: str) -> None:
    """Write a title line in bold, and what belongs beside it."""
    from rich.text import Text

    line = Text(safe(title), style="bold")
    for detail in details:
        line.append(f"  {safe(detail)}", style="not bold")
    console().print(line)


def text(value: object, style: str = "") -> Text:
    """Return any value as safe text, an unknown one as a dash."""
    from rich.text import Text

    return Text(_plain(value), style=style)


def records(columns: Sequence[str], rows: Iterable[object]) -> None:
    """Write records as a table, each column the field that its heading names."""
    names = [f"{name}_" if name == "from" else name.replace(" ", "_") for name in columns]
    table(columns, ([getattr(row, name) for name in names] for row in rows))


def table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table without frames, folded to the width of the terminal.

    Of a long one a terminal shows the first rows; elsewhere rows are written as they come.
    """
    coming = iter(rows)
    first = list(islice(coming, LONG))
    following = next(coming, None)
    if following is None:
        _write_table(columns, first)
    elif _screen:
        _write_table(columns, first)
        _screen["file"].write("\n" * (1 + sum(1 for _ in coming)))  # counted, and never shown
    elif console().is_terminal:
        _write_table(columns, first)
        more = 1 + sum(1 for _ in coming)
        say(f"and {more} more. Send it to a file or through a pager for all, or give --json.")
    else:
        _write_columns(columns, first, chain((following,), coming))


def _write_table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    from rich.table import Table

    shown = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for column in columns:
        whole = column in _WHOLE
        shown.add_column(column, overflow="fold", vertical="top", no_wrap=whole)
    for row in rows:
        shown.add_row(*(_cell(value) for value in row))
    console().print(shown)


def _write_columns(
    columns: Sequence[str], first: list[Sequence[object]], rest: Iterable[Sequence[object]]
) -> None:
    """Write rows one by one in columns as wide as the `first` rows need, as far as there is room.

    A table that has to know all its rows before it writes the first takes ten times as long.
    """
    heads = [_plain(column) for column in columns]
    known = [heads, *([_plain(value) for value in row] for row in first)]
    widths = _widths(columns, [max(map(len, column)) for column in zip(*known, strict=True)])
    for cells in chain(known, ([_plain(value) for value in row] for row in rest)):
        folded = [
            [cell] if column in _WHOLE or len(cell) <= width else wrap(cell, width) or [""]
            for column, cell, width in zip(columns, cells, widths, strict=True)
        ]
        for line in zip_longest(*folded, fillvalue=""):
            pairs = zip(line, widths, strict=True)
            click.echo("  ".join(cell.ljust(width) for cell, width in pairs).rstrip())


def _widths(columns: Sequence[str], natural: list[int]) -> list[int]:
    """Return what is left of the columns' natural widths where all are too wide: the widest give.

    >>> _widths(("tag", "circuit", "why"), [8, 60, 90])
    [8, 34, 34]
    """
    widths = list(natural)
    room = console().width - 2 * (len(widths) - 1)
    give = [n for n, column in enumerate(columns) if column not in _WHOLE]
    while give and sum(widths) > room:
        widest = max(give, key=lambda n: widths[n])
        if widths[widest] <= LEAST_WIDTH:
            break
        widths[widest] -= 1
    return widths


def _plain(value: object) -> str:
    return UNKNOWN if value is None or value == "" else safe(str(value))


def counted(number: object, noun: str) -> str:
    """Return a number of things, the noun in the plural unless there is one.

    >>> counted(1, "walk"), counted(2, "touch")
    ('1 walk', '2 touches')
    """
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}{'es' if noun.endswith(('ch', 'x')) else 's'}"


def facts(pairs: Iterable[tuple[str, object]]) -> None:
    """Write name and value pairs, the unknown ones left out."""
    from rich.table import Table

    shown = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    shown.add_column(style="dim", no_wrap=True)
    shown.add_column(overflow="fold")
    for name, value in pairs:
        if value is not None and value != "":
            shown.add_row(text(words(name)) if name else "", _cell(value))
    console().print(shown)


def cautions(lines: Iterable[str]) -> None:
    """Write cautions where people can't miss them, on standard error so that results stay clean."""
    target = console(stderr=True)
    target.print(text("Before you begin:", "bold yellow"))
    target.print(_hanging(((" !", line) for line in lines), "yellow"))


def indented(*lines: str, style: str = "") -> None:
    """Write lines for people, set in by four columns."""
    console().print(_hanging((("   ", line) for line in lines), style))


def _hanging(pairs: Iterable[tuple[str, str]], style: str = "") -> Table:
    """Return pairs of a mark and a text whose folded lines stay right of the mark."""
    from rich.table import Table

    shown = Table.grid(padding=(0, 1, 0, 0))
    shown.add_column(no_wrap=True)
    shown.add_column(overflow="fold")
    for mark, line in pairs:
        shown.add_row(text(mark, style) if mark.strip() else mark, text(line, style))
    return shown


def with_drawing(result: object, svg: Path | None) -> object:
    """Return a result as a document that names the drawing made of it, if there is one."""
    return document(result) | {"file": str(svg)} if svg else result


def picture(lines: Iterable[str]) -> None:
    """Write lines that mustn't be folded: a tree, a plot."""
    for line in lines:
        console().print(text(line), no_wrap=True, overflow="ignore", crop=False)


def length(length_m: float | None) -> str | None:
    """Return a length in both units; `None` stays `None`, here and below."""
    from wiretrack.electrical.quantity_text import format_length

    return None if length_m is None else format_length(length_m)


def quantity(value: float | None, unit: str) -> str | None:
    """Return what was read, or its limit, in its unit."""
    from wiretrack.electrical.quantity_text import format_number

    return None if value is None else format_number(value, unit)


def resistance(ohms: float | None) -> str | None:
    """Return a resistance with its prefix."""
    from wiretrack.electrical.quantity_text import format_resistance

    return None if ohms is None else format_resistance(ohms)


def volts(number: float | None) -> str | None:
    """Return a voltage."""
    return None if number is None else f"{number:g} V"


def _cell(value: object) -> Any:
    style = OUTCOME_STYLES.get(value, "") if isinstance(value, str) else ""
    return text(value, style)
