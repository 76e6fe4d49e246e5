# SPDX-License-Identifier: MIT
"""Serving the app with waitress: plainly, or behind TLS, until somebody stops it."""

from __future__ import annotations

import gc
import logging
import socket
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.web.crew import places
from wiretrack.web.keeping_alive import helped

if TYPE_CHECKING:
    import ssl
    from collections.abc import Iterator

    from flask import Flask

    from wiretrack.web.crew import Place
    from wiretrack.web.tls import Certificate

BACKLOG = 256
IDLE_S = 60
LAST_ANSWERS_S = 2
LONGEST_HEADERS = 16 * 1024


@dataclass(frozen=True)
class Serving:
    """A server that listens already; `run` blocks until it is stopped."""

    app: Flask
    port: int
    server: Any
    stopped: Event = field(default_factory=Event)

    def run(self) -> None:
        """Answer requests until interrupted, or until the block that gave this server ends."""
        try:
            self.server.run()
        except OSError:
            if not self.stopped.is_set():
                raise

    def stop(self) -> None:
        """Stop answering, and close what was open.

        Waitress closes the socket it listens at; connections that clients keep alive are ours.
        """
        self.stopped.set()
        self.server.close()
        self.server.task_dispatcher.shutdown(timeout=LAST_ANSWERS_S)
        for channel in list(self.server.active_channels.values()):
            channel.handle_close()
        self.app.extensions["registries"].close()


@contextmanager
def serving(
    app: Flask, host: str, port: int, certificate: Certificate | None = None, processes: int = 1
) -> Iterator[Serving]:
    """Give a server for `app` that listens at `host` and `port` (0: any that is free).

    With several processes (the app's settings say so too) the others answer from now on, at the
    same socket; another takes the place of one that dies.

    Raises
    ------
    BadInputError
        If the address can't be listened at.
    """
    context = certificate.context() if certificate else None
    _prepare(app)
    with _listening(host, port) as outer:
        at = places(processes)

        def help_out(number: int) -> None:
            with _answering(app, outer, context, at[number]) as server:
                server.run()

        with helped(processes, help_out), _answering(app, outer, context, at[0]) as server:
            yield server


@contextmanager
def _answering(
    app: Flask, outer: socket.socket, context: ssl.SSLContext | None, place: Place
) -> Iterator[Serving]:
    """Give a server at a listening socket, behind a relay of its own where there is TLS."""
    port = int(outer.getsockname()[1])
    if context is None:
        given = Serving(app, port, _waitress(app, outer, place))
        try:
            yield given
        finally:
            given.stop()
        return
    from wiretrack.web.tls import Relay

    with _listening("127.0.0.1", 0) as within:
        inner = _waitress(app, within, places(1)[0], scheme="https")
        given = Serving(app, port, inner)
        relay = Relay(outer, int(inner.effective_port), context, place, app.config["HOSTS"])
        app.extensions["client_of"] = relay.client_of
        relay.start()
        try:
            yield given
        finally:
            relay.stop()
            given.stop()


def _waitress(app: Flask, listening: socket.socket, place: Place, scheme: str = "http") -> Any:
    from wiretrack.web.connections import Server

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a full house is no warning
    return Server(
        app,
        listening,
        place,
        channel_timeout=IDLE_S,
        connection_limit=500,
        max_request_body_size=app.config["MAX_CONTENT_LENGTH"] + 1,
        max_request_header_size=LONGEST_HEADERS,
        url_scheme=scheme,
        ident="",
        clear_untrusted_proxy_headers=True,
    )


def _prepare(app: Flask) -> None:
    """Compile the pages' templates now, so that neither a first reader nor each process has to."""
    for name in app.jinja_env.list_templates(extensions=["html"]):
        app.jinja_env.get_template(name)
    gc.collect()
    gc.set_threshold(20_000, 20, 50)
    gc.freeze()  # what is there now stays: nobody need look through it for what can go


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=BACKLOG)
    except OSError as error:
        why = error.strerror or str(error)
        raise BadInputError(
            f"Can't listen at {host} port {port}: {why}.", Hint("Choose another {host} or {port}.")
        ) from error
