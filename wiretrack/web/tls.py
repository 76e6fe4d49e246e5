# SPDX-License-Identifier: MIT
"""TLS in front of the app: the user's certificate or a self-made one, and a relay that ends it."""

from __future__ import annotations

import ipaddress
import os
import re
import select
import socket
import ssl
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from threading import BoundedSemaphore, Thread
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.web.crew import MOMENT_S

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from pathlib import Path

    from cryptography import x509

    from wiretrack.web.crew import Place

LASTS = timedelta(days=397)  # longer ones are refused by some browsers
IDLE_S = 60.0
MOST = 200
CHUNK, LONGEST_HEAD = 64 * 1024, 8 * 1024


@dataclass(frozen=True)
class Certificate:
    """The files of a certificate and of its private key."""

    file: Path
    key: Path

    def context(self) -> ssl.SSLContext:
        """Return what a TLS server needs.

        Raises
        ------
        BadInputError
            If the files aren't a certificate and its key.
        """
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        try:
            context.load_cert_chain(self.file, self.key)
        except (OSError, ssl.SSLError) as error:
            why = getattr(error, "strerror", None) or str(error)
            raise BadInputError(
                f"{self.file} and {self.key} are no certificate with its key: {why}.",
                Hint("Give PEM files with {certificate} and {key}."),
            ) from error
        return context


def self_made(beside: Path, hosts: Iterable[str]) -> Certificate:
    """Return a self-made certificate for `hosts`, kept beside the registry while it is good."""
    wanted = sorted(host.strip("[]") for host in hosts)
    made = Certificate(
        beside.with_name(f"{beside.name}.certificate.pem"), beside.with_name(f"{beside.name}.key")
    )
    if not _is_good(made, wanted):
        _make(made, wanted)
    return made


def fingerprint(certificate: Certificate) -> str:
    """Return the SHA-256 fingerprint of a certificate, as browsers show it."""
    from cryptography import x509
    from cryptography.hazmat.primitives.hashes import SHA256

    found = x509.load_pem_x509_certificate(certificate.file.read_bytes())
    return found.fingerprint(SHA256()).hex(":").upper()


def _is_good(made: Certificate, hosts: list[str]) -> bool:
    from cryptography import x509

    if not (made.file.is_file() and made.key.is_file()):
        return False
    try:
        found = x509.load_pem_x509_certificate(made.file.read_bytes())
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except ValueError:
        return False
    known = {str(name.value) for name in names}
    return set(hosts) <= known and found.not_valid_after_utc > datetime.now(UTC)


def _make(made: Certificate, hosts: list[str]) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "wiretrack")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_name(host) for host in hosts]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    with suppress(FileNotFoundError):
        made.key.unlink()
    with os.fdopen(os.open(made.key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(private)
    made.file.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))


def _name(host: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


class Relay:
    """Ends TLS and hands the plain bytes to the app's own server on loopback."""

    def __init__(
        self,
        outer: socket.socket,
        inner_port: int,
        context: ssl.SSLContext,
        place: Place,
        hosts: Collection[str] = (),
    ) -> None:
        self._outer, self._inner_port, self._place = outer, inner_port, place
        self._context, self._hosts = context, hosts
        self._clients: dict[int, str] = {}
        self._held: set[socket.socket] = set()
        self._room = BoundedSemaphore(MOST)
        self._stopped = False

    def client_of(self, port: int) -> str | None:
        """Return the address behind the loopback connection that comes from `port`."""
        return self._clients.get(port)

    def start(self) -> None:
        """Begin to take connections."""
        self._outer.setblocking(False)
        Thread(target=self._accept, daemon=True).start()

    def stop(self) -> None:
        """Take no more connections."""
        self._stopped = True
        with suppress(OSError):
            self._outer.shutdown(socket.SHUT_RDWR)
        self._outer.close()

    def _accept(self) -> None:
        while not self._stopped:
            try:
                client, address = self._next()
            except BlockingIOError:
                continue  # another process took it
            except (OSError, ValueError):  # stopped, or the system has no more files to spare
                time.sleep(MOMENT_S)
                continue
            if self._room.acquire(blocking=False):
                self._held.add(client)
                self._place.tell(len(self._held))
                Thread(target=self._serve, args=(client, str(address[0])), daemon=True).start()
            else:
                client.close()

    def _next(self) -> tuple[socket.socket, tuple[Any, ...]]:
        """Return the next connection that isn't left to other processes."""
        select.select([self._outer], [], [])
        while self._place.leaves():
            select.select([self._outer], [], [])
        client, address = self._outer.accept()
        client.setblocking(True)
        _send_at_once(client)
        return client, address

    def _serve(self, client: socket.socket, address: str) -> None:
        try:
            client.settimeout(IDLE_S)
            if not _begins_tls(client):
                with suppress(OSError):
                    client.sendall(led_to_tls(client.recv(LONGEST_HEAD), self._hosts))
                return
            with (
                suppress(OSError),
                self._context.wrap_socket(client, server_side=True) as secure,
                socket.create_connection(("127.0.0.1", self._inner_port)) as inner,
            ):
                _send_at_once(inner)
                port = inner.getsockname()[1]
                self._clients[port] = address
                try:
                    _join(secure, inner)
                finally:
                    del self._clients[port]
        finally:
            client.close()
            self._held.discard(client)
            self._place.tell(len(self._held))
            self._room.release()


def _send_at_once(connection: socket.socket) -> None:
    """Let no answer wait until the other side acknowledges what came before it (RFC 896)."""
    with suppress(OSError):
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def _begins_tls(client: socket.socket) -> bool:
    """Return whether a connection begins as TLS does, with a handshake record (RFC 8446, 5.1)."""
    with suppress(OSError):
        return client.recv(1, socket.MSG_PEEK) == b"\x16"
    return True


def led_to_tls(head: bytes, hosts: Collection[str]) -> bytes:
    """Return the answer to a plain request: go to the same page by TLS, if it asks for a host here.

    Labels carry plain addresses; so they lead to the right page here too.
    """
    asked = _PLAIN.match(head)
    host = _HOST.search(head)
    if asked is None or host is None or _bare(host[1]).decode("ascii", "replace") not in hosts:
        return _NOT_HERE
    return _GO_TO % (host[1], asked[1])


_PLAIN = re.compile(rb"(?:GET|HEAD) (/[!-~]*) HTTP/1\.[01]\r\n")
_HOST = re.compile(rb"\r\n[Hh][Oo][Ss][Tt]:[ \t]*([A-Za-z0-9.:\[\]-]+)[ \t]*\r\n")
_NOT_HERE = b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
_GO_TO = (
    b"HTTP/1.1 307 Temporary Redirect\r\nLocation: https://%s%s\r\nContent-Length: 0\r\n"
    b"Cache-Control: no-store\r\nConnection: close\r\n\r\n"
)


def _bare(host: bytes) -> bytes:
    name, _, port = host.rpartition(b":")
    return (name if name and port.isdigit() else host).lower()


def _join(secure: ssl.SSLSocket, inner: socket.socket) -> None:
    """Hand requests in and answers out until one side ends."""
    inner.settimeout(IDLE_S)
    back = Thread(target=_copy, args=(inner, secure), daemon=True)
    back.start()
    _copy(secure, inner)
    with suppress(OSError):
        inner.shutdown(socket.SHUT_WR)
    back.join(IDLE_S)


def _copy(source: socket.socket, target: socket.socket) -> None:
    with suppress(OSError):
        while data := source.recv(CHUNK):
            target.sendall(data)
    with suppress(OSError):
        target.shutdown(socket.SHUT_WR)
