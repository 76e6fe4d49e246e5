# SPDX-License-Identifier: MIT
"""The flag form: two faces mirrored about the fold where the conductor lies, both upright."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from wiretrack.labels.faces import Faces, face_candidates
from wiretrack.labels.forms.base import (
    LEGEND_ALONE,
    Case,
    EndCase,
    Form,
    no_code,
    no_room,
    smallest_side_mm,
)
from wiretrack.labels.geometry import (
    ARC_SOURCE,
    arc_limit_deg,
    fold_mm,
    smallest_arc_deg,
    smallest_module_dots,
    wrap_band,
)
from wiretrack.labels.plan import Bar, Zone
from wiretrack.labels.symbol import MAX_VERSION, symbol_choices

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.plan import Candidate, Fit, Stock
    from wiretrack.labels.symbol import Level

TICK_MM, TICK_THICK_MM = 1.0, 0.15
FOLD_SLACK_MM = 1.0


CLEAR_TAIL = (
    "this stock has a clear tail and can't be folded to a flag",
    f"Take a flag stock, or {LEGEND_ALONE} on this one.",
)
UNKNOWN_FOLD = (
    "a flag of this stock is folded round the conductor, whose outer diameter isn't known",
    "Enter the diameter, or take a flag stock.",
)


class Flag(Form):
    """Folded over the conductor, so that two flat faces stand out; of flag stock or wrap stock."""

    name = stock_form = "flag"
    order = 2
    stock_fields: ClassVar = {"fold_mm": "fold"}
    flat_alike = True

    def stock_faults(self, stock: Stock) -> Iterator[tuple[str, str]]:
        """Yield a fold that leaves no face."""
        if stock.fold_mm >= stock.width_mm:
            label = f"the label of {stock.width_mm:g} x {stock.height_mm:g} mm"
            yield "fold_mm", f"{stock.fold_mm:g} mm leaves no face on {label}"

    def fit(self, case: Case) -> Fit:
        """Return the plan of a flag; wrap stock is turned to lie across the conductor."""
        end = EndCase.of(case)
        reason, stock, turned = _reason(end), end.stock, end.stock.form != self.stock_form
        if turned and stock.clear_tail_mm:
            return end.refused(self, reason, *CLEAR_TAIL)
        if unread := end.unread():
            return end.refused(self, reason, *unread)
        if turned:
            if end.diameter is None:
                return end.refused(self, reason, *UNKNOWN_FOLD)
            stock = lay_across(stock)

        def with_version(version: int | None) -> Iterator[Candidate]:
            return flag_candidates(
                end.legend, stock, end.diameter, end.limits, version, quarter_turn=turned
            )

        if best := end.best(with_version, stock):
            return replace(end.found(self, reason, *best), arc_deg=_arc_if_wound(end, best[1]))
        return end.refused(self, reason, *end.or_shorter(_why_not(end, stock), with_version))


def _arc_if_wound(case: EndCase, symbol: tuple[int, Level] | None) -> float | None:
    """Return how far the smallest such symbol would bend, wound round the conductor instead."""
    if case.diameter is None or symbol is None:
        return None
    return smallest_arc_deg(case.stock, case.diameter, symbol[0])


def _reason(case: EndCase) -> str:
    if case.text_only:
        return "A flag keeps the legend flat."
    if case.diameter is None:
        return (
            "The conductor's outer diameter isn't known, so how far a code would bend round it "
            "isn't either; a flag keeps it flat."
        )
    if not case.choices:
        return f"No QR symbol up to version {MAX_VERSION} holds so long an address."
    symbol = case.choices[0]
    arc = smallest_arc_deg(case.stock, case.diameter, symbol[0])
    module_mm = case.stock.mm(smallest_module_dots(case.stock.dpi))
    if arc > arc_limit_deg(*symbol, module_mm):
        return (
            f"Round {case.diameter:.3g} mm the smallest code would bend over {arc:.0f}°; "
            f"{arc_rule(symbol, module_mm)}, so a flag keeps it flat."
        )
    if case.stock.form == Flag.stock_form:
        return f"A flag keeps the code flat; wound round it would bend over {arc:.0f}°."
    return _no_room_round(case.legend, case.stock, case.diameter, symbol[0])


def arc_rule(symbol: tuple[int, Level], module_mm: float) -> str:
    """Return up to what arc such a symbol is read, and the source."""
    return f"up to {arc_limit_deg(*symbol, module_mm):g}° is read of such a symbol ({ARC_SOURCE})"


def _no_room_round(
    legend: tuple[Paragraph, ...], stock: Stock, outer_diameter_mm: float, version: int
) -> str:
    """Return why a code that isn't bent too far still can't be wound round with its legend."""
    side = smallest_side_mm(stock, version)
    band = wrap_band(stock, outer_diameter_mm)
    if side > band.height_mm:
        return (
            f"Round {outer_diameter_mm:.3g} mm {band.limited_by} leaves {band.height_mm:.1f} mm "
            f"for a code that needs {side:.1f} mm."
        )
    room = stock.dots(stock.zone.width_mm - side)
    has = f"beside the smallest code there are {stock.mm(room):.1f} x {band.height_mm:.1f} mm"
    why, _ = no_room(legend, stock, room, has)
    return f"Wound round, {why}."


def _why_not(case: EndCase, stock: Stock) -> tuple[str, str]:
    """Return why the faces can't carry the legend and a code, and what would do."""
    faces = flag_faces(stock, case.diameter)
    width, height = stock.mm(faces.width), stock.mm(faces.height)
    if faces.width == 0:
        return "the fold round this conductor leaves no face to print on", "Take a larger stock."
    if case.text_only:
        return no_room(case.legend, stock, faces.width, f"a face has {width:.1f} x {height:.1f} mm")
    choices = symbol_choices(case.subject.payload)
    side = smallest_side_mm(stock, choices[-1][0]) if choices else None
    if side is None or side > min(width, height):
        return no_code(stock, case.subject.payload, side, min(width, height))
    room = faces.width - stock.dots(side)
    has = f"beside the smallest code a face has {stock.mm(room):.1f} x {height:.1f} mm"
    return no_room(case.legend, stock, room, has)


