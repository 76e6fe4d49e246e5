# SPDX-License-Identifier: MIT
"""A file that wiretrack didn't write is replaced with --force alone, and a registry never."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.files import is_ours

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

PRINT = ("label", "print", L1, "--stock", "flag-90x25-300", "--out")
# Each command that writes a file, and the endings that it writes.
WRITERS = [
    (PRINT, ".pdf"), (PRINT, ".png"), (PRINT, ".svg"),
    (("label", "preview", L1, "--stock", "flag-90x25-300", "--out"), ".png"),
    (("label", "calibrate", "--stock", "flag-90x25-300", "--out"), ".pdf"),
    (("dump", "--out"), ".json"), (("trace", L1, "--svg"), ".svg"),
    (("report", "--out"), ".html"), (("report", "--out"), ".pdf"),
    (("export",), ".xlsx"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "ending"), WRITERS)
def test_somebody_else_s_file_is_replaced_with_force_alone(
    wiretrack: Wiretrack, tmp_path: Path, words: tuple[str, ...], ending: str
) -> None:
    file = tmp_path / f"precious{ending}"
    file.write_bytes(b"mine: what wiretrack must not touch")
    ran = wiretrack(*words, file)
    assert (ran.status, ran.out) == (2, "")
    assert "--force" in ran.err
    assert str(file) in ran.err
    assert file.read_bytes() == b"mine: what wiretrack must not touch"
    assert sorted(tmp_path.glob(".precious*")) == []
    assert wiretrack(*words, file, "--force").status == 0
    assert is_ours(file)
    if words != ("export",):  # people go on to fill a workbook
        assert wiretrack(*words, file).status == 0


@pytest.mark.parametrize(("words", "ending"), WRITERS)
def test_a_registry_is_never_replaced(
    wiretrack: Wiretrack, db: Path, tmp_path: Path, words: tuple[str, ...], ending: str
) -> None:
    other = tmp_path / f"registry{ending}"
    other.write_bytes(db.read_bytes())
    ran = wiretrack(*words, other, "--force")
    assert (ran.status, ran.out) == (2, "")
    assert "is a registry" in ran.err
    assert other.read_bytes() == db.read_bytes()


NOT_OURS = [
    b"notes on wiretrack", b'{"format": "other/1"}', b"%PDF-1.7 of somebody", b"\x89PNG\r\n\x1a\n",
    b"<svg></svg>", b"<!doctype html><p>wiretrack", b"PK\3\4 no zip", b"\0", b" ",
]  # fmt: skip


@pytest.mark.parametrize("content", NOT_OURS)
def test_what_wiretrack_did_not_write_is_not_taken_for_its_own(
    tmp_path: Path, content: bytes
) -> None:
    file = tmp_path / "file"
    file.write_bytes(content)
    assert not is_ours(file)


def test_a_zip_of_somebody_else_and_an_empty_file_are_told_apart(tmp_path: Path) -> None:
    file = tmp_path / "file.xlsx"
    file.touch()
    assert is_ours(file)
    with zipfile.ZipFile(file, "w") as book:
        book.writestr("docProps/core.xml", "<dc:creator>somebody</dc:creator>")
    assert not is_ours(file)
