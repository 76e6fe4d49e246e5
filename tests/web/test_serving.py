# SPDX-License-Identifier: MIT
"""``wiretrack serve`` as a process: it says where it is and with which code, and is found."""

from __future__ import annotations

import http.client
import ipaddress
import re
import socket
import ssl
import threading
import time
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from cryptography import x509

from tests.pump import L1
from tests.web.browsing import process
from tests.web.conftest import BEARER, CODE, settings_of
from wiretrack.cli.group import run
from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry
from wiretrack.web.network import Certificate, announced, fingerprint, own_addresses, self_made
from wiretrack.web.server import server_for

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


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


def test_a_code_may_lie_in_a_file(db: Path, tmp_path: Path) -> None:
    (tmp_path / "code").write_text("from a file\n", "utf-8")
    with process(db, "--code", f"@{tmp_path / 'code'}") as (address, _):
        assert status(address, f"/{L1}", "from a file") == 200
        assert status(address, f"/{L1}", "neither") == 401


@pytest.mark.parametrize("role", ["", "LOG_", "READ_"])
def test_a_code_may_lie_in_the_environment(
    db: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, role: str
) -> None:
    monkeypatch.setenv(f"WIRETRACK_{role}CODE", "abc")
    assert run(["--db", str(db), "serve", "--port", "0"]) == 2
    option = f"--{role}code".lower().replace("_", "-")
    assert f"The code of {option} has 3 characters" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--code", " "], "The code of --code is empty; at least 4"),
        (["--code", "abc"], "The code of --code has 3 characters; at least 4"),
        (["--code", "same", "--read-code", "same"], "name one code twice"),
        (["--code", "@/nowhere/code"], "/nowhere/code: No such file"),
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
    with process(db, "--code", "code") as (address, _):
        port = int(address.rpartition(":")[2])
        with pytest.raises(BadInputError, match=r"Can't listen at 127\.0\.0\.1 port \d+: .+"):
            server_for(settings_of(db), "127.0.0.1", port)


@contextmanager
def encrypted(db: Path) -> Iterator[tuple[int, int, ssl.SSLContext]]:
    """Serve by TLS; give the port of the pages, that of plain labels, and whom to trust."""
    with process(db, "--code", CODE, "--tls", "--labels-lead-here") as (address, _):
        with open_registry(db) as registry:

            def lead() -> str | None:
                found = registry.rows("SELECT base_address FROM site")[0]["base_address"]
                return str(found) if found else None

            wait_for(lead)
            labels = lead()
        assert labels is not None
        trusting = ssl.create_default_context(cafile=f"{db}.certificate.pem")
        yield int(address.rpartition(":")[2]), int(labels.rpartition(":")[2]), trusting


def test_tls_with_a_self_made_certificate_that_is_kept(db: Path) -> None:
    made = self_made(db, ["127.0.0.1", "localhost", "[::1]", "mill.local"])
    assert made.key.stat().st_mode & 0o077 == 0
    before = fingerprint(made)
    assert self_made(db, ["mill.local", "[::1]", "localhost", "127.0.0.1"]) == made
    assert fingerprint(made) == before
    with encrypted(db) as (port, _, trusting):
        connection = http.client.HTTPSConnection("127.0.0.1", port, context=trusting)
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
        statuses = []
        for _ in range(9):  # guessing is limited by the address that asks
            connection.request("GET", "/", headers={"Authorization": "Bearer guess"})
            statuses.append(connection.getresponse())
            statuses[-1].read()
        assert statuses[-1].status == 429
        connection.close()


