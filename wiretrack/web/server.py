# SPDX-License-Identifier: MIT
"""Serving the app with waitress: plainly, or behind TLS, until somebody stops it."""

from __future__ import annotations

import socket
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask

    from wiretrack.web.tls import Certificate

THREADS = 12
BACKLOG = 256
IDLE_S = 60
LONGEST_HEADERS = 16 * 1024


@dataclass(frozen=True)
class Serving:
    """A server that listens already; `run` blocks until it is stopped."""

    host: str
    port: int
    server: Any

    def run(self) -> None:
        """Answer requests until interrupted."""
        self.server.run()

    def stop(self) -> None:
        """Stop answering."""
        self.server.close()


@contextmanager
def serving(
    app: Flask, host: str, port: int, certificate: Certificate | None = None
) -> Iterator[Serving]:
    """Give a server for `app` that listens at `host` and `port` (0: any that is free).

    Raises
    ------
    BadInputError
        If the address can't be listened at.
    """
    if certificate is None:
        server = _waitress(app, host, port)
        try:
            yield Serving(host, server.effective_port, server)
        finally:
            server.close()
        return
    from wiretrack.web.tls import Relay

    inner = _waitress(app, "127.0.0.1", 0, scheme="https")
    with _listening(host, port) as outer:
        relay = Relay(outer, inner.effective_port, certificate)
        app.extensions["client_of"] = relay.client_of
        relay.start()
        try:
            yield Serving(host, outer.getsockname()[1], inner)
        finally:
            relay.stop()
            inner.close()


def _waitress(app: Flask, host: str, port: int, scheme: str = "http") -> Any:
    from waitress.server import create_server

    try:
        return create_server(
            app,
            host=host,
            port=port,
            threads=THREADS,
            backlog=BACKLOG,
            channel_timeout=IDLE_S,
            connection_limit=500,
            max_request_body_size=app.config["MAX_CONTENT_LENGTH"] + 1,
            max_request_header_size=LONGEST_HEADERS,
            url_scheme=scheme,
            ident="",
            clear_untrusted_proxy_headers=True,
        )
    except (OSError, ValueError) as error:
        raise _unusable(host, port, error) from error


def _listening(host: str, port: int) -> socket.socket:
    try:
        return socket.create_server((host, port), backlog=BACKLOG, reuse_port=False)
    except OSError as error:
        raise _unusable(host, port, error) from error


def _unusable(host: str, port: int, error: Exception) -> BadInputError:
    why = getattr(error, "strerror", None) or str(error)
    return BadInputError(
        f"Can't listen at {host} port {port}: {why}. Choose another --host or --port."
    )