def lay_across(stock: Stock) -> Stock:
    """Return a wrap stock without a clear tail as a flag stock, turned to lie across the wire."""
    zone = stock.zone
    bottom = zone.top_mm + zone.height_mm
    turned = Zone(stock.height_mm - bottom, zone.left_mm, zone.height_mm, zone.width_mm)
    return replace(
        stock, form=Flag.stock_form, width_mm=stock.height_mm, height_mm=stock.width_mm, zone=turned
    )


def flag_faces(stock: Stock, outer_diameter_mm: float | None) -> Faces:
    """Return the faces that the fold leaves on this stock; their width can be nil."""
    zone, middle = stock.zone, stock.width_mm / 2
    half = min(middle - zone.left_mm, zone.left_mm + zone.width_mm - middle)
    fold = fold_mm(stock, outer_diameter_mm)
    if outer_diameter_mm is not None:
        fold = max(stock.fold_mm, fold + FOLD_SLACK_MM)
    return Faces(
        lefts=(stock.dots(middle - half), stock.dots(middle + fold / 2)),
        top=stock.dots(zone.top_mm),
        width=max(0, stock.dots(half - fold / 2)),
        height=stock.dots(zone.height_mm),
    )


def flag_candidates(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    outer_diameter_mm: float | None,
    limits: LetterLimits,
    version: int | None,
    *,
    quarter_turn: bool = False,
) -> Iterator[Candidate]:
    """Yield the ways to put this legend, and a symbol of that version, on both faces."""
    faces = flag_faces(stock, outer_diameter_mm)
    ticks = _fold_ticks(stock, faces)
    for found in face_candidates(legend, stock, faces, limits, version):
        yield replace(found, plan=replace(found.plan, bars=ticks, quarter_turn=quarter_turn))


def _fold_ticks(stock: Stock, faces: Faces) -> tuple[Bar, ...]:
    """Return a short line at either edge that shows where the middle of the fold is."""
    length, thick = stock.dots(TICK_MM), max(1, stock.dots(TICK_THICK_MM))
    middle = (faces.lefts[0] + faces.lefts[1] + faces.width - thick) // 2
    tops = (faces.top, faces.top + faces.height - length)
    return tuple(Bar(middle, top, thick, length) for top in tops)


FLAG = Flag()
