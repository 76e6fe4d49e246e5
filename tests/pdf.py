# SPDX-License-Identifier: MIT
"""What a PDF file holds, as an independent reader has it: pypdfium2, which pip installs."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import pypdfium2  # type: ignore[import-untyped]
from pypdfium2 import raw

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from PIL.Image import Image


@contextmanager
def opened(file: Path) -> Iterator[pypdfium2.PdfDocument]:
    """Open a file, and let go of all that was read from it."""
    pdf = pypdfium2.PdfDocument(file)
    try:
        yield pdf
    finally:
        pdf.close()


def page_texts(file: Path) -> list[str]:
    """Return the text of each page, in the order in which it is written there."""
    with opened(file) as pdf:
        return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in pdf]


def page_sizes_pt(file: Path) -> list[tuple[float, float]]:
    """Return the width and height of each page [pt]."""
    with opened(file) as pdf:
        return [page.get_size() for page in pdf]


def pictures(file: Path, dpi: int) -> list[Image]:
    """Return the pages in shades of grey, drawn so fine."""
    with opened(file) as pdf:
        return [page.render(scale=dpi / 72, grayscale=True).to_pil().copy() for page in pdf]


def images(file: Path) -> list[Image]:
    """Return the images of the first page, dot for dot as they are stored."""
    with opened(file) as pdf:
        kinds = [raw.FPDF_PAGEOBJ_IMAGE]
        return [one.get_bitmap().to_pil().copy() for one in pdf[0].get_objects(filter=kinds)]


def fonts(file: Path) -> dict[str, bool]:
    """Return the names of the fonts that text is written in, and whether the file holds each."""
    found: dict[str, bool] = {}
    with opened(file) as pdf:
        for page in pdf:
            for text in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
                font = text.get_font()
                found[font.get_base_name()] = font.is_embedded
    return found


def dashed_lines(file: Path) -> int:
    """Return how many lines of the first page are dashed."""
    with opened(file) as pdf:
        paths = pdf[0].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])
        return sum(raw.FPDFPageObj_GetDashCount(path) > 0 for path in paths)


def outline(file: Path) -> list[str]:
    """Return the titles of the outline."""
    with opened(file) as pdf:
        return [entry.get_title() for entry in pdf.get_toc()]


def title(file: Path) -> str:
    """Return the title that the file states."""
    with opened(file) as pdf:
        return str(pdf.get_metadata_value("Title"))


def made_at(file: Path) -> str:
    """Return when the file says that it was made."""
    with opened(file) as pdf:
        return str(pdf.get_metadata_value("CreationDate"))


def is_scaled(file: Path) -> bool:
    """Return whether a printer may fit the pages to its paper."""
    with opened(file) as pdf:
        return bool(raw.FPDF_VIEWERREF_GetPrintScaling(pdf))


def scripts(file: Path) -> int:
    """Return how many scripts the file holds."""
    with opened(file) as pdf:
        return int(raw.FPDFDoc_GetJavaScriptActionCount(pdf))
