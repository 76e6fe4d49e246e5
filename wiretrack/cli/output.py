# SPDX-License-Identifier: MIT
"""Showing results: one JSON document for programs, tables and plain lines for people.

Colour appears on a terminal only and ``NO_COLOR`` is obeyed (rich does both). Names never reach
rich's markup: every text is made safe and handed over as a `Text`.
"""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any

from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

OUTCOME_STYLES = {"pass": "green", "fail": "bold red", "doubt": "yellow"}
UNKNOWN = "–"
# Columns whose cells are typed in again or read at a glance: never folded.
_WHOLE = ("tag", "of", "code", "stock", "date", "since")


def print_json(document: object, indent: int | None = 2) -> None:
    """Write one JSON document on standard output, in UTF-8 whatever the terminal speaks.

    What UTF-8 can't hold, a byte of a file's name that is no text, is written as JSON escapes it.
    """
    line = json.dumps(document, ensure_ascii=False, indent=indent) + "\n"
    sys.stdout.flush()
    sys.stdout.buffer.write(line.encode("utf-8", "backslashreplace"))
    sys.stdout.flush()


def console() -> Console:
    """Return the console for people; 80 columns where the width isn't known."""
    from rich.console import Console

    return Console(highlight=False, markup=False, emoji=False, soft_wrap=False)


def say(*lines: str, style: str = "") -> None:
    """Write lines for people, folded to the terminal.

    One with a word too long for it, a path perhaps, stays whole, so that it can be copied.
    """
    target = console()
    for line in lines:
        too_long = max(map(len, line.split()), default=0) > target.width
        target.print(text(line, style), soft_wrap=too_long)


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

    return Text(UNKNOWN if value is None or value == "" else safe(str(value)), style=style)


def table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table without frames, folded to the width of the terminal."""
    from rich.table import Table

    shown = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for column in columns:
        whole = column in _WHOLE
        shown.add_column(column, overflow="fold", vertical="top", no_wrap=whole)
    for row in rows:
        shown.add_row(*(_cell(value) for value in row))
    console().print(shown)


def counted(number: object, noun: str) -> str:
    """Return a number of things, the noun in the plural unless there is one.

    >>> counted(1, "walk"), counted(2, "touch")
    ('1 walk', '2 touches')
    """
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}{'es' if noun.endswith('ch') else 's'}"


def facts(pairs: Iterable[tuple[str, object]]) -> None:
    """Write name and value pairs, the unknown ones left out."""
    from rich.table import Table

    shown = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    shown.add_column(style="dim", no_wrap=True)
    shown.add_column(overflow="fold")
    for name, value in pairs:
        if value is not None and value != "":
            shown.add_row(text(name) if name else "", _cell(value))
    console().print(shown)


def cautions(lines: Iterable[str]) -> None:
    """Write cautions where people can't miss them, on standard error so that results stay clean."""
    from rich.console import Console

    target = Console(stderr=True, highlight=False, markup=False, emoji=False)
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


def _cell(value: object) -> Any:
    style = OUTCOME_STYLES.get(value, "") if isinstance(value, str) else ""
    return text(value, style)
