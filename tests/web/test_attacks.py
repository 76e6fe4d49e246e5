# SPDX-License-Identifier: MIT
"""What strangers may try: forged origins and hosts, guessed codes, odd bodies and paths."""

from __future__ import annotations

import re
import socket
import uuid
from dataclasses import replace
from threading import Event, Semaphore, Thread
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1
from tests.web.browsing import process
from tests.web.conftest import (
    BEARER,
    CODE,
    LOG_CODE,
    READ_CODE,
    form_token,
    reading,
    settings_of,
    signed_in,
)
from wiretrack.readings.judging import Judge
from wiretrack.store.health import problems
from wiretrack.store.log import entries
from wiretrack.store.reading_log import add_readings
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import dump_site
from wiretrack.tasks.test.testing import ReadingText, check_reading
from wiretrack.web.access import Code, make_code
from wiretrack.web.app import create_app
from wiretrack.web.limits import WrongCodes

if TYPE_CHECKING:
    from pathlib import Path

    from flask import Flask
    from flask.testing import FlaskClient

    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry


def count(db: Path) -> int:
    with open_registry(db) as registry:
        return len(registry.rows("SELECT 1 FROM readings"))


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "https://localhost"},
        {"Origin": "http://localhost.evil.example"},
        {"Origin": "http://localhost:81"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "null", "X-Form-Token": ""},
        {"X-Form-Token": "a guess"},
        {"X-Form-Token": "ü"},
    ],
)
def test_a_writing_request_from_another_site_is_refused(
    app: Flask, db: Path, headers: dict[str, str]
) -> None:
    client = signed_in(app)
    token = form_token(client.get("/").text)
    answer = client.post("/api/readings", json=reading(), headers={"X-Form-Token": token} | headers)
    assert answer.status_code == 403
    form = {"kind": "continuity", "subject": L1, "value": "1", "form_token": token} | {
        "form_token": headers.get("X-Form-Token", token)
    }
    assert client.post("/readings/new", data=form, headers=headers).status_code == 403
    assert count(db) == 0


def test_signing_in_can_not_be_forged_either(client: FlaskClient) -> None:
    client.get("/sign-in")
    assert client.post("/sign-in", data={"code": CODE}).status_code == 403


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "", "a b", "@"]
)
def test_a_forged_host_is_refused(client: FlaskClient, host: str) -> None:
    for path in ("/", "/sign-in", "/static/pages.css", f"/api/conductors/{L1}"):
        answer = client.get(path, headers={**BEARER, "Host": host})
        assert answer.status_code == 400
        assert "PUMP" not in answer.text


def test_a_guessed_code_is_tried_only_a_few_times_a_minute(db: Path) -> None:
    now = [0.0]
    app = create_app(settings_of(db, clock=lambda: now[0]))
    client = app.test_client()

    def tried(code: str, address: str = "10.0.0.1") -> int:
        return client.get(
            f"/api/conductors/{L1}",
            headers={"Authorization": f"Bearer {code}"},
            environ_base={"REMOTE_ADDR": address},
        ).status_code

    statuses = [tried(f"guess {n}") for n in range(50)]
    assert statuses[:8] == [401] * 8
    assert statuses[8:] == [429] * 42
    assert tried(CODE) == 429, "or the answer would tell a guesser that it is the right one"
    assert tried(CODE, "10.0.0.2") == 200
    now[0] = 61.0
    assert tried(CODE) == 200


