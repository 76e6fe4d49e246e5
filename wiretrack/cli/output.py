# SPDX-License-Identifier: MIT
"""Showing results: one JSON document for programs, tables and plain lines for people.

Colour appears on a terminal only. Every text is made safe.
"""

from __future__ import annotations

import io
import json
import re
import sys
from contextlib import contextmanager
from itertools import chain, islice, zip_longest
from operator import add, gt
from typing import TYPE_CHECKING

import click

from wiretrack.cli.terminal import (
    cells,
    folded,
    longest_word,
    narrowed,
    sentences,
    terminal,
    words_in,
)
from wiretrack.cli.wording import at_registry
from wiretrack.days import day
from wiretrack.encoding import document
from wiretrack.late import pattern
from wiretrack.manner import words
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from wiretrack.cli.terminal import Terminal
    from wiretrack.model.entity import Attachment, Entity, Note

    Cell = tuple[str, str]  # a text and its style

OUTCOME_STYLES = {"pass": "green", "fail": "bold red", "doubt": "yellow"}
UNKNOWN = "–"
LONG = 200  # rows that are laid out together
FEW = 10  # rows of what a change brings with it
SCREEN, WIDE = 24, 60  # lines, where the terminal doesn't tell; columns that a command fits into
_AT_END = pattern(r" +((?:\x1b\[[0-9;]*m)*)$", re.M)
_screen: list[Terminal] = []  # where `console` writes meanwhile
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


def console() -> Terminal:
    """Return the terminal for people; 80 columns where the width isn't known."""
    return _screen[-1] if _screen else terminal()


def write(lines: Iterable[str], target: Terminal | None = None) -> None:
    """Write lines, which don't end in spaces."""
    told = "".join([_AT_END.sub(r"\1", line) + "\n" for line in lines])
    click.echo(told, (target or console()).file, nl=False, color=True)


def room_on_screen(kept: int) -> int:
    """Return how many lines of an answer a screen has, `kept` lines of it left for what follows."""
    real = console()
    lines = (max(12, real.height - 1) if real.is_terminal else SCREEN) - 1 - kept
    return lines - 2 * (real.width < WIDE)  # where what follows is folded


@contextmanager
def one_screen(for_all: str, *, kept: int = 2) -> Iterator[None]:
    """Keep what is written within a screen, `kept` lines of it left for what follows.

    Where lines are cut off, the last one says how many, and by which command `for_all`.
    """
    real, lines = console(), room_on_screen(kept)
    _screen.append(real._replace(file=(held := io.StringIO())))
    try:
        yield
    finally:
        _screen.pop()
    shown = held.getvalue().splitlines()
    cut = len(shown) - lines if len(shown) > lines + 1 else 0
    sys.stdout.writelines(f"{line}\n" for line in shown[: len(shown) - cut])
    if cut:
        to_be_copied(f"{cut} more lines: {for_all}", "dim")


def say(*lines: str, style: str = "") -> None:
    """Write lines for people, folded to the terminal.

    A command stays whole, and a line with a word too long for it, a path perhaps: they are copied.
    """
    target = console()
    for line in map(at_registry, map(_plain, lines)):
        too_long = max(map(cells, line.split()), default=0) > target.width
        told = [line] if too_long else sentences(line, target.width)
        write((target.styled(each, style) for each in told), target)


def to_be_copied(line: str, style: str = "") -> None:
    """Write a line that ends in a command, whole: the terminal folds it, and a copy doesn't.

    A terminal has it on a line of its own where it is narrow.
    """
    target, line = console(), at_registry(_plain(line))
    told = sentences(line, target.width) if target.is_terminal else [line]
    write((target.styled(each, style) for each in told), target)


def heading(title: str, *details: str) -> None:
    """Write a title line in bold, and what belongs beside it."""
    target, bold = console(), len(safe(title))
    for line in folded("  ".join(map(safe, (title, *details))), target.width):
        write([target.styled(line[:bold], "bold") + line[bold:]], target)
        bold = max(0, bold - len(line))


def records(heads: Sequence[str], rows: Iterable[object], for_all: str | None = None) -> None:
    """Write records as a table, each column the field that its heading names; or a `few`."""
    names = [f"{name}_" if name == "from" else name.replace(" ", "_") for name in heads]
    of = ([getattr(row, name) for name in names] for row in rows)
    few(heads, [*of], for_all) if for_all else table(heads, of)


def few(names: Sequence[str], rows: Sequence[Sequence[object]], for_all: str) -> None:
    """Write the first rows as a table; then how many there are yet, and what shows them."""
    shown = rows if len(rows) <= FEW + 1 else rows[:FEW]
    if shown:
        table(names, shown)
    if more := len(rows) - len(shown):
        to_be_copied(f"and {more} more: {for_all}", "dim")


