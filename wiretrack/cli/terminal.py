# SPDX-License-Identifier: MIT
"""A terminal's size and colours, and how lines are laid out for it: folded, in columns, in colour.

`rich` does the same; to import it and to lay a record out by it took longer than all that `show`
does besides. It judges this in the tests, and draws bars and the manual.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, NamedTuple, TextIO
from unicodedata import combining, east_asian_width

from wiretrack.late import pattern

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_CODES = {"bold": "1", "dim": "2", "red": "31", "green": "32", "yellow": "33"}
_LAST_PLAIN = "\u02ff"  # behind it come accents, and farther on what takes two columns
_UNIT = r"(?:[µmkMG]?[ΩVAW]|k?m|mm[²2]?|ft|°C?|%|AWG|kcmil)(?![\w²])"
# A word and the spaces about it; a number and its unit are one.
_WORD = pattern(rf"\s*(?:[-+±~≤≥>(]*\d[\d.,/]* {_UNIT}\S*|\S+)\s*")

_COMMAND = pattern(r": (?:wiretrack|sha256sum) ")
_AT_THE_END = pattern(r"(.*:) ((?:(?!: ).)*\b(?:wiretrack|sha256sum) .*)")
_BEFORE_COMMAND = pattern(r"(?<=[.?]) (?=[^.:]*: (?:wiretrack|sha256sum) )")


class Terminal(NamedTuple):
    """Where people read: a stream, its columns and lines, whether it is a terminal."""

    file: TextIO
    width: int
    height: int
    is_terminal: bool

    def styled(self, text: str, style: str) -> str:
        """Return a text in a style: words like ``bold red``; ``NO_COLOR`` is obeyed."""
        wanted = style.split() if self.is_terminal and not _is_dumb() else []
        if os.environ.get("NO_COLOR"):
            wanted = [word for word in wanted if word in ("bold", "dim")]
        codes = ";".join(_CODES[word] for word in wanted)
        return f"\x1b[{codes}m{text}\x1b[0m" if codes and text else text


def terminal(file: TextIO | None = None) -> Terminal:
    """Return the terminal that a stream goes to; 80 columns wide where it isn't one."""
    file = file or sys.stdout
    forced = os.environ.get("FORCE_COLOR")
    return Terminal(file, *_size(), file.isatty() if forced is None else forced != "")


def _is_dumb() -> bool:
    return os.environ.get("TERM", "").lower() in ("dumb", "unknown")


def _size() -> tuple[int, int]:
    """Return columns and lines: as the environment says, or any of the standard streams."""
    said = [os.environ.get(name, "") for name in ("COLUMNS", "LINES")]
    found = (0, 0)
    for stream in () if _is_dumb() else range(3):
        try:
            found = tuple(os.get_terminal_size(stream))  # type: ignore[assignment]
            break
        except OSError:  # no terminal
            continue
    width, height = (int(text) if text.isdecimal() else 0 for text in said)
    return width or found[0] or 80, height or found[1] or 25


def cells(text: str) -> int:
    """Return how many columns a text takes; a sign of the far east takes two, an accent none."""
    if text.isascii():
        return len(text)
    special = (c for c in text if c > _LAST_PLAIN)
    return len(text) + sum(-1 if combining(c) else east_asian_width(c) in "WF" for c in special)


def folded(text: str, width: int) -> list[str]:
    """Return a text as lines of at most `width` columns, broken between words where it can be.

    >>> folded("insulation to PE at 500 V", 19)
    ['insulation to PE at ', '500 V']
    """
    lines, line = [], ""
    for word in words_in(text) or [text]:
        needed = cells(word.rstrip())
        if cells(line) + needed <= width:
            line += word
            continue
        if line:
            lines.append(line)
        *cut, line = _cut(word, width) if needed > width else [word]
        lines += cut
    return [*lines, line]


def sentences(text: str, width: int) -> list[str]:
    """Return a text as lines; a command that ends a sentence is whole, so that it can be copied.

    Where it has no room beside what it is for, it is a line of its own.

    >>> sentences("error: Not there at all. See: wiretrack list", 20)
    ['error: Not there at ', 'all.', 'See: wiretrack list']
    >>> sentences("Next, look at it: wiretrack show PMP-001G", 24)
    ['Next, look at it:', 'wiretrack show PMP-001G']
    """
    if cells(text) <= width:
        return [text]
    lines = list[str]()
    for part in _BEFORE_COMMAND.split(text):
        if cells(part) > width and (found := _AT_THE_END.fullmatch(part)):
            lines += [*folded(found[1], width), found[2]]
        else:
            lines += [part] if _COMMAND.search(part) else folded(part, width)
    return lines


def _cut(word: str, width: int) -> Iterator[str]:
    piece = ""
    for character in word:
        if piece and cells(piece + character) > width:
            yield piece
            piece = ""
        piece += character
    yield piece


def words_in(text: str) -> list[str]:
    """Return the words of a text with the spaces about them, a number and its unit as one.

    >>> words_in("169 ft (51.5 m) of 10 AWG")
    ['169 ft ', '(51.5 m) ', 'of ', '10 AWG']
    """
    return _WORD.findall(text)


def longest_word(text: str, most: int) -> int:
    """Return how many columns the longest word of a text takes, at `most` so many.

    >>> longest_word("insulation to PE", 20)
    10
    """
    return max((min(cells(word.strip()), most) for word in words_in(text)), default=0)


def narrowed(
    widths: Sequence[int], whole: Sequence[bool], room: int, least: Sequence[int] = ()
) -> list[int]:
    """Return the widths of columns for which there is `room` only: the widest give, alike.

    Those that are kept `whole`, or have their `least` width, give only when nothing else is left.

    >>> narrowed([10, 60, 90], [True, False, False], 80)
    [10, 35, 35]
    >>> narrowed([10, 60, 90], [True, False, False], 80, [0, 45, 0])
    [10, 45, 25]
    """
    left, least = list(widths), least or [0] * len(widths)
    while (excess := sum(left) - room) > 0:
        give = [n for n, kept in enumerate(whole) if not kept and left[n] > least[n]]
        if not give:
            break
        widest = max(left[n] for n in give)
        most = [n for n in give if left[n] == widest]
        to = max(*(left[n] for n in give if left[n] < widest), *(least[n] for n in most), 0)
        _take(left, most, excess, widest - to)
    if (excess := sum(left) - room) > 0:
        _take(left, range(len(left)), excess, excess)
    return left


def _take(widths: list[int], of: Sequence[int], excess: int, most: int) -> None:
    """Take an excess from some columns in equal shares, from none more than `most`."""
    for place, n in enumerate(of):
        share = min(most, widths[n], round(excess / (len(of) - place)))
        widths[n] -= share
        excess -= share
