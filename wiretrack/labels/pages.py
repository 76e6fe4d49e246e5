# SPDX-License-Identifier: MIT
"""Labels laid out on pages: each page drawn, proofread, and ready to be written."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, OutOfRangeError
from wiretrack.labels.draw import draw_label
from wiretrack.labels.fit import fit
from wiretrack.labels.proof import proofread
from wiretrack.labels.stock import PAGES_MM, Sheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from PIL.Image import Image

    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Contents, Subject

PLAIN_MARGIN_MM = 10.0
PLAIN_GAP_MM = 4.0
# What a printer is sent for each ink; a ribbon of white gets the dots that another would print.
INKS = {"black": (0, 0, 0), "white": (0, 0, 0), "red": (200, 16, 46)}


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """How labels are wanted: how much they say, with a code or without, and where they go.

    `page` spreads labels of a roll over plain paper; `start_at` is the first free place of a
    half-used sheet, counted from 1.
    """

    contents: Contents = "full"
    text_only: bool = False
    page: str | None = None
    start_at: int = 1


@dataclass(frozen=True)
class PageJob:
    """What goes on one page, its first label at the place `start`, counted from 0."""

    subjects: tuple[Subject, ...]
    stock: Stock
    start: int
    wishes: Wishes


@dataclass(frozen=True)
class DrawnPage:
    """A page's picture, and what was read back from it."""

    picture: Image
    ink: str
    proofread: int
    smallest_letter_mm: float
    forms: tuple[str, ...]


def on_plain_paper(stock: Stock, page: str) -> Stock:
    """Return the stock with its labels spread over plain paper, to be cut apart.

    Raises
    ------
    BadInputError
        If the page isn't known, or the label is larger than it.
    """
    if page not in PAGES_MM:
        raise BadInputError(f"Page '{page}' is not known. Take {' or '.join(PAGES_MM)}.")
    if stock.sheet is not None:
        if stock.sheet.page == page:
            return stock
        raise BadInputError(
            f"Stock '{stock.name}' comes on {stock.sheet.page} sheets, not {page}. "
            "Leave the page out, or take a stock on a roll."
        )
    columns, rows = (
        int((length - 2 * PLAIN_MARGIN_MM + PLAIN_GAP_MM) // (size + PLAIN_GAP_MM))
        for length, size in zip(PAGES_MM[page], (stock.width_mm, stock.height_mm), strict=True)
    )
    if min(columns, rows) < 1:
        raise BadInputError(
            f"A label of {stock.width_mm:g} x {stock.height_mm:g} mm is larger than what "
            f"{page} leaves inside margins of {PLAIN_MARGIN_MM:g} mm. Take a smaller stock."
        )
    pitch = stock.width_mm + PLAIN_GAP_MM, stock.height_mm + PLAIN_GAP_MM
    return replace(
        stock, sheet=Sheet(page, columns, rows, PLAIN_MARGIN_MM, PLAIN_MARGIN_MM, *pitch)
    )


def page_jobs(subjects: Iterable[Subject], stock: Stock, wishes: Wishes) -> Iterator[PageJob]:
    """Yield one job a page.

    Raises
    ------
    OutOfRangeError
        If the sheet has no such place.
    """
    places = stock.labels_a_page
    if not 1 <= wishes.start_at <= places:
        allowed = f"1 to {places} on this stock"
        raise OutOfRangeError("First label's place", wishes.start_at, "", allowed)
    waiting, start = iter(subjects), wishes.start_at - 1
    while on_page := tuple(islice(waiting, places - start)):
        yield PageJob(on_page, stock, start, wishes)
        start = 0


def page_mm(stock: Stock) -> tuple[float, float]:
    """Return the size of a page of this stock: the sheet, or one label."""
    return stock.sheet.page_mm if stock.sheet else (stock.width_mm, stock.height_mm)


def draw_page(job: PageJob) -> DrawnPage:
    """Return the page drawn, each of its codes read back from the page's own dots.

    Raises
    ------
    LabelError, GlyphError, OutOfRangeError
        If a label can't be made or its code isn't read back.
    """
    from PIL import Image

    stock, wishes = job.stock, job.wishes
    width, height = page_mm(stock)
    picture = Image.new("1", (stock.dots(width), stock.dots(height)), 1)
    read, letters, inks, forms = 0, [], set(), []
    for place, subject in enumerate(job.subjects, start=job.start):
        corner = stock.corner_dots(place)
        found = fit(subject, stock, contents=wishes.contents, text_only=wishes.text_only)
        picture.paste(draw_label(subject, found, stock), corner)
        read += proofread(picture, found, corner, subject.payload)
        letters.append(found.letter_mm or 0.0)
        forms.append(found.form)
        inks.add(found.plan.ink if found.plan else "black")
    if len(inks) > 1:
        raise BadInputError(
            f"Labels in {' and '.join(sorted(inks))} can't share a page. Print them one by one."
        )
    return DrawnPage(picture, inks.pop(), read, min(letters), tuple(forms))


def inked(picture: Image, ink: str) -> Image:
    """Return a bilevel picture with its black dots in the colour of an ink."""
    if INKS[ink] == (0, 0, 0):
        return picture
    coloured = picture.convert("P")
    coloured.putpalette(bytes(INKS[ink]) + bytes(range(3)) * 254 + b"\xff\xff\xff")
    return coloured


def packed(picture: Image, ink: str = "black") -> bytes:
    """Return a page's picture as the file that a PDF takes over dot for dot."""
    buffer, coloured = io.BytesIO(), inked(picture, ink)
    if coloured is picture:
        one_strip = (picture.width + 7) // 8 * picture.height
        picture.save(buffer, "TIFF", compression="group4", strip_size=one_strip)
    else:
        coloured.save(buffer, "PNG")
    return buffer.getvalue()