def test_a_plain_request_to_the_labels_port_is_led_to_the_same_page(db: Path) -> None:
    cases = [
        ("GET /{tag} HTTP/1.1\r\nHost: 127.0.0.1:{plain}", 307, "https://127.0.0.1:{port}/{tag}"),
        ("HEAD /{tag}?x=1 HTTP/1.1\r\nhost:localhost:{plain}", 307,
         "https://localhost:{port}/{tag}?x=1"),
        ("GET /{tag} HTTP/1.1\r\nHost: elsewhere.test", 400, None),
        ("GET /{tag} HTTP/1.1", 400, None),
        ("POST /api/readings HTTP/1.1\r\nHost: 127.0.0.1:{plain}", 501, None),
        ("GET http://elsewhere.test/ HTTP/1.1\r\nHost: 127.0.0.1:{plain}", 400, None),
        ("nonsense", 400, None),
    ]  # fmt: skip
    with encrypted(db) as (port, plain, _):
        named = {"tag": L1, "port": port, "plain": plain}
        for asked, status, place in cases:
            with socket.create_connection(("127.0.0.1", plain), timeout=10) as connection:
                connection.sendall((asked.format(**named) + "\r\n\r\n").encode())
                connection.shutdown(socket.SHUT_WR)
                told = b"".join(iter(lambda: connection.recv(4096), b"")).decode()
            assert f" {status} " in told.split("\r\n")[0] or f"Error code: {status}" in told
            wanted = place and f"Location: {place.format(**named)}\r\n"
            assert (wanted in told) if wanted else ("Location" not in told)


def test_clients_that_send_half_a_request_and_wait_hold_up_nobody(db: Path) -> None:
    halves = (
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1",
        b"POST /api/readings HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n"
        b"Content-Type: application/json\r\nAuthorization: Bearer " + CODE.encode() + b"\r\n\r\n{",
    )
    with process(db, "--code", CODE) as (address, _), ExitStack() as stack:
        at = ("127.0.0.1", int(address.rpartition(":")[2]))
        for number in range(30):
            slow = stack.enter_context(socket.create_connection(at, timeout=10))
            slow.sendall(halves[number % 2])
        began = time.monotonic()
        assert [status(address, f"/{L1}", CODE) for _ in range(10)] == [200] * 10
        assert time.monotonic() - began < 10  # as long as one of them would be waited for


def test_a_self_made_certificate_vouches_for_this_server_alone(db: Path) -> None:
    made = self_made(db, ["127.0.0.1", "mill.local"])
    found = x509.load_pem_x509_certificate(made.file.read_bytes())
    extensions = {type(each.value): each for each in found.extensions}
    constraints = extensions[x509.BasicConstraints]
    assert (constraints.critical, constraints.value.ca) == (True, False)
    usage = extensions[x509.KeyUsage]
    assert (usage.critical, usage.value.digital_signature, usage.value.key_cert_sign) == (
        True, True, False,
    )  # fmt: skip
    assert list(extensions[x509.ExtendedKeyUsage].value) == [
        x509.oid.ExtendedKeyUsageOID.SERVER_AUTH
    ]
    names = extensions[x509.SubjectAlternativeName].value
    assert {str(name.value) for name in names} == {"127.0.0.1", "mill.local"}
    assert found.not_valid_after_utc - found.not_valid_before_utc < timedelta(days=100)
    # Another name, fewer names, or one that could vouch for others: a new one is made.
    first = fingerprint(made)
    assert fingerprint(self_made(db, ["127.0.0.1"])) != first


UNENDED = (
    b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n"
    b"Content-Type: application/x-www-form-urlencoded\r\n\r\ncode="
)


def test_a_thousand_connections_that_say_nothing_stop_nobody(db: Path) -> None:
    with process(db, "--code", CODE) as (address, _), ExitStack() as stack:
        at = ("127.0.0.1", int(address.rpartition(":")[2]))
        for number in range(1000):
            idle = stack.enter_context(socket.create_connection(at, timeout=10))
            if number % 2:
                idle.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1")
        for _ in range(100):  # forms of nobody, which never end
            slow = stack.enter_context(socket.create_connection(at, timeout=10))
            slow.sendall(UNENDED)
        began = time.monotonic()
        assert [status(address, f"/{L1}", CODE) for _ in range(20)] == [200] * 20
        assert time.monotonic() - began < 8


def test_a_certificate_is_made_anew_when_it_lacks_a_name_or_is_damaged(db: Path) -> None:
    first = fingerprint(self_made(db, ["localhost"]))
    second = self_made(db, ["localhost", "mill.local"])
    assert fingerprint(second) != first
    second.file.write_text("no certificate", "utf-8")
    third = self_made(db, ["localhost"])
    third.check()
    with pytest.raises(BadInputError, match="are no certificate with its key"):
        Certificate(third.key, third.file).check()


def test_the_labels_lead_here_when_the_user_agrees(db: Path) -> None:
    with (
        process(db, "--code", "code", "--labels-lead-here") as (address, _),
        open_registry(db) as r,
    ):
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
