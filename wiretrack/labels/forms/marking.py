# SPDX-License-Identifier: MIT
"""The marking form: wording that a code demands, in capitals no lower than it demands."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.checks import markings_of, part_of
from wiretrack.electrical.rules.marking import BACKGROUND, LETTERS, letters_mm
from wiretrack.errors import BadInputError
from wiretrack.labels.fonts import check_text, face
from wiretrack.labels.forms.base import FlatForm
from wiretrack.labels.plan import Fit, PlacedLine, Plan
from wiretrack.labels.subject import LabelKind, Subject
from wiretrack.late import dataclass
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from wiretrack.labels.plan import Stock
    from wiretrack.labels.subject import Asked

LINE = 1.4
_BOLD = True


@dataclass(frozen=True, kw_only=True)
class Marking(Subject):
    """Wording that a code demands on a raceway or box, with its letters' height and colours."""

    wording: str
    letter_mm: float
    letters: str
    background: str
    source: str

    @property
    def name(self) -> str:
        """What the label is called when it is spoken of."""
        return f"'{self.wording}'"


class MarkingForm(FlatForm[Marking], LabelKind):
    """The wording of a raceway marking."""

    name = kind = "marking"
    order = 7
    carries = Marking
    of = None
    of_site = True

    def subjects(self, asked: Asked) -> list[Marking]:
        """Return every marking that the site's code demands, in its height and colours."""
        code = format_tag(asked.code) if asked.what == "conductor" else asked.code
        found = markings_of(part_of(asked.site, code or None), code or None)
        if not found:
            raise BadInputError("No marking is required here by the rules of this site.")
        labels = [
            Marking(
                wording=marking.wording,
                letter_mm=letters_mm(),
                letters=LETTERS,
                background=BACKGROUND,
                source=f"{marking.source}: {marking.note}",
            )
            for marking in found
            if marking.wording is not None
        ]
        if len(labels) < len(found):
            raise BadInputError(
                "The markings' wording isn't known, because the edition of the site's code isn't."
                " Give the site its edition."
            )
        return labels

    def lay_out(self, subject: Marking, stock: Stock) -> Fit:
        """Return the plan of a marking: its wording in capitals, at least as high as asked."""
        found = Fit(subject.name, None, "marking", f"{subject.source}.")
        ink, inverted = _colours(subject, stock)
        if ink is None:
            why = (
                f"{subject.letters} letters on {subject.background} are required, and this stock "
                f"prints {stock.print_colour} on {stock.paper_colour}"
            )
            return replace(found, why_not=why, hint="Take a stock of those colours.")
        texts = check_text(subject.wording).upper().split(" ")
        height, width = stock.dots(stock.zone.height_mm), stock.dots(stock.zone.width_mm)
        least = math.ceil(subject.letter_mm * stock.dpi / 25.4)
        for dots in range(max(least, height), least - 1, -1):
            lines = _filled(texts, dots, width)
            if lines and len(lines) * round(LINE * dots) <= height:
                plan = replace(_marking_plan(lines, dots, stock), inverted=inverted, ink=ink)
                return replace(found, plan=plan, letter_mm=stock.mm(dots))
        why = (
            f"'{subject.wording}' in letters of {subject.letter_mm:g} mm doesn't fit "
            f"{stock.zone.width_mm:g} x {stock.zone.height_mm:g} mm"
        )
        return replace(found, why_not=why, hint="Take a larger stock.")


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


MARKING = MarkingForm()
