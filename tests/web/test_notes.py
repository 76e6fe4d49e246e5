# SPDX-License-Identifier: MIT
"""Notes and photographs by phone: added on a record's page, shown there, served so nothing runs."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from tests.pump import L1
from tests.tasks.test_remarks import PDF
from tests.test_pictures import SECRET, SVG, exif, photo
from tests.web.conftest import CODE, LOG_CODE, READ_CODE, signed_in
from wiretrack.pictures import MOST_BYTES
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.remarks import add_note, attach

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse


@pytest.fixture(autouse=True)
def _with_a_breaker(db: Path) -> None:
    with open_registry(db) as registry, registry.write() as writing:
        writing.execute(
            "INSERT INTO devices (id, enclosure_id, code) SELECT"
            " '0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab', id, 'Q4' FROM enclosures WHERE code = 'MDB'"
        )


def post(client: FlaskClient, to: str, files: Any = (), **form: str) -> TestResponse:
    """Send the form of a page of notes as a browser does."""
    token = client.get(to).text.split('name="form-token" content="')[1].split('"')[0]
    body = b"".join(
        part(f'name="{name}"', text.encode())
        for name, text in {"form_token": token, **form}.items()
    )
    for name, called, content in files:
        body += part(f'name="{name}"; filename="{called}"', content)
    kind = "multipart/form-data; boundary=edge"
    return client.post(to, data=body + b"--edge--\r\n", content_type=kind)


def part(named: str, content: bytes) -> bytes:
    """Return a part of a form (RFC 7578, 4)."""
    head = f"--edge\r\nContent-Disposition: form-data; {named}\r\n\r\n"
    return head.encode() + content + b"\r\n"


def test_a_note_and_a_photo_are_added_and_shown(app: Flask, db: Path) -> None:
    member = signed_in(app, LOG_CODE, name="Ana")
    shown = member.get("/enclosures/PH1").text
    assert 'enctype="multipart/form-data"' in shown
    assert 'capture="environment"' in shown
    data = photo(size=(3000, 1000), exif=exif(6))
    files = [("photo", "../IMG <1>.JPG", data)]
    answer = post(member, "/notes/enclosure/PH1", files, text="lid <b>cracked</b>\r\nnew one due")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/enclosures/PH1")
    page = member.get("/enclosures/PH1").text
    assert "lid &lt;b&gt;cracked&lt;/b&gt;<br>new one due" in page
    assert "Ana" in page
    address = page.split('<img src="')[1].split('"')[0]
    kept = member.get(address)
    assert kept.mimetype == "image/jpeg"
    with Image.open(BytesIO(kept.data)) as picture:
        assert picture.size == (683, 2048)
        assert not picture.getexif()
    assert SECRET not in kept.data
    assert SECRET not in db.read_bytes()


def test_what_was_attached_is_served_so_that_nothing_in_it_runs(app: Flask, db: Path) -> None:
    with open_registry(db) as registry:
        picture = attach(registry, "PH1", 'a"; filename=x.html', photo())
        paper = attach(registry, "PH1", "plän.pdf", PDF)
    member = signed_in(app, READ_CODE)
    for kept, shown, kind in ((picture, "inline", "image/jpeg"),
                              (paper, "attachment", "application/pdf")):  # fmt: skip
        answer = member.get(f"/attachments/{kept.id}")
        assert answer.headers["Content-Type"] == kind
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        policies = answer.headers.getlist("Content-Security-Policy")
        assert "default-src 'none'; sandbox" in policies
        assert answer.headers["Content-Disposition"].startswith(shown)
        assert "\n" not in answer.headers["Content-Disposition"]
        assert "private" in answer.headers["Cache-Control"]
    assert member.get(f"/attachments/{paper.id}").data == PDF
    assert app.test_client().get(f"/attachments/{paper.id}").status_code == 401
    assert member.get("/attachments/00000000-0000-4000-8000-000000000000").status_code == 404


@pytest.mark.parametrize(
    ("what", "code", "at"),
    [("conductor", L1, None), ("circuit", "PUMP", "/circuits/PUMP"),
     ("raceway", "W1", "/raceways/W1"), ("pull", "P1", "/pulls/P1"),
     ("device", "MDB/Q4", "/notes/device/MDB%2FQ4"),
     ("terminal", "MDB/Q4:1", "/notes/terminal/MDB%2FQ4%3A1"),
     ("instrument", "M1", "/notes/instrument/M1"), ("site", "site", "/notes/site/site")],
)  # fmt: skip
def test_every_record_has_a_page_of_its_notes(
    app: Flask, what: str, code: str, at: str | None
) -> None:
    member = signed_in(app, LOG_CODE)
    answer = post(member, f"/notes/{what}/{code}", text="seen by torch")
    assert answer.status_code == 303
    page = member.get(at or answer.headers["Location"])
    assert "seen by torch" in page.text
    assert f"/notes/{what}/" in page.text
    found = member.get("/find?q=torch").text
    assert answer.headers["Location"] in found


def test_a_note_on_a_device_is_added_and_shown_at_its_box(app: Flask) -> None:
    member = signed_in(app)
    answer = post(member, "/notes/enclosure/MDB", text="hums", of="device MDB/Q4")
    assert answer.headers["Location"] == "/enclosures/MDB"
    assert "hums" in member.get("/enclosures/MDB").text
    assert "hums" in member.get("/notes/device/MDB%2FQ4").text
    assert "hums" not in member.get("/notes/enclosure/MDB").text


def test_who_changes_the_record_takes_a_note_back_and_others_don_t(app: Flask, db: Path) -> None:
    with open_registry(db) as registry:
        kept = add_note(registry, "PH1", "lid cracked")
    reader, member = signed_in(app, READ_CODE), signed_in(app, CODE)
    shown = reader.get("/enclosures/PH1").text
    assert "Take it back" not in shown
    assert "Add a note" not in shown
    assert post(reader, "/notes/enclosure/PH1", text="x").status_code == 403
    assert "Take it back" in member.get("/enclosures/PH1").text
    assert post(member, "/notes/enclosure/PH1", take_back=kept.id).status_code == 303
    assert "lid cracked" not in member.get("/enclosures/PH1").text


@pytest.mark.parametrize(
    ("files", "form", "told"),
    [([], {"text": " "}, "Write a note"),
     ([], {"text": "x" * 2001}, "2001"),
     ([("photo", "a.svg", SVG)], {}, "JPEG"),
     ([("file", "a.jpg", b"<script>alert(1)</script>")], {"text": "kept?"}, "JPEG"),
     ([("file", "a.pdf", PDF[:-6])], {}, "no whole PDF"),
     ([("photo", "a.jpg", photo())], {"text": "bell \x07"}, "U+0007")],
)  # fmt: skip
def test_what_can_t_be_kept_is_told_beside_its_field_and_nothing_is_kept(
    app: Flask, db: Path, files: Any, form: dict[str, str], told: str
) -> None:
    answer = post(signed_in(app), "/notes/enclosure/PH1", files, **form)
    assert answer.status_code == 422
    assert told in answer.text.split('class="fault"')[1]
    with open_registry(db) as registry:
        counts = registry.rows("SELECT count(*) AS n FROM notes UNION ALL"
                               " SELECT count(*) FROM attachments")  # fmt: skip
    assert counts == [{"n": 0}, {"n": 0}]


def test_a_body_is_as_long_as_its_page_takes_and_no_longer(app: Flask) -> None:
    member = signed_in(app)
    large = PDF[:9] + bytes(MOST_BYTES - len(PDF)) + PDF[9:]
    assert post(member, "/notes/site/site", [("file", "a.pdf", large)]).status_code == 303
    more = PDF[:9] + bytes(MOST_BYTES) + PDF[9:]
    assert post(member, "/notes/site/site", [("file", "a.pdf", more)]).status_code == 422
    lines = PDF[:9] + b"\r\n--edg" * 300_000 + PDF[9:]  # that might each end the file
    assert post(member, "/notes/site/site", [("file", "b.pdf", lines)]).status_code == 303
    far = bytes(MOST_BYTES + 100_000)
    assert post(member, "/notes/site/site", [("file", "a.pdf", far)]).status_code == 413
    assert member.post("/ends/ABC-DEFG", data={"terminal": "x" * 70_000}).status_code == 413


def test_a_form_of_another_page_or_of_nobody_is_refused(app: Flask) -> None:
    member = signed_in(app)
    data = {"text": "x", "form_token": "wrong"}
    kind = "multipart/form-data"
    assert member.post("/notes/site/site", data=data, content_type=kind).status_code == 403
    assert app.test_client().post("/notes/site/site", data=data, content_type=kind).status_code in (
        401,
        403,
    )
    assert member.get("/notes/box/PH1").status_code == 404
    assert member.get("/notes/enclosure/NONE").status_code == 404
