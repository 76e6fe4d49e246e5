# SPDX-License-Identifier: MIT
"""``wiretrack serve`` as a process: it says where it is and with which code, and is found."""

from __future__ import annotations

import errno
import http.client
import ipaddress
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import threading
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1
from tests.web.conftest import BEARER, settings_of
from wiretrack.cli.group import run
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.web.announcing import announced, own_addresses
from wiretrack.web.app import create_app
from wiretrack.web.server import serving
from wiretrack.web.tls import Certificate, Relay, fingerprint, self_made

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@contextmanager
def process(db: Path, *arguments: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Run the command on a free port; give its lines as pairs, and stop it as people do."""
    command = [sys.executable, "-c", "from wiretrack.cli import main; main()", "--db", str(db)]
    started = subprocess.Popen(
        [*command, "serve", "--port", "0", *arguments],
        stdout=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "COLUMNS": "200", "NO_COLOR": "1"},
    )
    assert started.stdout is not None
    said: dict[str, str] = {}
    for line in started.stdout:
        if line.startswith("Ctrl-C"):
            break
        name, _, value = line.strip().partition("  ")
        said[name] = value.strip()
    try:
        yield said["address"], said
    finally:
        started.send_signal(signal.SIGINT)
        started.communicate(timeout=20)
        assert started.returncode in (0, 130)


def status(address: str, path: str, code: str) -> int:
    connection = http.client.HTTPConnection(address.removeprefix("http://"), timeout=10)
    connection.request("GET", path, headers={"Authorization": f"Bearer {code}"})
    with connection.getresponse() as answer:
        answer.read()
    connection.close()
    return answer.status


def test_the_command_serves_this_machine_alone_with_the_code_that_was_given(db: Path) -> None:
    with process(db, "--code", "my own code") as (address, said):
        assert address.startswith("http://127.0.0.1:")
        assert said["code to change"] == "my own code"
        assert status(address, f"/{L1}", "my own code") == 200
        assert status(address, f"/{L1}", "another") == 401


def test_without_a_code_one_is_made_and_shown(db: Path) -> None:
    with process(db) as (address, said):
        code = said["code to change"]
        assert re.fullmatch(r"([0-9A-Z]{4}-){3}[0-9A-Z]{4}", code)
        assert status(address, f"/{L1}", code) == 200


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--code", " "], "The access code is empty"),
        (["--host", "256.1.1.1"], "Can't listen at 256.1.1.1"),
        (["--certificate", __file__], "Give --certificate and --key together"),
        (["--certificate", __file__, "--key", __file__], "are no certificate with its key"),
    ],
)
def test_what_cannot_be_served_is_one_line_and_status_2(
    db: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    assert run(["--db", str(db), "serve", "--port", "0", *arguments]) == 2
    out, err = capsys.readouterr()
    assert told in err
    assert err.count("\n") == 1
    assert out == ""


def test_a_registry_that_is_not_there_is_status_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--db", str(tmp_path / "none.db"), "serve"]) == 3
    assert "does not exist" in capsys.readouterr().err


def test_a_port_in_use_is_said_in_words(db: Path) -> None:
    app = create_app(settings_of(db))
    with (
        serving(app, "127.0.0.1", 0) as first,
        pytest.raises(BadInputError, match=r"Can't listen at 127\.0\.0\.1 port \d+: .+"),
        serving(app, "127.0.0.1", first.port),
    ):
        pass


def test_tls_with_a_self_made_certificate_that_is_kept(db: Path) -> None:
    made = self_made(db, ["127.0.0.1", "localhost", "mill.local"])
    assert made.key.stat().st_mode & 0o077 == 0
    assert self_made(db, ["localhost"]) == made
    assert fingerprint(made) == fingerprint(self_made(db, ["mill.local"]))
    app = create_app(settings_of(db, secure=True))
    with serving(app, "127.0.0.1", 0, made) as server:
        threading.Thread(target=server.run, daemon=True).start()
        trusting = ssl.create_default_context(cafile=str(made.file))
        connection = http.client.HTTPSConnection("127.0.0.1", server.port, context=trusting)
        for _ in range(3):
            connection.request("GET", f"/api/conductors/{L1}", headers=BEARER)
            answer = connection.getresponse()
            assert answer.status == 200
            assert format_tag(L1).encode() in answer.read()
            assert answer.headers["Strict-Transport-Security"]
        connection.request("GET", "/sign-in")
        page = connection.getresponse()
        page.read()
        assert "; Secure" in page.headers["Set-Cookie"]
        for _ in range(8):  # the relay says who asks, so that guessing is limited by address
            connection.request("GET", "/", headers={"Authorization": "Bearer guess"})
            connection.getresponse().read()
        connection.request("GET", "/", headers={"Authorization": "Bearer guess"})
        assert connection.getresponse().status == 429
        connection.close()


@pytest.mark.parametrize(
    ("asked", "status", "place"),
    [
        ("GET /{tag} HTTP/1.1\r\nHost: 127.0.0.1:{port}", 307, "https://127.0.0.1:{port}/{tag}"),
        ("HEAD /{tag}?x=1 HTTP/1.1\r\nhost:localhost:{port}", 307,
         "https://localhost:{port}/{tag}?x=1"),
        ("GET /{tag} HTTP/1.1\r\nHost: elsewhere.test", 400, None),
        ("GET /{tag} HTTP/1.1", 400, None),
        ("POST /api/readings HTTP/1.1\r\nHost: 127.0.0.1:{port}", 400, None),
        ("GET http://elsewhere.test/ HTTP/1.1\r\nHost: 127.0.0.1:{port}", 400, None),
        ("GET //elsewhere.test HTTP/1.1\r\nHost: 127.0.0.1:{port}", 307,
         "https://127.0.0.1:{port}//elsewhere.test"),
        ("nonsense", 400, None),
    ],
)  # fmt: skip
def test_a_plain_request_to_the_tls_port_is_led_to_the_same_page(
    db: Path, asked: str, status: int, place: str | None
) -> None:
    app = create_app(settings_of(db, secure=True))
    made = self_made(db, {"127.0.0.1", "localhost"})
    with serving(app, "127.0.0.1", 0, made) as server:
        threading.Thread(target=server.run, daemon=True).start()
        named = {"tag": L1, "port": server.port}
        with socket.create_connection(("127.0.0.1", server.port), timeout=10) as plain:
            plain.sendall((asked.format(**named) + "\r\n\r\n").encode())
            told = b"".join(iter(lambda: plain.recv(4096), b"")).decode()
    assert told.startswith(f"HTTP/1.1 {status} ")
    wanted = place and f"Location: {place.format(**named)}\r\n"
    assert (wanted in told) if wanted else ("Location" not in told)


def test_connections_are_taken_again_once_the_system_has_files_to_spare(
    db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    really, refused = Relay._next, iter([errno.EMFILE, errno.ECONNABORTED])

    def scarce(relay: Relay) -> tuple[socket.socket, tuple[Any, ...]]:
        for number in refused:
            raise OSError(number, os.strerror(number))
        return really(relay)

    monkeypatch.setattr(Relay, "_next", scarce)
    app = create_app(settings_of(db, secure=True))
    made = self_made(db, {"127.0.0.1"})
    with serving(app, "127.0.0.1", 0, made) as server:
        threading.Thread(target=server.run, daemon=True).start()
        trusting = ssl.create_default_context(cafile=str(made.file))
        with closing(
            http.client.HTTPSConnection("127.0.0.1", server.port, timeout=10, context=trusting)
        ) as connection:
            connection.request("GET", f"/{L1}", headers=BEARER)
            assert connection.getresponse().status == 200
    assert next(refused, None) is None


def test_a_certificate_is_made_anew_when_it_lacks_a_name_or_is_damaged(db: Path) -> None:
    first = fingerprint(self_made(db, ["localhost"]))
    second = self_made(db, ["localhost", "mill.local"])
    assert fingerprint(second) != first
    second.file.write_text("no certificate", "utf-8")
    third = self_made(db, ["localhost"])
    third.context()
    with pytest.raises(BadInputError, match="are no certificate with its key"):
        Certificate(third.key, third.file).context()


def test_the_labels_lead_here_when_the_user_agrees(db: Path) -> None:
    with process(db, "--code", "c", "--labels-lead-here") as (address, _), open_registry(db) as r:
        wait_for(lambda: r.rows("SELECT base_address FROM site")[0]["base_address"] is not None)
        assert r.rows("SELECT base_address FROM site") == [{"base_address": address.upper()}]


def wait_for(true: Any) -> None:
    for _ in range(100):
        if true():
            return
        threading.Event().wait(0.05)


def test_the_name_is_announced_and_resolves_to_this_machine() -> None:
    zeroconf = pytest.importorskip("zeroconf")
    addresses = [a for a in own_addresses() if ipaddress.ip_address(a).is_private]
    if not addresses:
        pytest.skip("this machine is in no local network")
    with announced("wiretrack-test.local", 8080, addresses[:1]):
        asking = zeroconf.Zeroconf(interfaces=addresses[:1])
        try:
            found = asking.get_service_info("_http._tcp.local.", "wiretrack-test._http._tcp.local.")
        finally:
            asking.close()
    if found is None:
        pytest.skip("multicast doesn't come back on this machine")
    assert (found.server, found.port) == ("wiretrack-test.local.", 8080)
    assert found.parsed_addresses() == addresses[:1]
