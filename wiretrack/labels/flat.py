# SPDX-License-Identifier: MIT
"""The flat forms laid out dot by dot: terminal strips and raceway markings."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.labels.faces import Faces
from wiretrack.labels.fonts import check_text, face
from wiretrack.labels.legend import letter_limits
from wiretrack.labels.plan import Bar, Fit, PlacedLine, Plan

if TYPE_CHECKING:
    from wiretrack.labels.stocks import Stock
    from wiretrack.labels.subject import Marking, TerminalStrip

CELL_MARGIN_MM = 0.4
RULE_MM = 0.15
_BOLD = True


def flat_face(stock: Stock) -> Faces:
    """Return the one face of a label that is laid flat."""
    zone = stock.zone
    return Faces(
        lefts=(stock.dots(zone.left_mm),),
        top=stock.dots(zone.top_mm),
        width=stock.dots(zone.width_mm),
        height=stock.dots(zone.height_mm),
    )


def split_strip(strip: TerminalStrip, stock: Stock) -> list[TerminalStrip]:
    """Return the row in as many strips as this stock needs, cut between terminals."""
    count = max(1, math.floor(stock.zone.width_mm / strip.pitch_mm + 1e-6))
    texts = strip.terminals
    return [replace(strip, terminals=texts[n : n + count]) for n in range(0, len(texts), count)]


def fit_strip(strip: TerminalStrip, stock: Stock) -> Fit:
    """Return the plan of a row of terminals; texts stand upright where the pitch allows it."""
    refused = Fit(strip.name, None, "strip", "A row of terminals at its pitch.")
    length_mm = strip.pitch_mm * len(strip.terminals)
    if length_mm > stock.zone.width_mm + 1e-6:
        why = f"{len(strip.terminals)} terminals take {length_mm:g} mm of {stock.zone.width_mm:g}"
        return replace(refused, why_not=f"{why} mm", hint="Split the row, or take a longer stock.")
    texts = [check_text(text) for text in strip.terminals]
    across = stock.mm(stock.dots(stock.zone.height_mm))
    cells = (strip.pitch_mm - 2 * CELL_MARGIN_MM, across - 2 * CELL_MARGIN_MM)
    upright = _largest(texts, stock, *cells) or 0
    good = upright >= letter_limits(stock).text_good
    turned = 0 if good else _largest(texts, stock, *reversed(cells)) or 0
    dots = max(upright, turned)
    if not dots:
        widest = max(texts, key=len)
        why = f"'{widest}' goes neither along nor across a terminal of {strip.pitch_mm:g} mm"
        return replace(refused, why_not=why, hint="Shorten it, or take a wider strip.")
    plan = _strip_plan(texts, strip.pitch_mm, stock, dots, turned=dots != upright)
    reason = f"{len(texts)} terminals at a pitch of {strip.pitch_mm:g} mm."
    return replace(refused, plan=plan, letter_mm=stock.mm(dots), reason=reason)


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


def fit_marking(marking: Marking, stock: Stock) -> Fit:
    """Return the plan of a marking: its wording in capitals, no lower than the code demands."""
    found = Fit(marking.name, None, "marking", f"{marking.source}.")
    ink, inverted = _colours(marking, stock)
    if ink is None:
        why = (
            f"{marking.letters} letters on {marking.background} are demanded, and this stock "
            f"prints {stock.print_colour} on {stock.paper_colour}"
        )
        return replace(found, why_not=why, hint="Take a stock of those colours.")
    texts = check_text(marking.wording).upper().split(" ")
    height, width = stock.dots(stock.zone.height_mm), stock.dots(stock.zone.width_mm)
    least = math.ceil(marking.letter_mm * stock.dpi / 25.4)
    for dots in range(max(least, height), least - 1, -1):
        lines = _filled(texts, dots, width)
        if lines and len(lines) * round(LINE * dots) <= height:
            plan = replace(_marking_plan(lines, dots, stock), inverted=inverted, ink=ink)
            return replace(found, plan=plan, letter_mm=stock.mm(dots))
    why = (
        f"'{marking.wording}' in letters of {marking.letter_mm:g} mm doesn't fit "
        f"{stock.zone.width_mm:g} x {stock.zone.height_mm:g} mm"
    )
    return replace(found, why_not=why, hint="Take a larger stock.")


LINE = 1.4


def _colours(marking: Marking, stock: Stock) -> tuple[str | None, bool]:
    """Return the ink and whether the letters are left blank on it; no ink if it can't be."""
    if (stock.paper_colour, stock.print_colour) == (marking.background, marking.letters):
        return marking.letters, False
    if stock.paper_colour == marking.letters and stock.print_colour in (marking.background, "any"):
        return marking.background, True
    return None, False


def _filled(words: list[str], dots: int, width: int) -> list[str]:
    """Return the words in lines that fit, as few as can be; none if a word is too wide."""
    measure = face(dots, bold=_BOLD).length
    lines: list[str] = []
    for word in words:
        if lines and measure(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        elif measure(word) <= width:
            lines.append(word)
        else:
            return []
    return lines


def _marking_plan(texts: list[str], dots: int, stock: Stock) -> Plan:
    """Place the lines in the middle of the print zone."""
    zone, measure = stock.zone, face(dots, bold=_BOLD).length
    pitch = round(LINE * dots)
    first = stock.dots(zone.top_mm) + (stock.dots(zone.height_mm) - pitch * len(texts)) // 2
    middle = stock.dots(zone.left_mm + zone.width_mm / 2)
    lines = tuple(
        PlacedLine(
            round(middle - measure(text) / 2),
            first + number * pitch + (pitch + dots) // 2,
            text,
            dots,
            _BOLD,
        )
        for number, text in enumerate(texts)
    )
    return Plan(*stock.size_dots, lines)
