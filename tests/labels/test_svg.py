# SPDX-License-Identifier: MIT
from __future__ import annotations

import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from wiretrack.labels.draw import svg_document
from wiretrack.labels.output import print_labels
from wiretrack.labels.scan import decode
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.subject import LabelSubject

NAMESPACE = {"svg": "http://www.w3.org/2000/svg"}


def filled(document: str) -> Image.Image:
    """Return the drawing filled in again, by reading it as XML and its path as rectangles."""
    root = ET.fromstring(document.encode())
    _, _, width, height = (int(part) for part in root.attrib["viewBox"].split())
    picture = Image.new("1", (width, height), 1)
    canvas = ImageDraw.Draw(picture)
    path = root.find("svg:path", NAMESPACE)
    assert path is not None
    for found in re.finditer(r"M(\d+) (\d+)h(\d+)v(\d+)h-(\d+)z", path.attrib["d"]):
        x, y, across, down, back = map(int, found.groups())
        assert across == back
        canvas.rectangle((x, y, x + across - 1, y + down - 1), fill=0)
    return picture


@given(
    width=st.integers(1, 12),
    rows=st.lists(st.integers(0, 4095), min_size=1, max_size=12),
)
def test_any_picture_comes_back_dot_by_dot(width: int, rows: list[int]) -> None:
    picture = Image.new("1", (width, len(rows)), 1)
    for y, row in enumerate(rows):
        for x in range(width):
            picture.putpixel((x, y), 1 - (row >> x & 1))
    again = filled(svg_document(picture, 300))
    assert again.size == picture.size
    assert again.tobytes() == picture.tobytes()


def test_a_label_as_svg_has_its_true_size_and_the_dots_of_its_png(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, subject = shipped_stocks()["flag-70x16-300"], make_subject(outer_diameter_mm=3.3)
    printed = print_labels([subject], stock, tmp_path / "l.svg")
    assert (printed.labels, printed.proofread) == (1, 2)
    print_labels([subject], stock, tmp_path / "l.png")
    document = (tmp_path / "l.svg").read_text()
    root = ET.fromstring(document.encode())
    assert float(root.attrib["width"].removesuffix("mm")) == pytest.approx(70, abs=0.1)
    assert float(root.attrib["height"].removesuffix("mm")) == pytest.approx(16, abs=0.1)
    with Image.open(tmp_path / "l.png") as picture:
        assert filled(document).tobytes() == picture.convert("1").tobytes()


@pytest.mark.skipif(
    shutil.which("rsvg-convert") is None, reason="needs rsvg-convert (librsvg2-bin)"
)
def test_another_program_draws_the_svg_so_that_its_codes_read(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, subject = shipped_stocks()["flag-70x16-300"], make_subject(outer_diameter_mm=3.3)
    print_labels([subject], stock, tmp_path / "l.svg")
    subprocess.run(
        ["rsvg-convert", "-d", "600", "-p", "600", "-o", tmp_path / "l.png", tmp_path / "l.svg"],
        check=True,
    )
    with Image.open(tmp_path / "l.png") as picture:
        assert decode(picture) == 2 * [subject.payload]
