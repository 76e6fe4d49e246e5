# SPDX-License-Identifier: MIT
"""The HTTP requests that scripts rely on, row by row."""

from __future__ import annotations

import uuid
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2, tag
from tests.record_of import record_of
from tests.web.conftest import BEARER, CODE, reading, signed_in
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

WRITINGS = [L1, L1.lower(), format_tag(L1), format_tag(L1).lower()]


@pytest.mark.parametrize("written", WRITINGS)
def test_a_tag_in_any_writing_leads_to_the_conductors_page(
    client: FlaskClient, written: str
) -> None:
    answer = client.get(f"/{written}", headers=BEARER)
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    assert format_tag(L1) in answer.text


@pytest.mark.parametrize("written", WRITINGS)
def test_a_conductor_as_json_is_what_show_says(client: FlaskClient, db: Path, written: str) -> None:
    answer = client.get(f"/api/conductors/{written}", headers=BEARER)
    assert answer.status_code == 200
    with open_registry(db) as registry:
        assert answer.json == record_of(registry, L1)


def test_an_unknown_tag_is_404_and_a_wrong_check_character_400(client: FlaskClient) -> None:
    unknown = client.get(f"/api/conductors/{tag('ABCDEF')}", headers=BEARER)
    assert unknown.status_code == 404
    assert unknown.json is not None
    assert set(unknown.json) == {"error"}
    wrong = client.get(f"/api/conductors/{L1[:6]}{'A' if L1[6] != 'A' else 'B'}", headers=BEARER)
    assert wrong.status_code == 400
    assert wrong.json is not None
    assert f"Did you mean {format_tag(L1)}?" in wrong.json["error"]


def test_find_is_find_as_json(client: FlaskClient) -> None:
    answer = client.get("/api/find?q=bore+pump", headers=BEARER)
    assert answer.status_code == 200
    assert answer.json
    assert set(answer.json[0]) == {"what", "code", "text"}
    assert {row["what"] for row in answer.json} >= {"circuit", "conductor"}
    assert client.get("/api/find?q=", headers=BEARER).json == []


def test_a_reading_is_stored_once_and_answered_alike_each_time(
    client: FlaskClient, db: Path
) -> None:
    sent = reading()
    first = client.post("/api/readings", json=sent, headers=BEARER)
    assert first.status_code == 201
    assert first.json is not None
    assert first.json["id"] == sent["id"]
    assert first.json["verdict"]["outcome"] == "pass"
    assert {"outcome", "limit", "unit", "source", "reason"} <= set(first.json["verdict"])
    for _ in range(3):
        again = client.post("/api/readings", json=sent, headers=BEARER)
        assert (again.status_code, again.json) == (200, first.json)
    with open_registry(db) as registry:
        assert registry.rows("SELECT id FROM readings") == [{"id": sent["id"]}]


@pytest.mark.parametrize(
    "change",
    [
        {"value": "0.33 ohm"},
        {"subject": L2},
        {"kind": "loop"},
        {"note": "by the pump"},
        {"at": "2026-05-02T10:16:00+02:00"},
        {"instrument": "M2"},
        {"leads": "0.02 ohm"},
    ],
)
def test_the_same_id_with_other_content_is_409_and_changes_nothing(
    client: FlaskClient, db: Path, change: dict[str, str]
) -> None:
    sent = reading()
    assert client.post("/api/readings", json=sent, headers=BEARER).status_code == 201
    answer = client.post("/api/readings", json=sent | change, headers=BEARER)
    assert answer.status_code == 409
    with open_registry(db) as registry:
        rows = registry.rows("SELECT value, note FROM readings")
    assert rows == [{"value": "0.32 ohm", "note": None}]


def test_a_replay_without_time_or_name_is_the_same_reading(app: Flask) -> None:
    client = signed_in(app)
    sent = {key: value for key, value in reading().items() if key != "at"}
    token = client.get("/api/session").json["form_token"]  # type: ignore[index]
    answers = [
        client.post("/api/readings", json=sent, headers={"X-Form-Token": token}) for _ in "ab"
    ]
    assert [a.status_code for a in answers] == [201, 200]
    assert answers[0].json == answers[1].json


