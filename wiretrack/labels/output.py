# SPDX-License-Identifier: MIT
"""Labels to a PDF, PNG or SVG in true size, put in place only when every code has read back."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import chain, islice
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.files import file_in_place
from wiretrack.labels.pages import (
    PageJob,
    Wishes,
    draw_page,
    inked,
    on_plain_paper,
    packed,
    page_jobs,
    page_mm,
)
from wiretrack.labels.svg import svg_document

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from PIL.Image import Image

    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Subject

MAX_PICTURE_DOTS = 60_000_000
PAGES_A_BATCH = 32
_AS_USUAL = Wishes()


@dataclass(frozen=True)
class Printed:
    """What was written: `proofread` counts the codes read back before the file was in place.

    `forms` holds the form of each label, in the order of the subjects.
    """

    file: Path
    labels: int
    pages: int
    proofread: int
    smallest_letter_mm: float
    forms: tuple[str, ...]


@dataclass(frozen=True)
class _Made:
    """One page's picture, packed, what it and its page measure, and its counts."""

    picture: bytes
    page_mm: tuple[float, float]
    size_mm: tuple[float, float]
    forms: tuple[str, ...]
    proofread: int
    smallest_letter_mm: float


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

    Raises
    ------
    LabelError, GlyphError, OutOfRangeError
        If a label can't be made, or its code isn't read back.
    BadInputError
        If there is nothing to print, or the file can't be written.
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
        return _print_pdf(jobs, out_path, workers)
    if suffix in (".png", ".svg"):
        return _print_picture(jobs, stock, out_path)
    raise BadInputError(
        f"'{out_path}' is none of .pdf, .png and .svg. End its name in one of them."
    )


def _print_pdf(jobs: Iterable[PageJob], out_path: Path, workers: int) -> Printed:
    from wiretrack.pdf import Pdf

    proofread = 0
    forms: list[str] = []
    letter_mm = float("inf")
    pdf = Pdf()
    with file_in_place(out_path) as stream:
        for made in _make_all(jobs, workers):
            pdf.picture_page(made.picture, made.page_mm, made.size_mm)
            forms += made.forms
            proofread += made.proofread
            letter_mm = min(letter_mm, made.smallest_letter_mm)
        stream.write(pdf.data())
    return Printed(out_path, len(forms), pdf.pages, proofread, letter_mm, tuple(forms))


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
    from concurrent.futures import Future, ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        waiting: deque[Future[list[_Made]]] = deque()
        try:
            for batch in batches:
                waiting.append(pool.submit(_make_batch, batch))
                if len(waiting) > 2 * workers:
                    yield from waiting.popleft().result()
            while waiting:
                yield from waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def _make_batch(jobs: tuple[PageJob, ...]) -> list[_Made]:
    return [_make(job) for job in jobs]  # pragma: no cover - runs in another process


def _make(job: PageJob) -> _Made:
    drawn, stock = draw_page(job), job.stock
    size_mm = stock.mm(drawn.picture.width), stock.mm(drawn.picture.height)
    return _Made(
        packed(drawn.picture, drawn.ink),
        page_mm(stock),
        size_mm,
        drawn.forms,
        drawn.proofread,
        drawn.smallest_letter_mm,
    )


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
            inked(strip, ink).save(stream, "PNG", dpi=(stock.dpi, stock.dpi), optimize=True)
    return Printed(
        out_path,
        sum(len(job.subjects) for job in kept),
        len(kept),
        sum(page.proofread for page in drawn),
        min(page.smallest_letter_mm for page in drawn),
        tuple(form for page in drawn for form in page.forms),
    )


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
