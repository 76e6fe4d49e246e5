# SPDX-License-Identifier: MIT
from __future__ import annotations

import io
import struct
import zlib
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from wiretrack.errors import PictureError
from wiretrack.labels.draw import draw_label
from wiretrack.labels.forms import fit
from wiretrack.labels.scan import read_codes
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.subject import LabelSubject

STOCK = shipped_stocks()["flag-90x25-300"]


@pytest.fixture
def label(make_subject: Callable[..., LabelSubject]) -> Image.Image:
    subject = make_subject(outer_diameter_mm=3.3)
    return draw_label(subject, fit(subject, STOCK), STOCK).convert("L")


@pytest.mark.parametrize("angle", [0, 17, 45, 90, 133, 180, 270, 301])
def test_a_photograph_is_read_however_it_was_held(
    label: Image.Image, tmp_path: Path, angle: int
) -> None:
    table = Image.new("L", (1600, 1600), 120)
    table.paste(label, (250, 600))
    turned = table.rotate(angle, Image.Resampling.BICUBIC, fillcolor=120)
    turned.filter(ImageFilter.GaussianBlur(1)).save(tmp_path / "p.jpg", quality=60)
    assert read_codes(tmp_path / "p.jpg") == ["WT:7KQ2MBH"]


def test_poor_light_and_a_large_photograph_are_read(label: Image.Image, tmp_path: Path) -> None:
    dark = label.point(lambda level: 40 + level // 8)
    big = dark.resize((label.width * 5, label.height * 5), Image.Resampling.BICUBIC)
    big.save(tmp_path / "p.jpg", quality=70)
    assert read_codes(tmp_path / "p.jpg") == ["WT:7KQ2MBH"]


def test_the_cameras_own_note_of_turning_and_transparency_do_no_harm(
    label: Image.Image, tmp_path: Path
) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    label.save(tmp_path / "p.jpg", exif=exif)
    assert read_codes(tmp_path / "p.jpg") == ["WT:7KQ2MBH"]
    clear = Image.new("RGBA", label.size, (0, 0, 0, 0))
    clear.paste((0, 0, 0, 255), mask=label.point(lambda level: 255 - level))
    clear.save(tmp_path / "p.png")
    assert read_codes(tmp_path / "p.png") == ["WT:7KQ2MBH"]


def test_a_tiny_picture_is_enlarged_and_a_palette_taken_as_it_is(
    label: Image.Image, tmp_path: Path
) -> None:
    third = label.resize((label.width // 3, label.height // 3), Image.Resampling.BOX)
    third.convert("P").save(tmp_path / "p.gif")
    assert read_codes(tmp_path / "p.gif") == ["WT:7KQ2MBH"]


def test_a_file_or_picture_too_large_is_refused_unread(
    label: Image.Image, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    label.save(tmp_path / "p.png")
    monkeypatch.setattr("wiretrack.labels.scan.MAX_DOTS", 1000)
    with pytest.raises(PictureError, match=r"has 1063 x 295 dots, over 0 million\. Take a smaller"):
        read_codes(tmp_path / "p.png")
    monkeypatch.setattr("wiretrack.labels.scan.MAX_FILE_BYTES", 100)
    with pytest.raises(PictureError, match=r"is over 0 MB\. Take a JPEG or PNG photograph\."):
        read_codes(tmp_path / "p.png")


@pytest.mark.parametrize("fault", [ValueError("bad"), SyntaxError("bad"), EOFError()])
def test_whatever_the_reader_of_a_format_trips_over_is_told_in_words(
    label: Image.Image, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    def trip(*_: object, **__: object) -> None:
        raise fault

    label.save(tmp_path / "p.png")
    monkeypatch.setattr("PIL.ImageOps.exif_transpose", trip)
    with pytest.raises(PictureError, match=r"p\.png is a damaged picture\."):
        read_codes(tmp_path / "p.png")


def test_several_labels_are_read_from_the_top_down(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    table = Image.new("L", (1200, 1000), 200)
    for number, body in enumerate(("CCCCCC", "AAAAAA", "BBBBBB")):
        subject = make_subject(body)
        table.paste(draw_label(subject, fit(subject, STOCK), STOCK), (60, 20 + 320 * number))
    table.save(tmp_path / "p.png")
    assert [text[:9] for text in read_codes(tmp_path / "p.png")] == [
        "WT:CCCCCC",
        "WT:AAAAAA",
        "WT:BBBBBB",
    ]


def test_a_picture_without_a_code_gives_none(tmp_path: Path) -> None:
    for size in ((400, 300), (3600, 60)):
        Image.new("L", size, 180).save(tmp_path / "p.png")
        assert read_codes(tmp_path / "p.png") == []


def test_what_is_no_picture_is_refused_in_words(label: Image.Image, tmp_path: Path) -> None:
    for content in (b"", b"not a picture", b"%PDF-1.4\n", b"\x89PNG\r\n\x1a\n"):
        (tmp_path / "p.jpg").write_bytes(content)
        with pytest.raises(
            PictureError, match=r"p\.jpg is not a picture that can be read\. Take a"
        ):
            read_codes(tmp_path / "p.jpg")
    label.save(tmp_path / "q.jpg")
    whole = (tmp_path / "q.jpg").read_bytes()
    (tmp_path / "q.jpg").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(PictureError, match=r"q\.jpg can't be read: the picture is damaged\."):
        read_codes(tmp_path / "q.jpg")
    with pytest.raises(PictureError, match=r"can't be read: No such file or directory\."):
        read_codes(tmp_path / "none.jpg")
    with pytest.raises(PictureError, match=r"can't be read: Is a directory\."):
        read_codes(tmp_path)


def test_a_picture_that_would_unpack_to_gigabytes_is_refused_unopened(tmp_path: Path) -> None:
    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    for side in (12_000, 60_000):
        head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
        data = (
            chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
        )
        (tmp_path / "bomb.png").write_bytes(b"\x89PNG\r\n\x1a\n" + data)
        with pytest.raises(PictureError, match=r"bomb\.png has "):
            read_codes(tmp_path / "bomb.png")


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    kind=st.sampled_from(["PNG", "JPEG", "GIF", "TIFF", "WEBP", "BMP", "PPM"]),
    places=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=8),
    kept=st.floats(0.02, 1.0),
)
def test_a_damaged_picture_gives_codes_or_an_error_in_words(
    label: Image.Image, tmp_path: Path, kind: str, places: list[tuple[int, int]], kept: float
) -> None:
    small = label.crop((0, 0, 240, label.height))
    buffer = io.BytesIO()
    small.save(buffer, kind)
    content = bytearray(buffer.getvalue())
    for place, value in places:
        content[place % min(len(content), 400)] = value
    file = tmp_path / "p.img"
    file.write_bytes(bytes(content[: max(1, round(kept * len(content)))]))
    try:
        said = "".join(read_codes(file)) or "WT:7KQ2MBH"
    except PictureError as error:
        said = str(error).removeprefix(f"{file} ")
    assert said == "WT:7KQ2MBH" or said.endswith("Take a JPEG or PNG photograph.")
