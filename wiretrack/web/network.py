# SPDX-License-Identifier: MIT
"""Being reached: this machine's addresses, a name by multicast DNS, TLS and the way on to it."""

from __future__ import annotations

import ipaddress
import os
import re
import socket
import ssl
import threading
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint
from wiretrack.late import dataclass
from wiretrack.web.access import bare_host

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator
    from pathlib import Path

    from cryptography import x509


TYPE = "_http._tcp.local."
LONGEST_NAME = 40


def own_addresses() -> list[str]:
    """Return the IPv4 addresses of this machine in its local networks, loopback left out."""
    import ifaddr

    found = [ip.ip for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4]
    return [a for a in map(str, found) if not ipaddress.ip_address(a).is_loopback]


def host_name(site: str | None) -> str:
    """Return the name to announce for a site, a label of RFC 1123 and ``.local``.

    >>> host_name("Sallowmere Mill"), host_name(None)
    ('sallowmere-mill.local', 'wiretrack.local')
    """
    plain = re.sub(r"[^a-z0-9]+", "-", (site or "").lower()).strip("-")[:LONGEST_NAME].strip("-")
    return f"{plain or 'wiretrack'}.local"


@contextmanager
def announced(name: str, port: int, addresses: list[str]) -> Iterator[None]:
    """Announce ``name`` (``NAME.local``) and its web pages while the block runs (RFC 6762, 6763).

    Raises `OSError` if the network takes no multicast.
    """
    from zeroconf import ServiceInfo, Zeroconf

    label = name.removesuffix(".local")
    info = ServiceInfo(
        TYPE,
        f"{label}.{TYPE}",
        port=port,
        addresses=[socket.inet_aton(address) for address in addresses],
        properties={"path": "/"},
        server=f"{name}.",
    )
    zeroconf = Zeroconf(interfaces=addresses)
    try:
        zeroconf.register_service(info, allow_name_change=True)
        yield
    finally:
        zeroconf.unregister_all_services()
        zeroconf.close()


LASTS, RENEWED = timedelta(days=90), timedelta(days=7)  # how long; how long ahead of its end


@dataclass(frozen=True)
class Certificate:
    """The files of a certificate and of its private key."""

    file: Path
    key: Path

    def check(self) -> None:
        """Refuse files that a TLS server can't use.

        Raises `BadInputError` if the files aren't a certificate and its key.
        """
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        try:
            context.load_cert_chain(self.file, self.key)
        except (OSError, ssl.SSLError) as error:
            why = getattr(error, "strerror", None) or str(error)
            raise BadInputError(
                f"{self.file} and {self.key} are no certificate with its key: {why}.",
                Hint("Give PEM files with {certificate} and {key}."),
            ) from error


def self_made(registry: Path, hosts: Iterable[str]) -> Certificate:
    """Return a self-made certificate for `hosts`, kept with the registry while it is good."""
    wanted = sorted(host.strip("[]") for host in hosts)
    files = (registry.with_name(f"{registry.name}.{end}") for end in ("certificate.pem", "key"))
    made = Certificate(*files)
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
        vouching = found.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    except (ValueError, x509.ExtensionNotFound):
        return False
    if vouching or {str(name.value) for name in names} != set(hosts):
        return False
    return found.not_valid_after_utc > datetime.now(UTC) + RENEWED


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
        # It vouches for this server and for nothing else (RFC 5280, 4.2.1.9, 4.2.1.3, 4.2.1.12).
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(), critical=True)
        .add_extension(
            x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=True
        )
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


def _usage() -> x509.KeyUsage:
    """Return that the key may sign what a handshake needs, and nothing else."""
    from cryptography import x509

    others = (
        "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
        "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
    )  # fmt: skip
    return x509.KeyUsage(digital_signature=True, **dict.fromkeys(others, False))


def _name(host: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


PATIENCE_S = 5


@contextmanager
def leading_on(host: str, port: int, tls_port: int, hosts: Collection[str]) -> Iterator[None]:
    """Lead requests to `port` on to the same page at `tls_port`, while the block runs.

    Raises `BadInputError` if the address can't be listened at.
    """

    class LeadOn(BaseHTTPRequestHandler):
        """Answers every request with the way to the same page, if it asks for a host here."""

        timeout = PATIENCE_S
        server_version = sys_version = ""

        def do_GET(self) -> None:
            """Lead on to the same page by TLS."""
            asked = self.headers.get("Host", "")
            name = bare_host(asked)
            if name not in hosts or not self.path.startswith("/"):
                self.send_error(400)
                return
            self.send_response(307)
            self.send_header("Location", f"https://{name}:{tls_port}{self.path}")
            self.send_header("Cache-Control", "no-store")
            self.send_header("Content-Length", "0")
            self.end_headers()

        do_HEAD = do_GET  # noqa: N815

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    class Listener(ThreadingHTTPServer):
        """Answers each connection in a thread that ends with this process."""

        daemon_threads = True
        address_family = socket.AF_INET6 if ":" in host else socket.AF_INET

    try:
        listener = Listener((host, port), LeadOn)
    except OSError as error:
        raise BadInputError(
            f"Can't listen at {host} port {port}: {error.strerror}.",
            Hint("Choose another {host} or {port}."),
        ) from error
    threading.Thread(target=listener.serve_forever, daemon=True).start()
    try:
        yield
    finally:
        listener.shutdown()
        listener.server_close()