def test_a_superseding_reading_may_be_sent_again(client: FlaskClient) -> None:
    wrong, right = reading(value="9 ohm"), reading()
    right["supersedes"] = wrong["id"]
    statuses = [
        client.post("/api/readings", json=sent, headers=BEARER).status_code
        for sent in (wrong, right, right, {**right, "supersedes": str(uuid.uuid4())})
    ]
    assert statuses == [201, 201, 200, 409]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"id": None}, "id"),
        ({"id": "17"}, "id"),
        ({"kind": "weight"}, "kind"),
        ({"kind": None}, "kind"),
        ({"subject": "nothing"}, "subject"),
        ({"subject": tag("ABCDEF")}, "subject"),
        ({"value": "much"}, "value"),
        ({"value": 0.31}, "value"),
        ({"value": "-3 ohm"}, "value"),
        ({"value": ""}, "value"),
        ({"leads": "2 kg"}, "leads"),
        ({"temp": "warm"}, "temp"),
        ({"at": "noon"}, "at"),
        ({"instrument": "M9"}, "instrument"),
        ({"against": "the moon"}, "against"),
        ({"test_voltage": "-5 V"}, "test_voltage"),
        ({"after": "soon"}, "after"),
        ({"note": "a\x07b"}, "note"),
        ({"by": "x" * 900}, "by"),
        ({"supersedes": "00000000-0000-4000-8000-000000000017"}, "supersedes"),
        ({"colour": "RD"}, "colour"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_bad_content_is_422_and_names_the_field(
    client: FlaskClient, db: Path, change: dict[str, object], field: str
) -> None:
    sent = {k: v for k, v in (reading() | change).items() if v is not None}
    answer = client.post("/api/readings", json=sent, headers=BEARER)
    assert answer.status_code == 422
    assert answer.json is not None
    assert answer.json["field"] == field
    assert answer.json["error"]
    with open_registry(db) as registry:
        assert registry.rows("SELECT id FROM readings") == []


def test_the_cells_temperature_is_stored_with_a_reading(client: FlaskClient, db: Path) -> None:
    sent = reading(kind="voltage", value="231 V", against="PE", cell_temp="104 F")
    assert client.post("/api/readings", json=sent, headers=BEARER).status_code == 201
    assert client.post("/api/readings", json=sent, headers=BEARER).status_code == 200
    with open_registry(db) as registry:
        assert record_of(registry, L1)["readings"][0]["cell_temp_c"] == pytest.approx(40)
    warmer = sent | {"id": str(uuid.uuid4()), "cell_temp": "300 C"}
    answer = client.post("/api/readings", json=warmer, headers=BEARER)
    assert (answer.status_code, (answer.json or {})["field"]) == (422, "cell_temp")


@pytest.mark.parametrize("headers", [{}, {"Authorization": "Bearer wrong"}])
@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", f"/{L1}"),
        ("GET", f"/api/conductors/{L1}"),
        ("GET", "/api/find?q=pump"),
        ("POST", "/api/readings"),
        ("GET", "/"),
        ("GET", "/map"),
        ("GET", "/nowhere"),
    ],
)
def test_without_the_code_everything_is_401(
    client: FlaskClient, method: str, path: str, headers: dict[str, str]
) -> None:
    answer = client.open(path, method=method, headers=headers, json=reading())
    assert answer.status_code == 401
    assert "PUMP" not in answer.text
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


def test_the_session_of_the_sign_in_page_serves_as_well(app: Flask) -> None:
    client = signed_in(app)
    assert client.get(f"/api/conductors/{L1}").status_code == 200
    assert client.get(f"/{L1}").status_code == 200


def test_many_phones_that_send_the_same_reading_at_once_store_it_once(app: Flask, db: Path) -> None:
    sent = reading()

    def post(_: int) -> int:
        answer = app.test_client().post("/api/readings", json=sent, headers=BEARER)
        return answer.status_code

    with ThreadPoolExecutor(8) as pool:
        statuses = sorted(pool.map(post, range(24)))
    assert statuses == [200] * 23 + [201]
    with open_registry(db) as registry:
        assert registry.rows("SELECT id FROM readings") == [{"id": sent["id"]}]


def test_who_logged_a_reading_is_in_it(app: Flask, db: Path) -> None:
    client = signed_in(app, name="phone-2")
    token = client.get("/api/session").json["form_token"]  # type: ignore[index]
    client.post("/api/readings", json=reading(), headers={"X-Form-Token": token})
    with open_registry(db) as registry:
        assert registry.rows("SELECT by FROM readings") == [{"by": "phone-2"}]
    assert CODE


def test_an_answer_that_changes_nothing_of_the_session_sends_no_cookie(app: Flask) -> None:
    client = signed_in(app)
    for path in ("/", f"/{L1}", "/static/pages.css", "/worker.js", "/punchlist"):
        with client.get(path) as answer:
            assert "Set-Cookie" not in answer.headers  # an older session must not come back late


def test_the_manual_is_shown_with_its_pictures(client: FlaskClient) -> None:
    listed = client.get("/manual", headers=BEARER).text
    assert 'href="manual/label"' in listed
    topic = client.get("/manual/label", headers=BEARER)
    assert '<img src="pictures/arc.png"' in topic.text
    with client.get("/manual/pictures/arc.png", headers=BEARER) as picture:
        assert picture.data.startswith(b"\x89PNG")
    assert client.get("/manual/nothing", headers=BEARER).status_code == 404
    assert client.get("/manual").status_code == 401
