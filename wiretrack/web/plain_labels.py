# SPDX-License-Identifier: MIT
"""Where plain requests are led on to TLS: the labels' addresses are plain."""

from __future__ import annotations

import socket
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint
from wiretrack.web.guards import bare_host

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

PATIENCE_S = 5


@contextmanager
def leading_on(host: str, port: int, tls_port: int, hosts: Collection[str]) -> Iterator[None]:
    """Lead requests to `port` on to the same page at `tls_port`, while the block runs.

    Raises
    ------
    BadInputError
        If the address can't be listened at.
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
