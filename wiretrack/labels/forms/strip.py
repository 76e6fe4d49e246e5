# SPDX-License-Identifier: MIT
"""The strip form: a row of terminals at its pitch, laid out dot by dot."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint, OutOfRangeError
from wiretrack.labels.fonts import check_text, face
from wiretrack.labels.forms.base import FlatForm
from wiretrack.labels.legend import letter_limits
from wiretrack.labels.plan import Bar, Fit, PlacedLine, Plan
from wiretrack.labels.subject import LabelKind, Subject, natural
from wiretrack.late import dataclass
from wiretrack.model.parts import Device, Terminal

if TYPE_CHECKING:
    from wiretrack.labels.plan import Stock
    from wiretrack.labels.subject import Asked

CELL_MARGIN_MM = 0.4
RULE_MM = 0.15
MOST_BLANK = 20
LEAST_PITCH_MM, LARGEST_PITCH_MM = 2.0, 100.0
_BOLD = True


@dataclass(frozen=True, kw_only=True)
class TerminalStrip(Subject):
    """A row of terminals, side by side at a pitch; an empty text leaves a place blank. [mm]."""

    enclosure: str
    terminals: tuple[str, ...]
    pitch_mm: float

    @property
    def name(self) -> str:
        """What the label is called when it is spoken of."""
        return f"{self.enclosure} {self.terminals[0]}" if self.terminals else self.enclosure


class Strip(FlatForm[TerminalStrip], LabelKind):
    """A row of terminals, cut between terminals where the stock is too short."""

    name, kind = "strip", "terminal-strip"
    order = 5
    carries = TerminalStrip

    def subjects(self, asked: Asked) -> list[TerminalStrip]:
        """Return a strip for each block of an enclosure's terminals, or one of the texts given.

        A block is what stands before the last colon of a terminal's code. Numbers that a terminal
        block lacks are left blank, so that the rest stays at its place; a device's poles are
        counted their own way and follow each other.
        """
        box, pitch_mm = asked.enclosure.code, _checked(asked.pitch_mm)
        rows: list[list[str]] = [list(asked.terminals)]
        if not asked.terminals:
            codes = sorted((t.code for t in asked.site.at(Terminal, "enclosure", box)), key=natural)
            devices = {device.code for device in asked.site.at(Device, "enclosure", box)}
            rows = [
                texts
                for name, block in groupby(codes, key=lambda text: text.rpartition(":")[0])
                for texts in ([list(block)] if name in devices else _with_gaps(list(block)))
            ]
        if not rows:
            raise BadInputError(
                f"No terminal of {box} is recorded.",
                Hint("Name them in their order with {terminals}."),
            )
        return [
            TerminalStrip(enclosure=box, terminals=tuple(texts), pitch_mm=pitch_mm)
            for texts in rows
        ]

    def split(self, subject: TerminalStrip, stock: Stock) -> list[TerminalStrip]:
        """Return the row in as many strips as this stock needs, cut between terminals."""
        count = max(1, math.floor(stock.zone.width_mm / subject.pitch_mm + 1e-6))
        texts = subject.terminals
        return [
            replace(subject, terminals=texts[n : n + count]) for n in range(0, len(texts), count)
        ]

    def lay_out(self, subject: TerminalStrip, stock: Stock) -> Fit:
        """Return the plan of a row of terminals; texts stand upright where the pitch allows it."""
        refused = Fit(subject.name, None, "strip", "A row of terminals at its pitch.")
        count, width_mm = len(subject.terminals), stock.zone.width_mm
        length_mm = subject.pitch_mm * count
        if length_mm > width_mm + 1e-6:
            why = f"{count} terminals take {length_mm:g} mm of {width_mm:g} mm"
            return replace(refused, why_not=why, hint="Split the row, or take a longer stock.")
        texts = [check_text(text) for text in subject.terminals]
        across = stock.mm(stock.dots(stock.zone.height_mm))
        cells = (subject.pitch_mm - 2 * CELL_MARGIN_MM, across - 2 * CELL_MARGIN_MM)
        upright = _largest(texts, stock, *cells) or 0
        good = upright >= letter_limits(stock).text_good
        turned = 0 if good else _largest(texts, stock, *reversed(cells)) or 0
        dots = max(upright, turned)
        if not dots:
            widest = max(texts, key=len)
            why = f"'{widest}' goes neither along nor across a terminal of {subject.pitch_mm:g} mm"
            return replace(refused, why_not=why, hint="Shorten it, or take a wider strip.")
        plan = _strip_plan(texts, subject.pitch_mm, stock, dots, turned=dots != upright)
        reason = f"{len(texts)} terminals at a pitch of {subject.pitch_mm:g} mm."
        return replace(refused, plan=plan, letter_mm=stock.mm(dots), reason=reason)


def _checked(pitch_mm: float | None) -> float:
    if pitch_mm is None:
        raise BadInputError(
            "The terminals' pitch isn't known.",
            Hint("Measure over ten terminals and give {pitch}."),
        )
    if not LEAST_PITCH_MM <= pitch_mm <= LARGEST_PITCH_MM:
        allowed = f"{LEAST_PITCH_MM:g} to {LARGEST_PITCH_MM:g} mm"
        raise OutOfRangeError("Terminals' pitch", pitch_mm, "mm", allowed)
    return pitch_mm


def _with_gaps(codes: list[str]) -> list[list[str]]:
    """Return the codes of a block, an empty text for each number left out; cut where many are."""
    rows, last = [[codes[0]]], codes[0]
    for code in codes[1:]:
        here, before = (text.rpartition(":")[2] for text in (code, last))
        numbered = here.isdecimal() and before.isdecimal()
        lacking = int(here) - int(before) - 1 if numbered else 0
        if lacking > MOST_BLANK:
            rows.append([code])
        else:
            rows[-1] += ["" for _ in range(lacking)] + [code]
        last = code
    return rows


def _largest(texts: list[str], stock: Stock, width_mm: float, height_mm: float) -> int | None:
    """Return the largest letter height at which every text fits its cell, in dots."""
    limits = letter_limits(stock)
    width, height = stock.dots(max(0.0, width_mm)), stock.dots(max(0.0, height_mm))
    for dots in range(min(limits.tag_max, height), limits.text_min - 1, -1):
        if all(face(dots, bold=_BOLD).length(text) <= width for text in texts):
            return dots
    return None


def _strip_plan(
    texts: list[str], pitch_mm: float, stock: Stock, dots: int, *, turned: bool
) -> Plan:
    """Place the texts in the middle of their cells, with a rule between neighbours.

    Turned texts are placed on the label standing on its end, which is then laid on its side.
    """
    width, height = stock.size_dots
    top, across = stock.dots(stock.zone.top_mm), stock.dots(stock.zone.height_mm)
    left_mm, thick = stock.zone.left_mm, max(1, stock.dots(RULE_MM))
    edges = [stock.dots(left_mm + number * pitch_mm) for number in range(len(texts) + 1)]
    lines, measure = [], face(dots, bold=_BOLD).length
    for text, start, end in zip(texts, edges, edges[1:], strict=False):
        middle, length = (start + end) / 2, measure(text)
        if turned:  # the canvas stands on its end, its top becomes the left
            x, y = (height - top - across / 2) - length / 2, middle + dots / 2
        else:
            x, y = middle - length / 2, top + across / 2 + dots / 2
        lines.append(PlacedLine(round(x), round(y), text, dots, _BOLD))
    if turned:
        rules = [Bar(height - top - across, edge - thick // 2, across, thick) for edge in edges]
        return Plan(height, width, tuple(lines), (), _inside(rules, height, width), True)
    rules = [Bar(edge - thick // 2, top, thick, across) for edge in edges]
    return Plan(width, height, tuple(lines), (), _inside(rules, width, height))


def _inside(bars: list[Bar], width: int, height: int) -> tuple[Bar, ...]:
    return tuple(
        replace(
            bar,
            left=min(max(0, bar.left), width - bar.width),
            top=min(max(0, bar.top), height - bar.height),
        )
        for bar in bars
    )


STRIP = Strip()
