# SPDX-License-Identifier: MIT
"""The flag form: two faces mirrored about the fold where the conductor lies, both upright."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.labels.faces import Faces, face_candidates
from wiretrack.labels.geometry import fold_mm
from wiretrack.labels.plan import Bar
from wiretrack.labels.stocks import Zone

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.plan import Candidate
    from wiretrack.labels.stocks import Stock

TICK_MM, TICK_THICK_MM = 1.0, 0.15
FOLD_SLACK_MM = 1.0


def lay_across(stock: Stock) -> Stock:
    """Return a wrap stock without a clear tail as a flag stock, turned to lie across the wire."""
    zone = stock.zone
    bottom = zone.top_mm + zone.height_mm
    turned = Zone(stock.height_mm - bottom, zone.left_mm, zone.height_mm, zone.width_mm)
    return replace(
        stock, form="flag", width_mm=stock.height_mm, height_mm=stock.width_mm, zone=turned
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
