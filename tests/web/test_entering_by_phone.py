# SPDX-License-Identifier: MIT
"""Records added and corrected by forms, changes taken back, labels read from a photograph."""

from __future__ import annotations

import html
import io
import re
from typing import TYPE_CHECKING

import pytest
import segno

from tests.pump import L1
from tests.web.conftest import READ_CODE, form_token, settings_of, signed_in
from wiretrack.exchange.assigned import fields_of
from wiretrack.model.tags import Tag, format_tag
from wiretrack.store.dumping import document
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.adding import form_of
from wiretrack.tasks.describe.entering import BY_NOUN
from wiretrack.tasks.describe.sites import new_site
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse


@pytest.fixture
def member(app: Flask) -> FlaskClient:
    """Somebody who may change the record."""
    return signed_in(app)


def send(member: FlaskClient, path: str, /, **typed: str) -> TestResponse:
    """Fill a form in and send it."""
    token = form_token(member.get(path if path != "/undo" else "/scan").text)
    return member.post(path, data={**typed, "form_token": token})


def filled(text: str) -> dict[str, str]:
    """Return the fields of a page's form, as a browser would send them."""
    found = dict(re.findall(r'<input id="f-[^"]*" name="([^"]*)"[^>]*?value="([^"]*)"', text))
    for name, inside in re.findall(
        r'<select id="[^"]*" name="([^"]*)".*?>(.*?)</select>', text, re.S
    ):
        chosen = re.search(r'value="([^"]*)" selected', inside)
        found[name] = chosen[1] if chosen else ""
    return {key: html.unescape(value) for key, value in found.items()}


def lines(db: Path) -> int:
    """Return how many lines the history has."""
    with open_registry(db) as registry:
        return len(registry.rows("SELECT 1 FROM changes"))


def test_a_begun_site_with_nothing_in_it_is_entered_by_forms_alone(tmp_path: Path) -> None:
    new_site(tmp_path / "barn.db", "Barn")
    app = create_app(settings_of(tmp_path / "barn.db"))
    member = signed_in(app)
    for path, typed in {
        "/add/enclosure": {"code": "MDB", "kind": "panelboard"},
        "/add/enclosure?": {"code": "PH1", "kind": "junction-box"},
        "/add/raceway": {"code": "W1", "from": "MDB", "to": "PH1", "length": "64 m"},
        "/add/circuit": {"code": "PUMP", "system": "ac-3ph"},
        "/add/pull": {"code": "P1", "path": "W1"},
        "/add/device": {"enclosure": "MDB", "code": "Q4", "kind": "breaker", "rating": "16 A"},
        "/add/instrument": {"code": "M1", "kind": "ohmmeter"},
        "/add/conductor": {
            "circuit": "PUMP",
            "function": "L1",
            "size": "4 mm2",
            "pull": "P1",
            "count": "3",
            "from.enclosure": "MDB",
            "to.enclosure": "PH1",
        },
    }.items():
        answer = send(member, path, **typed)
        assert answer.status_code == 303, (path, answer.text)
        shown = member.get(answer.location)
        assert shown.status_code == 200
        assert "Stored:" in shown.text
    with open_registry(tmp_path / "barn.db") as registry:
        found = document(registry)
    app.extensions["registries"].close()
    assert [c.function for c in found.conductors] == ["L1"] * 3
    assert (found.raceways[0].length_m, found.devices[0].rating_a) == (64.0, 16.0)


@pytest.mark.parametrize("kind", BY_NOUN)
def test_every_field_that_can_be_typed_is_in_the_form(
    member: FlaskClient, db: Path, kind: str
) -> None:
    page = member.get(f"/add/{kind}")
    names = set(re.findall(r'name="([^"]+)"', page.text))
    with open_registry(db) as registry:
        form = form_of(registry, BY_NOUN[kind])
    assert {field.key for field in form} <= names
    needed = {key for key, fact in fields_of(BY_NOUN[kind]).items() if fact.needed}
    assert needed <= names


@pytest.mark.parametrize(
    ("what", "code"),
    [("conductor", format_tag(L1)), ("enclosure", "MDB"), ("raceway", "W1"), ("circuit", "PUMP"),
     ("pull", "P1"), ("instrument", "M1"), ("site", "site")],
)  # fmt: skip
def test_a_form_sent_as_it_came_changes_nothing(
    member: FlaskClient, db: Path, what: str, code: str
) -> None:
    path = f"/correct/{what}/{code}"
    before = lines(db)
    answer = send(member, path, **filled(member.get(path).text))
    assert answer.status_code == 303, answer.text
    assert lines(db) == before