def table(names: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table without frames, folded to the width of the terminal.

    Where that would cut a word, or make it longer, each record is a block. Of a long one a
    terminal shows the first rows; elsewhere rows are written as they come.
    """
    target, heads = console(), [(safe(name), "bold") for name in names]
    coming = ([_cell(value) for value in row] for row in rows)
    first, whole = [*islice(coming, LONG)], [name in _WHOLE for name in names]
    rest = () if _screen or target.is_terminal else coming
    rooms, cut = _rooms([heads, *first], whole, target.width, cut_words=False)

    def _as_block(row: Sequence[Cell]) -> list[str]:
        return [*_block(heads, row, target)]

    def _as_row(row: Sequence[Cell]) -> list[str]:
        return [*_side_by_side(row, rooms, whole, target)]

    as_rows, as_blocks = [*map(_as_row, [heads, *first])], [*map(_as_block, first)]
    longer = target.width < WIDE and sum(map(len, as_rows)) > sum(map(len, as_blocks)) + 1
    laid, lay = (as_blocks, _as_block) if cut or longer else (as_rows, _as_row)
    for lines in chain(laid, map(lay, rest)):
        write(lines, target)
    if _screen:
        _screen[-1].file.writelines("\n" for _ in coming)  # counted, and never shown
    elif more := sum(1 for _ in coming):
        say(f"and {more} more. Send it to a file or through a pager for all, or give --json.")


def columns(
    rows: Sequence[Sequence[Cell]], *, whole: Sequence[bool], gap: int = 2,
    target: Terminal | None = None,
) -> None:  # fmt: skip
    """Write texts with their styles side by side, in columns as wide as `rows` need.

    Columns that are kept `whole` aren't folded: tags, dates, what a line is about.
    """
    target = target or console()
    rooms, _ = _rooms(rows, whole, target.width, gap)
    for row in rows:
        write(_side_by_side(row, rooms, whole, target, gap), target)


def _rooms(
    rows: Sequence[Sequence[Cell]], whole: Sequence[bool], width: int, gap: int = 2,
    *, cut_words: bool = True,
) -> tuple[list[int], bool]:  # fmt: skip
    """Return the columns' widths, without gaps, and whether some word is longer than its column."""
    gaps = [gap] * (len(whole) - 1) + [0]
    texts = [[text for text, _ in column] for column in zip(*rows, strict=True)]
    wide = [min(max(map(cells, each)) + g, width) for each, g in zip(texts, gaps, strict=False)]
    words = [max(longest_word(text, width // 2) for text in each) for each in texts]
    least = [min(*pair) for pair in zip(wide, map(add, words, gaps), strict=False)]
    widths = narrowed(wide, whole, width, () if cut_words else least)
    rooms = [max(1, w - g) for w, g in zip(widths, gaps, strict=False)]
    return rooms, any(map(gt, words, rooms))


def _side_by_side(
    row: Sequence[Cell], rooms: Sequence[int], whole: Sequence[bool], target: Terminal, gap: int = 2
) -> Iterator[str]:
    parts = [
        [text] if kept else folded(text, room)
        for (text, _), room, kept in zip(row, rooms, whole, strict=True)
    ]
    for line in zip_longest(*parts, fillvalue=""):
        yield "".join(
            f"{target.styled(text, style)}{' ' * (room - cells(text) + gap)}"
            for text, (_, style), room in zip(line, row, rooms, strict=True)
        )


def _block(heads: Sequence[Cell], row: Sequence[Cell], target: Terminal) -> Iterator[str]:
    """Yield the lines of a record: its first known field, then the others by their names."""
    known = [(head, cell) for (head, _), cell in zip(heads, row, strict=True) if cell[0] != UNKNOWN]
    line, used = "", 0
    for n, (name, (text, style)) in enumerate(known):
        named = [(word, "dim") for word in words_in(f"{name} ")] if n and name else []
        told = named + [(word, style if n else style or "bold") for word in words_in(text)]
        whole, gap = sum(cells(word) for word, _ in told), "  " if n else ""
        for place, (word, its) in enumerate(told):
            together = whole if not place and whole < target.width - 1 else cells(word.rstrip())
            if used and used + len(gap) + together > target.width:
                yield line
                line, used, gap = "", 0, "  "
            line, used = f"{line}{gap}{target.styled(word, its)}", used + len(gap) + cells(word)
            gap = ""
    yield line


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
    known = [(name, value) for name, value in pairs if value is not None and value != ""]
    columns(
        [((safe(words(name)), "dim"), _cell(value)) for name, value in known], whole=(True, False)
    )


def noted_facts(noted: Sequence[Entity], *, everything: bool) -> list[tuple[str, object]]:
    """Return how much is noted of records and attached to them, and the last of it or all."""
    notes = sorted((note for each in noted for note in each.notes), key=lambda note: note.at)
    files = sorted((file for each in noted for file in each.attachments), key=lambda file: file.at)
    found: list[tuple[str, object]] = []
    for noun, told in (
        ("note", [f"{' '.join((note.text or '').split())} ({_note_told(note)})" for note in notes]),
        ("file", [f"{file.name} ({_note_told(file)})" for file in files]),
    ):
        shown = told if everything else told[-1:]
        names = [counted(len(told), noun)] + [""] * len(shown)
        found += zip(names, shown, strict=False)
    return found


def _note_told(one: Note | Attachment) -> str:
    """Return what a note is of, when and by whom it was written, and how its id begins."""
    return ", ".join(filter(None, (one.called, day(one.at), one.by, one.id[:8])))


def cautions(lines: Iterable[str]) -> None:
    """Write cautions where people can't miss them, on standard error so that results stay clean."""
    target, style = terminal(sys.stderr), "yellow"
    write([target.styled("Before you begin:", f"bold {style}")], target)
    marked = [((" !", style), (safe(line), style)) for line in lines]
    columns(marked, whole=(True, False), gap=1, target=target)


def indented(*lines: str, style: str = "") -> None:
    """Write lines for people, set in by four columns."""
    rows = [(("   ", ""), (_plain(line), style)) for line in lines]
    columns(rows, whole=(True, False), gap=1)


def with_drawing(result: object, svg: Path | None) -> object:
    """Return a result as a document that names the drawing made of it, if there is one."""
    return document(result) | {"file": str(svg)} if svg else result


def picture(lines: Iterable[str]) -> None:
    """Write lines that mustn't be folded: a tree, a plot."""
    write(map(_plain, lines))


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


def _cell(value: object) -> Cell:
    return _plain(value), OUTCOME_STYLES.get(value, "") if isinstance(value, str) else ""