def test_many_addresses_together_have_one_slow_try_each_and_lock_nobody_out(db: Path) -> None:
    now, waited = [0.0], list[float]()
    app = create_app(settings_of(db, clock=lambda: now[0]))
    app.extensions["access"]._wrong.sleep = waited.append
    client = app.test_client()

    def tried(code: str, address: str) -> int:
        return client.get(
            "/", headers={"Authorization": f"Bearer {code}"}, environ_base={"REMOTE_ADDR": address}
        ).status_code

    for n in range(40):
        assert tried("guess", f"10.0.0.{n // 2}") == 401
    assert waited == []
    assert tried("guess", "10.0.0.1") == 429, "an address that guessed has no more tries"
    for n in range(200):
        assert tried("guess", f"10.0.1.{n}") == 401
        assert tried("guess", f"10.0.1.{n}") == 429
    assert waited == [1.0] * 200
    assert tried(CODE, "10.0.2.1") == 200, "who knows the code is let in"
    assert tried("guess", "2001:db8::1") == 401
    assert tried("guess", "2001:db8::2") == 429, "a machine has a whole network of IPv6"
    now[0] = 61.0
    assert tried(CODE, "10.0.0.1") == 200
    assert len(waited) == 202


def test_few_wait_at_once_so_that_guessers_take_no_threads(db: Path) -> None:
    wrong = WrongCodes(lambda: 0.0)
    for n in range(40):
        wrong.note_wrong(f"10.0.0.{n}")
    waiting, go = Semaphore(0), Event()

    def sleep(_: float) -> None:
        waiting.release()
        go.wait(10)

    wrong.sleep = sleep
    threads = [Thread(target=wrong.delay, daemon=True) for _ in range(30)]
    for thread in threads:
        thread.start()
    for _ in range(8):
        assert waiting.acquire(timeout=10)
    for thread in threads:
        thread.join(0.05)
    assert sum(thread.is_alive() for thread in threads) == 8
    go.set()


def test_sessions_go_on_while_a_guesser_is_kept_out(app: Flask) -> None:
    client = signed_in(app)
    for n in range(60):
        app.test_client().get("/", headers={"Authorization": f"Bearer {n}"})
    assert client.get(f"/{L1}").status_code == 200


def test_a_made_code_has_at_least_64_bits_and_can_be_typed_generously(db: Path) -> None:
    code = make_code()
    signs = code.text.replace("-", "")
    assert len({make_code().text for _ in range(100)}) == 100
    assert 32 ** len(signs) >= 2**64
    assert re.fullmatch("[0-9A-HJKMNP-TV-Z]+", signs)
    app = create_app(settings_of(db, codes=(code,)))
    for typed in (code.text, code.text.lower(), signs, f" {signs[:8]} {signs[8:]} "):
        headers = {"Authorization": f"Bearer {typed}"}
        assert app.test_client().get("/", headers=headers).status_code == 200
    assert app.test_client().get("/", headers={"Authorization": "Bearer "}).status_code == 401


def test_roles_may_do_what_they_say_and_no_more(app: Flask, db: Path) -> None:
    reader, logger, changer = (signed_in(app, code) for code in (READ_CODE, LOG_CODE, CODE))
    landing = {"enclosure": "PH1", "state": "landed", "terminal": "TB1:1"}
    found = []
    for client in (reader, logger, changer):
        token = form_token(client.get("/").text)
        headers = {"X-Form-Token": token}
        found.append(
            (
                client.get(f"/{L1}").status_code,
                client.post("/api/readings", json=reading(), headers=headers).status_code,
                client.post(f"/ends/{L1}", data=landing, headers=headers).status_code,
            )
        )
    assert found == [(200, 403, 403), (200, 201, 403), (200, 201, 303)]
    with open_registry(db) as registry:
        rows = registry.rows("SELECT by, what FROM changes WHERE by IS NOT NULL ORDER BY seq")
    assert {"by": "phone-1", "what": "ends"} in rows