def test_a_wrong_length_is_corrected_and_taken_back(member: FlaskClient, db: Path) -> None:
    path = f"/correct/conductor/{format_tag(L1)}"
    typed = filled(member.get(path).text)
    answer = send(member, path, **{**typed, "length": "71 m"})
    shown = member.get(answer.location).text
    assert "71 m" in shown
    change = re.search(r'name="change" value="(\w+)"', shown)
    assert change
    back = send(member, "/undo", change=change[1])
    assert back.status_code == 200
    assert "Taken back" in back.text
    with open_registry(db) as registry:
        lengths = {c.tag: c.length_m for c in document(registry).conductors}
    assert lengths[Tag(L1)] == float(typed["length"].removesuffix(" m"))


@pytest.mark.parametrize(
    ("field", "text"), [("length", "71"), ("size", "huge"), ("colour", "plaid"), ("circuit", "NO")]
)
def test_what_can_not_be_stands_beside_its_field_and_nothing_is_written(
    member: FlaskClient, db: Path, field: str, text: str
) -> None:
    path, before = f"/correct/conductor/{format_tag(L1)}", lines(db)
    answer = send(member, path, **{**filled(member.get(path).text), field: text})
    assert answer.status_code == 422
    fault = re.search(rf'id="fault-{field}">([^<]*)<', answer.text)
    assert fault
    assert text in html.unescape(fault[1])
    assert f'value="{text}"' in answer.text
    assert lines(db) == before


def test_a_code_that_may_only_read_gets_no_form(app: Flask) -> None:
    reader = signed_in(app, READ_CODE)
    for path in ("/add", "/add/circuit", "/correct/circuit/PUMP"):
        assert reader.get(path).status_code == 403
    assert "/correct/" not in reader.get("/circuits/PUMP").text


def test_what_is_no_kind_is_no_page(member: FlaskClient) -> None:
    for path in ("/add/reading", "/correct/reading/x", "/correct/circuit/NONE"):
        assert member.get(path).status_code == 404


def picture(*payloads: str) -> bytes:
    """Return a picture with QR codes side by side, drawn by another library."""
    from PIL import Image

    parts = []
    for payload in payloads:
        stream = io.BytesIO()
        segno.make(payload, micro=False).save(stream, kind="png", scale=8, border=6)
        parts.append(Image.open(stream).convert("L"))
    whole = Image.new("L", (sum(p.width for p in parts), max(p.height for p in parts)), 255)
    left = 0
    for part in parts:
        whole.paste(part, (left, 0))
        left += part.width
    out = io.BytesIO()
    whole.save(out, "PNG")
    return out.getvalue()


def photograph(member: FlaskClient, data: bytes) -> TestResponse:
    token = form_token(member.get("/scan").text)
    sent = {"form_token": token, "photo": (io.BytesIO(data), "photo.png")}
    return member.post("/scan", data=sent, content_type="multipart/form-data")


def test_a_photo_of_one_label_opens_its_record_and_of_several_lists_them(
    member: FlaskClient,
) -> None:
    one = photograph(member, picture(f"WT:{L1}"))
    assert (one.status_code, one.location) == (303, f"/{format_tag(L1)}")
    two = photograph(member, picture(f"WT:{L1}", "WT:0000000"))
    assert format_tag(L1) in two.text
    assert "not in this record" in two.text
    assert "No code was read" in photograph(member, blank()).text


def blank() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("L", (200, 200), 255).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("data", [b"", b"no picture", b"\x89PNG\r\n\x1a\n" + bytes(50)])
def test_what_is_no_picture_is_said_beside_the_field(member: FlaskClient, data: bytes) -> None:
    answer = photograph(member, data)
    assert answer.status_code == 422
    assert 'id="fault-photo"' in answer.text


def test_a_form_on_a_site_in_feet_has_feet_and_stores_nothing_where_nothing_was_typed(
    mill_db: Path,
) -> None:
    """52.7304 m are 173 ft, 7.9248 m are 26 ft: 1 ft is 0.3048 m (NIST SP 811, B.8)."""
    member = signed_in(create_app(settings_of(mill_db)))
    with open_registry(mill_db) as registry:
        before = document(registry)
    for path, length in {
        "/correct/raceway/W1": "26 ft",
        "/correct/conductor/0AZEMTB": "173 ft",
    }.items():
        page = member.get(path).text
        typed = filled(page)
        assert typed["length"] == length
        assert 'placeholder="210 ft"' in page
        said = lines(mill_db)
        assert send(member, path, **typed).status_code == 303
        assert lines(mill_db) == said
    with open_registry(mill_db) as registry:
        assert document(registry) == before
    typed = filled(member.get("/correct/raceway/W1").text)
    assert send(member, "/correct/raceway/W1", **{**typed, "length": "30 ft"}).status_code == 303
    with open_registry(mill_db) as registry:
        w1 = next(raceway for raceway in document(registry).raceways if raceway.code == "W1")
    assert w1.length_m == pytest.approx(9.144, abs=1e-9)
    assert "length 26 ft → 30 ft" in html.unescape(member.get("/history/raceway/W1").text)
