# SPDX-License-Identifier: MIT
"""Why a label can't be made, in words that say what would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.labels.geometry import (
    LETTER_SOURCE,
    MODULE_SOURCE,
    TAG_LETTER_MM,
    TEXT_LETTER_MM,
    smallest_module_dots,
)
from wiretrack.labels.legend import letter_limits, smallest_room
from wiretrack.labels.symbol import (
    QUIET_ZONE_MODULES,
    capacity,
    side_modules,
    symbol_choices,
)
from wiretrack.sources import ISO_18004

if TYPE_CHECKING:
    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.stock import Stock

_LETTERS = (
    f"letters of at least {TEXT_LETTER_MM:.1f} mm, the tag's {TAG_LETTER_MM:.1f} mm"
    f" ({LETTER_SOURCE})"
)
LIGHT, DARK = ("white", "yellow"), ("black", "any")  # common practice: contrast for red light too
_LARGER = "Take a larger stock, a shorter legend or shorter names."


def smallest_side_mm(stock: Stock, version: int) -> float:
    """Return the side of the smallest symbol of that version, quiet zone and all, in mm."""
    modules = side_modules(version) + 2 * QUIET_ZONE_MODULES
    return stock.mm(modules * smallest_module_dots(stock.dpi))


def why_no_face(
    legend: tuple[Paragraph, ...], stock: Stock, payload: str, limits: LetterLimits
) -> tuple[str, str]:
    """Return why one flat face can't carry the legend and a code, and what would do."""
    zone = stock.zone
    has = f"the label has {zone.width_mm:.1f} x {zone.height_mm:.1f} mm"
    if not payload:
        return no_room(legend, stock, stock.dots(zone.width_mm), has, limits)
    choices = symbol_choices(payload)
    side = smallest_side_mm(stock, choices[-1][0]) if choices else None
    if side is None or side > min(zone.width_mm, zone.height_mm):
        return no_code(stock, payload, side, min(zone.width_mm, zone.height_mm))
    has = f"beside the smallest code {has}"
    return no_room(legend, stock, stock.dots(zone.width_mm - side), has, limits)


def why_unread(stock: Stock) -> tuple[str, str] | None:
    """Return why no decoder would read a code in the colours of this stock; `None` if one would."""
    if stock.paper_colour in LIGHT and stock.print_colour in DARK:
        return None
    why = f"a code in {stock.print_colour} on {stock.paper_colour} isn't read"
    return why, "Take a stock that prints black on white or yellow, or print the legend alone."


def no_room(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    width: int,
    has: str,
    limits: LetterLimits | None = None,
) -> tuple[str, str]:
    """Return what room the legend needs where what there `has` been isn't enough."""
    least, height = smallest_room(legend, width, limits or letter_limits(stock))
    if height is None:
        needs = f"a width of {stock.mm(least):.1f} mm"
    else:
        needs = f"{stock.mm(width):.1f} x {stock.mm(height):.1f} mm"
    return f"{has} and the legend needs {needs} for {_LETTERS}", _LARGER


def no_code(stock: Stock, payload: str, side_mm: float | None, room_mm: float) -> tuple[str, str]:
    """Return why no code can be made large enough to read, and what would do."""
    needs = f"needs {side_mm:.1f} mm" if side_mm is not None else "goes into none"
    why = (
        f"no code can be made large enough to read: there are {room_mm:.1f} mm, and the smallest "
        f"symbol of '{payload}' {needs} with its quiet zone ({ISO_18004.cite()}; modules of "
        f"{stock.mm(smallest_module_dots(stock.dpi)):.2f} mm, {MODULE_SOURCE})"
    )
    return why, "Take a larger stock, or print the legend alone."


def shorter_address(payload: str, version: int) -> str:
    """Return how long an address may be whose symbol is of that version and would fit."""
    host = payload.removeprefix("HTTP://").partition("/")[0]
    holds = capacity(version, "L", alphanumeric=payload == payload.upper())
    characters = holds - (len(payload) - len(host))
    if characters < 4:
        return "Take a larger stock, or print without a base address."
    return f"A base address whose host and port have at most {characters} characters would do."
