# SPDX-License-Identifier: MIT
"""What lies beside the pages: data that load into an equal registry, and a list of checksums."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.store.dumping import document
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder.folder import differences
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

    from tests.binder.conftest import Bound


@pytest.mark.parametrize("data", ["site.json", "csv"])
def test_the_data_load_into_an_equal_registry(mill: Bound, tmp_path: Path, data: str) -> None:
    copy = tmp_path / "copy.db"
    new_site(copy, "Copy")
    with open_registry(copy) as registry:
        load_site(registry, mill.folder / data)
        assert document(registry) == mill.document


def test_the_reports_bear_the_digest_of_the_site_file_beside_them(mill: Bound) -> None:
    digest = hashlib.sha256((mill.folder / "site.json").read_bytes()).hexdigest()
    for report in ("site-report.html", "circuits/PUMP.html"):
        assert digest in mill.text(report).replace("<wbr>", "")


def test_what_somebody_writes_meanwhile_is_in_the_next_binder_not_in_this(db: Path) -> None:
    reading = ReadingText(subject=L1, kind="continuity", value="0.3 ohm")
    with open_registry(db) as reader, open_registry(db) as writer:
        with reader.unchanging():
            before = document(reader)
            log_reading(writer, reading)
            assert document(reader) == before
        assert len(document(reader).readings) == len(before.readings) + 1


def test_the_checksum_list_names_every_file_once_with_its_sha_256(mill: Bound) -> None:
    lines = [line.split("  ", 1) for line in mill.text("SHA256SUMS").splitlines()]
    listed = {name: digest for digest, name in lines}
    assert len(listed) == len(lines)
    there = {
        p.relative_to(mill.folder).as_posix() for p in mill.folder.rglob("*") if p.is_file()
    } - {"SHA256SUMS"}
    assert set(listed) == there
    for name, digest in listed.items():
        assert hashlib.sha256((mill.folder / name).read_bytes()).hexdigest() == digest


def test_the_common_tool_finds_the_binder_whole_and_a_changed_one_not(
    mill: Bound, tmp_path: Path
) -> None:
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("sha256sum is not installed")
    command = [tool, "-c", "--strict", "--quiet", "SHA256SUMS"]
    assert subprocess.run(command, cwd=mill.folder, check=False).returncode == 0
    copy = shutil.copytree(mill.folder, tmp_path / "copy")
    with (copy / "tags.html").open("a") as stream:
        stream.write(" ")
    ran = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    assert "tags.html" in ran.stdout


def test_what_was_changed_taken_away_or_added_is_named(mill: Bound, tmp_path: Path) -> None:
    copy = shutil.copytree(mill.folder, tmp_path / "copy")
    assert differences(copy) == []
    (copy / "tags.html").write_text("other")
    (copy / "circuits" / "PUMP.html").unlink()
    (copy / "own notes.txt").write_text("mine")
    assert differences(copy) == ["circuits/PUMP.html", "tags.html", "own notes.txt"]
    (copy / "SHA256SUMS").write_text("what\n")
    assert "index.html" in differences(copy)


def test_the_leaflet_says_in_plain_text_what_lies_where(mill: Bound) -> None:
    raw = (mill.folder / "README.txt").read_bytes()
    assert raw.count(b"\r\n") == raw.count(b"\n")
    text = raw.decode("utf-8")
    for entry in mill.folder.iterdir():
        if entry.name != "README.txt":
            assert entry.name in text, entry.name
    assert all(len(line) <= 76 for line in text.splitlines())
    assert text.isascii()


def test_what_is_told_of_the_binder_is_so(mill: Bound) -> None:
    files = [p for p in mill.folder.rglob("*") if p.is_file()]
    assert mill.made.files == len(files)
    assert mill.made.pages == len(list(mill.folder.rglob("*.html")))
    assert mill.made.bytes == sum(p.stat().st_size for p in files)
