# SPDX-License-Identifier: MIT
"""Labels to a PDF, PNG or SVG in true size, put in place only when every code has read back."""

from __future__ import annotations

import io
import os
from collections import deque
from dataclasses import replace
from itertools import chain, islice
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, OutOfRangeError, ProcessLostError
from wiretrack.files import file_in_place
from wiretrack.labels.draw import draw_label, inked, save_png, svg_document
from wiretrack.labels.forms import fit
from wiretrack.labels.plan import PAGES_MM, Sheet
from wiretrack.labels.scan import proofread
from wiretrack.late import dataclass
from wiretrack.processes import end_with

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from PIL.Image import Image

    from wiretrack.labels.plan import Stock
    from wiretrack.labels.subject import Contents, Subject


PLAIN_MARGIN_MM = 10.0
PLAIN_GAP_MM = 4.0


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


@dataclass(frozen=True, kw_only=True)
class Counts:
    """What is counted of labels: the codes read back, the smallest letter, each label's form."""

    proofread: int
    smallest_letter_mm: float
    forms: tuple[str, ...]

    @property
    def labels(self) -> int:
        """How many labels there are."""
        return len(self.forms)


@dataclass(frozen=True)
class DrawnPage:
    """A page's picture, and what was read back from it."""

    picture: Image
    ink: str
    counts: Counts


def on_plain_paper(stock: Stock, page: str) -> Stock:
    """Return the stock with its labels spread over plain paper, to be cut apart.

    Raises `BadInputError` if the page isn't known, or the label is larger than it.
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

    Raises `OutOfRangeError` if the sheet has no such place.
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

    Raises `LabelError`, `GlyphError` or `OutOfRangeError` if a label can't be made or its code
    isn't read back.
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
    counts = Counts(proofread=read, smallest_letter_mm=min(letters), forms=tuple(forms))
    return DrawnPage(picture, inks.pop(), counts)


def packed(picture: Image, ink: str = "black") -> bytes:
    """Return a page's picture as the file that a PDF takes over dot for dot."""
    import PIL.TiffImagePlugin  # noqa: F401 - else a save loads the writers of every format

    buffer, coloured = io.BytesIO(), inked(picture, ink)
    if coloured is picture:
        one_strip = (picture.width + 7) // 8 * picture.height
        picture.save(buffer, "TIFF", compression="group4", strip_size=one_strip)
    else:
        coloured.save(buffer, "PNG")
    return buffer.getvalue()


MAX_PICTURE_DOTS = 60_000_000
PAGES_A_BATCH = 32
_AS_USUAL = Wishes()


_Made = tuple[bytes, Counts]  # a page's picture, packed, and what is counted of it


@dataclass(frozen=True, kw_only=True)
class Printed(Counts):
    """What was written, each code read back before the file was in place.

    `forms` are in the order of the subjects.
    """

    file: Path
    pages: int

    @classmethod
    def of(cls, file: Path, pages: Sequence[Counts]) -> Printed:
        """Return the counts of all pages of a file."""
        return cls(
            file=file,
            pages=len(pages),
            proofread=sum(page.proofread for page in pages),
            smallest_letter_mm=min(page.smallest_letter_mm for page in pages),
            forms=tuple(form for page in pages for form in page.forms),
        )


def print_labels(
    subjects: Iterable[Subject],
    stock: Stock,
    out_path: Path,
    wishes: Wishes = _AS_USUAL,
    workers: int = 1,
) -> Printed:
    """Write the labels of all subjects to a PDF, PNG or SVG file and return what was written.

    A stock on sheets gives pages of its sheet, one on a roll a page a label. A PNG or
    SVG holds one page, or a strip of the roll. Nothing is written unless every code was read back
    by an independent decoder.

    Raises `LabelError`, `GlyphError` or `OutOfRangeError` if a label can't be made, or its code
    isn't read back; `BadInputError` if there is nothing to print, or the file can't be written.
    """
    if wishes.page is not None:
        stock = on_plain_paper(stock, wishes.page)
    jobs = page_jobs(subjects, stock, wishes)
    first = next(jobs, None)
    if first is None:
        raise BadInputError("There are no labels to print. Name something that has conductors.")
    jobs = chain((first,), jobs)
    suffix = out_path.suffix.lower()
    if suffix == ".pdf":
        return _print_pdf(jobs, stock, out_path, workers)
    if suffix in (".png", ".svg"):
        return _print_picture(jobs, stock, out_path)
    raise BadInputError(
        f"'{out_path}' is none of .pdf, .png and .svg. End its name in one of them."
    )


