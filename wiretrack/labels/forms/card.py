# SPDX-License-Identifier: MIT
"""The box card: what is inside an enclosure, its hazards first, a code to look it up."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.electrical.cautions import box_hazards
from wiretrack.labels.fonts import check_text, face
from wiretrack.labels.forms.base import FlatForm
from wiretrack.labels.geometry import module_sizes
from wiretrack.labels.legend import Paragraph, letter_limits, set_legend
from wiretrack.labels.plan import Bar, CodeSpot, Fit, PlacedLine, Plan
from wiretrack.labels.subject import LabelKind, Subject, natural
from wiretrack.labels.symbol import side_with_quiet_zone, symbol_choices
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.tags import format_tag, make_box_payload

if TYPE_CHECKING:
    from wiretrack.labels.plan import Stock
    from wiretrack.labels.subject import Asked
    from wiretrack.labels.symbol import Level
    from wiretrack.model.entities import ConductorEnd

HEADINGS = ("terminal", "tag", "circuit", "goes to")
ROW_MM, LARGEST_ROW_MM = 3.0, 5.0  # a row's height, the least and the most
LETTER_SHARE = 0.58  # of a row's height
HEAD_MM = 26.0
GAP_MM, LARGEST_GAP_MM, RULE_MM = 1.5, 12.0, 0.2


@dataclass(frozen=True)
class CardRow:
    """One conductor that ends in a box: where it is landed, what it is, where it goes."""

    terminal: str
    tag: str
    circuit: str
    other_place: str


@dataclass(frozen=True, kw_only=True)
class BoxCard(Subject):
    """What is inside an enclosure: hazards first, then its conductors; `part` of how many cards."""

    code: str
    title: str | None = None
    where: str | None = None
    hazards: tuple[str, ...] = ()
    rows: tuple[CardRow, ...] = ()
    part: tuple[int, int] = (1, 1)

    @property
    def name(self) -> str:
        """What the label is called when it is spoken of."""
        return f"{self.code}, card {self.part[0]} of {self.part[1]}"


@dataclass(frozen=True)
class _Columns:
    """Where the table's columns begin, the letter height at which they fit, and a row's height."""

    lefts: tuple[int, ...]
    dots: int
    row_mm: float


class Card(FlatForm[BoxCard], LabelKind):
    """What is inside an enclosure, in as many cards as its rows need."""

    name, kind = "card", "box-card"
    order = 4
    carries = BoxCard

    def subjects(self, asked: Asked) -> list[BoxCard]:
        """Return one card: the hazards of the box, then each conductor and where it goes."""
        box, site = asked.enclosure, asked.site
        used = {code for end in box.ends for code in end.conductor.circuits}
        entering = site.at(Conductor, "enclosure", box.code)
        abandoned = sum(conductor.retired_because == "abandoned" for conductor in entering)
        return [
            BoxCard(
                code=box.code,
                title=box.name,
                where=box.where,
                hazards=(
                    *box_hazards(site.find(Circuit, "code", used)),
                    *([f"{abandoned} abandoned: may be live"] if abandoned else []),
                ),
                rows=tuple(map(_row, sorted(box.ends, key=_by_terminal))),
                payload=make_box_payload(box.code, site.facts.base_address),
            )
        ]

    def split(self, subject: BoxCard, stock: Stock) -> list[BoxCard]:
        """Return the card in as many parts as this stock needs for its rows."""
        room, rows = max(1, _row_room(stock)), subject.rows
        parts = [rows[n : n + room] for n in range(0, len(rows), room)] or [()]
        return [
            replace(subject, rows=part, part=(number, len(parts)))
            for number, part in enumerate(parts, start=1)
        ]

    def lay_out(self, subject: BoxCard, stock: Stock) -> Fit:
        """Return the plan of a box card: heading and code, hazards, then a row a conductor."""
        count, room = len(subject.rows), _row_room(stock)
        found = Fit(subject.name, None, "card", f"Conductors that end in {subject.code}: {count}.")
        if room < 1:
            why = f"a card's print zone is at least {HEAD_MM + GAP_MM + 2 * ROW_MM:g} mm high"
            return replace(found, why_not=why, hint="Take a larger stock.")
        if count > room:
            why = f"{count} rows don't fit the {room} that it has room for"
            return replace(found, why_not=why, hint="Split the card, or take a larger stock.")
        rows = [_cells(subject, number) for number in range(count)]
        columns = _columns([HEADINGS, *rows], stock)
        if columns is None:
            why = "the names in its rows don't fit side by side"
            return replace(found, why_not=why, hint="Take a wider stock, or shorter names.")
        code = _code(subject.payload, stock)
        if subject.payload and code is None:
            why = f"the heading has no room for a code of '{subject.payload}'"
            return replace(found, why_not=why, hint="Take a larger stock, or a shorter address.")
        module, version, level, spot = code or (None, None, None, None)
        head = _head(subject, stock, spot)
        if head is None:
            why = f"the heading doesn't fit {stock.zone.width_mm:g} x {HEAD_MM:g} mm"
            return replace(found, why_not=why, hint="Take a larger stock, or shorter names.")
        body, bars = _table(rows, columns, stock)
        plan = Plan(*stock.size_dots, (*head, *body), (spot,) if spot else (), bars)
        return replace(
            found,
            plan=plan,
            qr_version=version,
            error_correction=level,
            module_dots=module,
            module_mm=None if module is None else stock.mm(module),
            letter_mm=stock.mm(min(line.capital_dots for line in plan.lines)),
        )


def _row(end: ConductorEnd) -> CardRow:
    return CardRow(
        terminal=end.here.terminal or end.here.state or "not known",
        tag=end.conductor.tag,
        circuit=f"{end.conductor.circuit} {end.conductor.function}",
        other_place=end.there.place,
    )


def _by_terminal(end: ConductorEnd) -> tuple[bool, list[tuple[bool, int, str]]]:
    return end.here.terminal is None, natural(end.here.terminal or end.conductor.tag)


def _row_room(stock: Stock) -> int:
    return math.floor((stock.zone.height_mm - HEAD_MM - GAP_MM) / ROW_MM) - 1


def _cells(card: BoxCard, number: int) -> tuple[str, ...]:
    row = card.rows[number]
    texts = (row.terminal, format_tag(row.tag), row.circuit, row.other_place)
    return tuple(check_text(text) for text in texts)


def _columns(rows: list[tuple[str, ...]], stock: Stock) -> _Columns | None:
    """Return the columns spread over the width, at the largest letters that fit."""
    limits, room = letter_limits(stock), stock.dots(stock.zone.width_mm)
    gap = stock.dots(GAP_MM)
    row_mm = min(LARGEST_ROW_MM, (stock.zone.height_mm - HEAD_MM - GAP_MM) / len(rows))
    for dots in range(stock.dots(LETTER_SHARE * row_mm), limits.text_min - 1, -1):
        regular, bold = face(dots).length, face(dots, bold=True).length
        widths = [
            math.ceil(max((bold if number == 1 else regular)(row[number]) for row in rows))
            for number in range(len(HEADINGS))
        ]
        spare = room - sum(widths) - gap * (len(widths) - 1)
        if spare >= 0:
            gap += min(spare // len(widths), stock.dots(LARGEST_GAP_MM))
            lefts = [stock.dots(stock.zone.left_mm)]
            lefts += [lefts[0] + sum(widths[:n]) + n * gap for n in range(1, len(widths))]
            return _Columns(tuple(lefts), dots, row_mm)
    return None


def _code(payload: str, stock: Stock) -> tuple[int, int, Level, CodeSpot] | None:
    """Return module, version, level and place of the code: in the upper right corner."""
    zone, room = stock.zone, min(HEAD_MM, stock.zone.width_mm / 2)
    for version, level in symbol_choices(payload) if payload else ():
        for module in module_sizes(stock.dpi):
            side = module * side_with_quiet_zone(version)
            if side <= stock.dots(room):
                left = stock.dots(zone.left_mm + zone.width_mm) - side
                return module, version, level, CodeSpot(left, stock.dots(zone.top_mm), side)
    return None


def _head(card: BoxCard, stock: Stock, code: CodeSpot | None) -> tuple[PlacedLine, ...] | None:
    """Return the heading: the box and its name, its hazards, and which part of how many."""
    part = f"card {card.part[0]} of {card.part[1]}" if card.part[1] > 1 else None
    small = (", ".join(filter(None, (card.title, card.where))), part)
    legend = (
        Paragraph(check_text(card.code), is_tag=True),
        *(Paragraph(check_text(hazard), is_bold=True) for hazard in card.hazards),
        *(Paragraph(check_text(text)) for text in small if text),
    )
    width = stock.dots(stock.zone.width_mm) - (code.side if code else 0)
    setting = set_legend(legend, width, stock.dots(HEAD_MM), letter_limits(stock, heading=True))
    if setting is None:
        return None
    return tuple(setting.placed(stock.dots(stock.zone.left_mm), stock.dots(stock.zone.top_mm)))


def _table(
    rows: list[tuple[str, ...]], columns: _Columns, stock: Stock
) -> tuple[tuple[PlacedLine, ...], tuple[Bar, ...]]:
    """Return the table's lines, tags in bold, and the rules between its rows."""
    top_mm = stock.zone.top_mm + HEAD_MM + GAP_MM
    thick = max(1, stock.dots(RULE_MM))
    edges = [stock.dots(top_mm + columns.row_mm * number) for number in range(len(rows) + 2)]
    left, width = stock.dots(stock.zone.left_mm), stock.dots(stock.zone.width_mm)
    lines = tuple(
        PlacedLine(x, (start + end + columns.dots) // 2, text, columns.dots, number == 1)
        for row, (start, end) in zip((HEADINGS, *rows), pairwise(edges), strict=True)
        for number, (x, text) in enumerate(zip(columns.lefts, row, strict=True))
        if text
    )
    bars = tuple(
        Bar(left, edge, width, 2 * thick if number == 1 else thick)
        for number, edge in enumerate(edges)
    )
    return lines, bars


CARD = Card()
