# SPDX-License-Identifier: MIT
"""``note``, ``attach`` and what ``show`` tells of them, as a person types them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.tasks.test_remarks import PDF
from tests.test_pictures import photo

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def test_show_counts_notes_and_files_and_tells_the_last_or_all(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    (tmp_path / "lid.jpg").write_bytes(photo())
    first = wiretrack("note", "PH1", "lid cracked", "--json").json
    assert set(first) == {"id", "change"}
    assert len(first["change"]) == 8
    wiretrack("note", "PH1", "new lid ordered")
    kept = wiretrack("attach", "PH1", tmp_path / "lid.jpg", "--json").json
    shown = wiretrack("show", "PH1").words
    assert "2 notes new lid ordered (PH1," in shown
    assert f"1 file lid.jpg (PH1, {shown.split('lid.jpg (PH1, ')[1][:10]}" in shown
    assert kept["id"][:8] in shown
    assert "lid cracked" not in shown
    assert "lid cracked" in wiretrack("show", "PH1", "--all").words
    told = wiretrack("show", "PH1", "--json").json
    assert [note["text"] for note in told["notes"]] == ["lid cracked", "new lid ordered"]
    (file,) = told["attachments"]
    assert {"id", "name", "type", "sha256"} <= file.keys()
    assert (file["name"], file["type"]) == ("lid.jpg", "image/jpeg")


@pytest.mark.parametrize(
    ("what", "kind", "code"),
    [("mdb/q4:1", "terminal", "MDB/Q4:1"), ("M1", "instrument", "M1"), ("site", "site", "site")],
)
def test_what_has_no_page_is_shown_with_its_notes(
    wiretrack: Wiretrack, what: str, kind: str, code: str
) -> None:
    assert wiretrack("note", what, "seen by torch").status == 0
    told = wiretrack("show", what, "--json").json
    assert (told["what"], told["of"]) == (kind, code)
    assert [note["text"] for note in told["notes"]] == ["seen by torch"]
    assert "seen by torch" in wiretrack("show", what).words


def test_an_attachment_is_given_back_as_kept_and_nothing_is_overwritten(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    (tmp_path / "plan.pdf").write_bytes(PDF)
    kept = wiretrack("attach", "PH1", tmp_path / "plan.pdf", "--json").json
    out = tmp_path / "back.pdf"
    given = wiretrack("attach", "--get", kept["id"][:8], "--out", out, "--json").json
    assert given["name"] == "plan.pdf"
    assert out.read_bytes() == PDF
    out.write_bytes(b"mine")
    again = wiretrack("attach", "--get", kept["id"][:8], "--out", out)
    assert again.status == 2
    assert "exists already" in again.err
    assert out.read_bytes() == b"mine"


@pytest.mark.parametrize(
    ("words", "told"),
    [(["note", "PH1"], "TEXT"), (["note"], "TEXT"),
     (["note", "PH1", "--take-back", "abcd"], "TEXT"),
     (["note", "--take-back", "abcdef"], "'abcdef'"), (["note", "PHX", "x"], "'PHX'"),
     (["attach", "PH1"], "FILE"), (["attach", "PH1", "none.jpg"], "none.jpg"),
     (["attach", "--get", "abcdef"], "--out"),
     (["attach", "--get", "abcdef", "--out", "x.jpg"], "'abcdef'")],
)  # fmt: skip
def test_what_lacks_or_is_wrong_is_one_line(
    wiretrack: Wiretrack, words: list[str], told: str
) -> None:
    ran = wiretrack(*words)
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    assert told in ran.err
    assert ran.out == ""