def _print_pdf(jobs: Iterable[PageJob], stock: Stock, out_path: Path, workers: int) -> Printed:
    from wiretrack.pdf import Pdf

    pdf, pages, (width_mm, height_mm) = Pdf(), list[Counts](), page_mm(stock)
    size_mm = stock.mm(stock.dots(width_mm)), stock.mm(stock.dots(height_mm))
    with file_in_place(out_path) as stream:
        for picture, counts in _make_all(jobs, workers):
            pdf.picture_page(picture, (width_mm, height_mm), size_mm)
            pages.append(counts)
        stream.write(pdf.data())
    return Printed.of(out_path, pages)


def _make_all(jobs: Iterable[PageJob], workers: int) -> Iterator[_Made]:
    """Yield the pages in order; several processes share the work where that pays."""
    jobs_left = iter(jobs)
    batches = iter(lambda: tuple(islice(jobs_left, PAGES_A_BATCH)), ())
    first, second = next(batches, ()), next(batches, ())
    if workers < 2 or not second:
        for job in chain(first, second, jobs_left):
            yield _make(job)
        return
    yield from _make_in_parallel(chain((first, second), batches), workers)


def _make_in_parallel(batches: Iterable[tuple[PageJob, ...]], workers: int) -> Iterator[_Made]:
    from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
    from multiprocessing import get_context

    spawn, us = get_context("spawn"), (os.getpid(),)
    with ProcessPoolExecutor(workers, spawn, initializer=end_with, initargs=us) as pool:
        waiting: deque[Future[list[_Made]]] = deque()
        try:
            for batch in batches:
                waiting.append(pool.submit(_make_batch, batch))
                if len(waiting) > 2 * workers:
                    yield from waiting.popleft().result()
            while waiting:
                yield from waiting.popleft().result()
        except BrokenExecutor:
            raise ProcessLostError from None
        finally:
            for future in waiting:
                future.cancel()


def _make_batch(jobs: tuple[PageJob, ...]) -> list[_Made]:
    return [_make(job) for job in jobs]  # pragma: no cover - runs in another process


def _make(job: PageJob) -> _Made:
    drawn = draw_page(job)
    return packed(drawn.picture, drawn.ink), drawn.counts


def _print_picture(jobs: Iterator[PageJob], stock: Stock, out_path: Path) -> Printed:
    width, height = (stock.dots(length) for length in page_mm(stock))
    most = 1 if stock.sheet else max(1, MAX_PICTURE_DOTS // (width * height))
    kept = list(islice(jobs, most + 1))
    if len(kept) > most:
        holds = "one page" if stock.sheet else f"{most} labels"
        raise BadInputError(
            f"A picture of stock '{stock.name}' holds {holds}; there is more to print. "
            "Print to a PDF, or less at once."
        )
    drawn = [draw_page(job) for job in kept]
    inks = {page.ink for page in drawn}
    if len(inks) > 1:
        raise BadInputError(f"Labels in {' and '.join(sorted(inks))} can't share a picture.")
    strip, ink = _strip([page.picture for page in drawn], stock.dots(stock.gap_mm)), inks.pop()
    with file_in_place(out_path) as stream:
        if out_path.suffix.lower() == ".svg":
            stream.write(svg_document(strip, stock.dpi, ink).encode())
        else:
            save_png(inked(strip, ink), stream, dpi=(stock.dpi, stock.dpi))
    return Printed.of(out_path, [page.counts for page in drawn])


def _strip(pictures: list[Image], gap: int) -> Image:
    """Return the pictures one under the other, as they leave a roll."""
    from PIL import Image

    if len(pictures) == 1:
        return pictures[0]
    height = sum(picture.height for picture in pictures) + gap * (len(pictures) - 1)
    strip = Image.new("1", (pictures[0].width, height), 1)
    top = 0
    for picture in pictures:
        strip.paste(picture, (0, top))
        top += picture.height + gap
    return strip
