# SPDX-License-Identifier: MIT
"""``wiretrack report`` as people and scripts call it."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

TAG = format_tag(L1)


def test_the_sites_report_is_written_as_a_page_and_as_pdf(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    for name, start in (("site.html", b"<!doctype html>"), ("site.PDF", b"%PDF-")):
        ran = wiretrack("report", "--out", tmp_path / name)
        assert ran.status == 0
        assert name in ran.words
        assert "The local code and a licensed electrician decide." in ran.words
        assert (tmp_path / name).read_bytes().startswith(start)


def test_json_without_a_file_is_the_report_itself(wiretrack: Wiretrack) -> None:
    found = wiretrack("report", "pump", "--json").json
    assert found["about"] == {"kind": "circuit", "code": "PUMP", "title": "bore pump"}
    assert [c["code"] for c in found["circuits"]] == ["PUMP"]


def test_json_with_a_file_tells_what_was_written(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out, record = tmp_path / "r.pdf", tmp_path / "r.json"
    done = wiretrack("report", "PUMP", "--out", out, "--record", record, "--json").json
    assert (done["file"], done["circuits"]) == (str(out), 1)
    assert done["pages"] > 1
    assert hashlib.sha256(record.read_bytes()).hexdigest() == done["record_sha256"]
    assert wiretrack("dump").out.encode() == record.read_bytes()


def test_a_report_is_written_over_an_earlier_one(wiretrack: Wiretrack, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    assert wiretrack("report", "PUMP", "--out", out).status == 0
    earlier = out.read_bytes()
    assert wiretrack("report", "--out", out).status == 0
    assert "Verification report" in out.read_text("utf-8")
    assert out.read_bytes() != earlier


def test_letters_that_the_pdf_can_not_show_are_told(wiretrack: Wiretrack, tmp_path: Path) -> None:
    told = "typeface lacks 2 characters (中 文)"
    assert "typeface lacks" not in wiretrack("report", "--out", tmp_path / "r.pdf").words
    out = tmp_path / "by.pdf"
    assert told in wiretrack("report", "--out", out, "--by", "中文, Ωμέγα, Żółć").words
    done = wiretrack("report", "--out", out, "--by", "文中文", "--json").json
    assert done["lacking"] == ["中", "文"]
    page = wiretrack("report", "--out", tmp_path / "by.html", "--by", "中文").words
    assert "typeface lacks" not in page


def test_what_a_retired_circuit_left_behind_is_a_caution_in_the_sites_report(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    caution = "An abandoned conductor may still be live"
    assert not [line for line in wiretrack("report", "--json").json["cautions"] if caution in line]
    assert wiretrack("retire", "PUMP", "--abandoned").status == 0
    found = wiretrack("report", "--json").json
    assert len([line for line in found["cautions"] if caution in line]) == 1
    assert TAG in found["retired"][0]["abandoned"]
    out = tmp_path / "r.html"
    wiretrack("report", "--out", out)
    assert f"left in their raceways, perhaps live: {TAG}" in out.read_text("utf-8")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "Name the file: --out FILE.html or --out FILE.pdf."),
        (["--out", "report.txt"], "'report.txt' is neither .html nor .pdf."),
        (["", "--out", "r.pdf"], "No circuit is called ''."),
        (["NOPE", "--out", "r.pdf"], "No circuit is called 'NOPE'."),
        (["MDB", "--out", "r.pdf"], "No circuit is called 'MDB'."),
        (["--out", "no/such/folder/r.pdf"], "no/such/folder/r.pdf can't be written"),
        (["--out", "no/such/folder/r.html"], "no/such/folder/r.html can't be written"),
        (["--out", "r.pdf", "--page", "A3"], "'A3' is not one of 'A4', 'Letter'"),
        (["--out", "r.pdf", "--record", "pump.db"], "'pump.db' is no name for a site file."),
        (["--out", "r.pdf", "--by", "a\x1b[2Jb"], "is refused"),
    ],
)
def test_what_cant_be_reported_is_refused_in_one_line(
    wiretrack: Wiretrack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    arguments: list[str], told: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    ran = wiretrack("report", *arguments)
    assert (ran.status, ran.err.count("\n"), ran.out) == (2, 1, "")
    assert told in ran.err
    assert sorted(tmp_path.iterdir()) == before