def test_open_records_are_open_for_reading_and_never_for_writing(db: Path) -> None:
    app = create_app(settings_of(db, open_records=True))
    client = app.test_client()
    assert client.get(f"/api/conductors/{L1}").status_code == 200
    token = form_token(client.get("/").text)
    assert client.get(f"/{L1}", headers={"Authorization": "Bearer wrong"}).status_code == 401
    answer = client.post("/api/readings", json=reading(), headers={"X-Form-Token": token})
    assert answer.status_code == 401
    assert client.get(f"/readings/new?subject={L1}").status_code == 200
    assert count(db) == 0


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"", "application/json", 400),
        (b"{", "application/json", 400),
        (b"\xff\xfe", "application/json", 400),
        (b"[" * 30_000, "application/json", 400),
        (b'{"id": NaN}', "application/json", 422),
        (b"[1, 2]", "application/json", 422),
        (b"null", "application/json", 422),
        (b'"text"', "application/json", 422),
        (b'{"note": "\\ud800"}', "application/json", 422),
        (b"x" * 70_000, "application/json", 413),
        (b"{}", "text/plain", 415),
        (b"kind=continuity", "application/x-www-form-urlencoded", 415),
    ],
    ids=lambda value: str(value)[:24],
)
def test_odd_bodies_are_refused_in_words(
    client: FlaskClient, db: Path, body: bytes, kind: str, status: int
) -> None:
    answer = client.post("/api/readings", data=body, content_type=kind, headers=BEARER)
    assert answer.status_code == status
    assert answer.json is not None
    assert answer.json["error"]
    assert count(db) == 0


@pytest.mark.parametrize("field", ["kind", "subject", "value", "note", "instrument", "at", "id"])
@pytest.mark.parametrize(
    "value",
    ["\x00", "\ud800", "\u202e", "x" * 5000, "'; DROP TABLE readings", {}, [], True, 1e400, None],
)
def test_odd_values_never_break_the_server(
    client: FlaskClient, db: Path, field: str, value: Any
) -> None:
    answer = client.post("/api/readings", json=reading() | {field: value}, headers=BEARER)
    assert answer.status_code in (
        (422,) if field != "note" or value != "'; DROP TABLE readings" else (201,)
    )
    if answer.status_code == 422:
        assert answer.json is not None
        assert answer.json["field"] == field
        assert count(db) == 0


PATHS = [
    "/../../etc/passwd", "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py",
    "/static//etc/passwd", "/enclosures/..%2f..%2fx", "/%00", "/enclosures/%00", "/%ff%fe",
    "/circuits/%22%3E%3Cscript%3E", "/tests/%C2%AD", "/ringouts/x/step", "/find?q=%00",
    "/find?q=%22", "/find?q=%22*%20OR%20NEAR(", "/find?q=%ed%a0%80", "/map?lit=%00",
    "/trouble?q=%00", "/trouble?q=a%2fb", "/punchlist?what=nothing", "/readings/new",
    "/readings/new?subject=x&kind=y", "/BOX/MDB", "/box/nowhere", "/api/find?q=%00%22",
    "/api/circuits/%00/tests", "/api/ringouts/P1", "/api/ringouts/%00", "/api/conductors/%00",
    "/x" * 1200,
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path[:30])
def test_odd_addresses_never_break_the_server_or_leave_its_folder(app: Flask, path: str) -> None:
    answer = signed_in(app).get(path)
    assert answer.status_code < 500
    assert "root:" not in answer.text
    assert "SPDX" not in answer.text
    assert "<script>" not in answer.text


@pytest.mark.parametrize(
    "wanted",
    [
        "//evil.example",
        "https://evil.example",
        "/\\evil.example",
        "\\\\evil",
        "javascript:x",
        "/\n/e",
    ],
)
def test_signing_in_never_leads_to_another_site(app: Flask, wanted: str) -> None:
    client = app.test_client()
    token = form_token(client.get("/sign-in").text)
    data = {"code": CODE, "next": wanted, "form_token": token}
    answer = client.post("/sign-in", data=data)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")


@pytest.mark.parametrize(
    "path", ["/sign-in", f"/{L1}", "/static/pages.js", "/api/find?q=a", "/nope"]
)
def test_every_answer_carries_the_headers_that_keep_it_safe(app: Flask, path: str) -> None:
    answer = signed_in(app).get(path)
    answer.close()
    headers = answer.headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "Server" not in headers


@pytest.mark.parametrize(
    "path", ["/", f"/{L1}", "/map", "/tests/PUMP", "/ringouts/P1", "/punchlist"]
)
def test_no_page_has_scripts_or_styles_inside_or_asks_another_host(app: Flask, path: str) -> None:
    page = signed_in(app).get(path).text
    assert re.findall(r"<script(?![^>]*\ssrc=\"/static/)", page) == []
    assert re.findall(r"<style|\sstyle=|\son[a-z]+=|javascript:", page) == []
    assert re.findall(r"(?:src|href|action)=\"(?!/|#)[^\"]*\"", page) == []


def test_a_session_is_worth_nothing_in_another_registry_or_with_another_code(
    app: Flask, db: Path, tmp_path: Path
) -> None:
    from wiretrack.tasks.describe.sites import new_site

    client = signed_in(app)
    cookie = client.get_cookie("wiretrack")
    assert cookie is not None
    other = tmp_path / "other.db"
    new_site(other, "Other")
    apps = [
        create_app(settings_of(other)),
        create_app(settings_of(db, codes=(Code("another"),))),
        create_app(settings_of(db)),
    ]
    statuses = []
    for made in apps:
        visitor = made.test_client()
        visitor.set_cookie("wiretrack", cookie.value)
        statuses.append(visitor.get("/map").status_code)
    assert statuses == [401, 401, 200]


def test_signing_out_ends_the_session(app: Flask) -> None:
    client = signed_in(app)
    token = form_token(client.get("/").text)
    assert client.post("/sign-out", data={"form_token": token}).status_code == 303
    assert client.get("/map").status_code == 401


def test_a_copied_cookie_is_worth_nothing_once_its_owner_signed_out(app: Flask, db: Path) -> None:
    client, other = signed_in(app), signed_in(app)
    cookie = client.get_cookie("wiretrack")
    assert cookie is not None
    thief = app.test_client()
    thief.set_cookie("wiretrack", cookie.value)
    assert thief.get("/map").status_code == 200
    token = form_token(client.get("/").text)
    answer = client.post("/sign-out", data={"form_token": token})
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    for made in (app, create_app(settings_of(db))):  # another process, or after a restart
        thief = made.test_client()
        thief.set_cookie("wiretrack", cookie.value)
        assert thief.get("/map").status_code == 401
        assert thief.post("/api/readings", json=reading()).status_code == 401
    assert other.get("/map").status_code == 200
    with open_registry(db) as registry:
        rows = registry.rows("SELECT id FROM ended_sessions")
        assert problems(registry) == []
    assert len(rows) == 1
    assert rows[0]["id"] not in cookie.value


def test_forms_that_never_end_take_no_more_than_their_share(app: Flask) -> None:
    bodies = app.extensions["access"].bodies
    assert [bodies.enter("10.0.0.1") for _ in range(6)] == [True] * 4 + [False] * 2
    assert sum(bodies.enter(f"10.0.1.{n}") for n in range(60)) == 20
    client = app.test_client()
    token = form_token(client.get("/sign-in").text)
    assert client.post("/sign-in", data={"code": CODE, "form_token": token}).status_code == 503
    bodies.leave("10.0.0.1")
    for _ in range(3):
        assert client.post("/sign-in", data={"code": "no", "form_token": token}).status_code == 401


def entered(db: Path) -> list[tuple[str | None, str | None]]:
    with open_registry(db) as registry:
        rows = registry.rows("SELECT by, entered_by FROM readings ORDER BY nr")
        assert problems(registry) == []
        last = [e.said for e, _ in entries(registry.connection, "nr")][-len(rows) :]
    assert [each["by"] for each in last] == [row["entered_by"] for row in rows]
    assert {each["face"] for each in last} == {"web"}
    return [(row["by"], row["entered_by"]) for row in rows]


def test_the_session_says_who_enters_and_a_body_never_does(app: Flask, db: Path) -> None:
    client = signed_in(app, name="Ana")
    token = form_token(client.get("/").text)
    sent = {"headers": {"X-Form-Token": token}}
    assert client.post("/api/readings", json=reading(), **sent).status_code == 201
    assert client.post("/api/readings", json=reading(by="Bo"), **sent).status_code == 201
    for key in ("entered_by", "entered_at", "who"):
        assert client.post("/api/readings", json=reading(**{key: "Bo"}), **sent).status_code == 422
    form = {"kind": "continuity", "subject": L1, "value": "0.3", "form_token": token,
            "entered_by": "Bo", "id": str(uuid.uuid4())}  # fmt: skip
    assert client.post("/readings/new", data=form).status_code == 303
    assert entered(db)[:3] == [("Ana", "Ana"), ("Bo", "Ana"), ("Ana", "Ana")]
    page = client.get(f"/{L1}").text
    assert page.count("entered by Ana on ") == 2  # of another, and of May


def test_the_name_is_shown_and_changed_in_the_session(app: Flask, db: Path) -> None:
    client = signed_in(app, name="Ana")
    page = client.get("/").text
    assert 'value="Ana"' in page
    assert '<meta name="person" content="Ana">' in page
    token = form_token(page)
    assert client.post("/name", data={"name": "Cy", "form_token": token}).status_code == 303
    assert client.post("/name", data={"name": "x" * 99, "form_token": token}).status_code == 400
    sent = {"X-Form-Token": token}
    assert client.post("/api/readings", json=reading(), headers=sent).status_code == 201
    assert entered(db) == [("Cy", "Cy")]


def test_those_who_send_together_are_told_apart(db: Path) -> None:
    with open_registry(db) as registry:
        judged = [
            (replace(template(registry), id=str(uuid.uuid4())), who) for who in ("A", None, "B")
        ]
        registry.face = "web"
        assert all(isinstance(each, str) for each in add_readings(registry, judged))
    assert [who for _, who in entered(db)] == ["A", None, "B"]


def template(registry: Registry) -> Reading:
    text = ReadingText(**reading(), by="roof")
    return check_reading(registry, text, Judge(site_of(registry)))


def test_no_dump_holds_the_signing_key(app: Flask, db: Path, tmp_path: Path) -> None:
    with open_registry(db) as registry:
        keys = registry.rows("SELECT key FROM signing_key")
        dump_site(registry, tmp_path / "dump.json")
    assert keys == [{"key": app.config["SECRET_KEY"]}]
    assert keys[0]["key"] not in (tmp_path / "dump.json").read_text("utf-8")
    assert create_app(settings_of(db)).config["SECRET_KEY"] == keys[0]["key"]


def answered(host: str, port: int, raw: bytes) -> bytes:
    """Return the answer to bytes; nothing where the server ends the connection without one."""
    with socket.create_connection((host, port), timeout=5) as wire:
        try:
            wire.sendall(raw)
            wire.shutdown(socket.SHUT_WR)
            return wire.recv(200)
        except TimeoutError:
            raise
        except OSError:
            return b""


def test_broken_requests_on_the_wire_do_not_stop_the_server(db: Path) -> None:
    with process(db, "--code", "code") as (address, _):
        host, _, port = address.removeprefix("http://").partition(":")
        for raw in (
            b"\r\n\r\n", b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00\x01", b"GET / HTTP/9.9\r\n\r\n",
            b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"y" * 40_000 + b"\r\n\r\n",
            b"POST /api/readings HTTP/1.1\r\nHost: localhost\r\nContent-Length: -5\r\n\r\n",
            b"POST /api/readings HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9999999\r\n\r\nx",
            b"POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
        ):  # fmt: skip
            assert b" 200 " not in answered(host, int(port), raw).split(b"\r\n")[0]
        with socket.create_connection((host, int(port)), timeout=5) as wire:
            wire.sendall(b"GET /sign-in HTTP/1.0\r\nHost: localhost\r\n\r\n")
            assert wire.recv(20).startswith(b"HTTP/1.0 200")
