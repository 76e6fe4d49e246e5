# SPDX-License-Identifier: MIT
"""Serving the app with Granian: its processes, its TLS, until somebody stops it."""

from __future__ import annotations

import gc
import logging
import os
import socket
import tempfile
import threading
import time
from contextlib import ExitStack, closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from granian.constants import Interfaces
from granian.http import HTTP1Settings
from granian.server import MPServer

from wiretrack.errors import BadInputError, Hint, WiretrackError
from wiretrack.late import dataclass
from wiretrack.processes import end_with
from wiretrack.web.app import compile_templates, create_app
from wiretrack.web.network import leading_on

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask import Flask

    from wiretrack.web.access import Settings
    from wiretrack.web.network import Certificate

THREADS = 64  # more than one answers only while one waits, for the disk or for a slow client
# Connections that wait to be taken, and open ones: who says nothing within HEADERS_MS is ended.
BACKLOG, CONNECTIONS, LAST_PORT = 4096, 16384, 65535
FILES = 2 * CONNECTIONS
LONGEST_HEADERS = 16 * 1024
HEADERS_MS, LAST_ANSWERS_S = 10_000, 3
_EVERY_S, _STARTS_S = 0.02, 30.0


@dataclass(frozen=True)
class Server:
    """Where pages are served: at `port`; with TLS `plain_port`, the labels', leads on to it."""

    settings: Settings
    host: str
    port: int
    plain_port: int
    certificate: Certificate | None = None

    def run(self, ready: Callable[[], None]) -> None:
        """Serve until interrupted; `ready` is called once the pages answer.

        A process that dies is replaced. When this one ends, however it does, the others end.

        Raises `WiretrackError` if a process died again within seconds of its start: another would
        as well.
        """
        with ExitStack() as stack:
            shared = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="wiretrack-")))
            if self.certificate:
                stack.enter_context(
                    leading_on(self.host, self.plain_port, self.port, self.settings.hosts)
                )
            settings = replace(self.settings, lock_file=shared / "writing")
            _allow_connections()
            threading.Thread(target=self._tell_once_answered, args=(ready,), daemon=True).start()
            try:
                self._granian().serve(
                    target_loader=partial(_app_of_a_process, settings, os.getpid()),
                    wrap_loader=False,
                )
            except SystemExit as ended:
                raise WiretrackError(
                    "The pages have stopped: a process that answers died again within seconds.",
                    "See that there is memory, and start the pages again.",
                ) from ended

    def _granian(self) -> MPServer:
        certificate = self.certificate
        return MPServer(
            "wiretrack",
            self.host,
            self.port,
            interface=Interfaces.WSGI,
            workers=self.settings.processes,
            blocking_threads=THREADS,
            backlog=BACKLOG,
            backpressure=CONNECTIONS,
            http1_settings=HTTP1Settings(
                header_read_timeout=HEADERS_MS, max_buffer_size=LONGEST_HEADERS
            ),
            log_enabled=False,
            ssl_cert=certificate.file if certificate else None,
            ssl_key=certificate.key if certificate else None,
            respawn_failed_workers=True,
            workers_kill_timeout=LAST_ANSWERS_S,
        )

    def _tell_once_answered(self, ready: Callable[[], None]) -> None:
        until = time.monotonic() + _STARTS_S
        at = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(self.host, self.host)
        while time.monotonic() < until:
            with socket.socket(_family(self.host)) as asking:
                asking.settimeout(1)
                if asking.connect_ex((at, self.port)) == 0:
                    ready()
                    return
            time.sleep(_EVERY_S)


def server_for(
    settings: Settings, host: str, port: int, certificate: Certificate | None = None
) -> Server:
    """Return a server that can listen at `host` and `port` (0: any that is free).

    With TLS the pages are at the port after it, and `port` leads plain requests there.

    Raises `BadInputError` if the address can't be listened at, or the certificate can't be used;
    `RegistryError` if the registry can't be used.
    """
    app = create_app(settings)
    compile_templates(app)
    app.extensions["registries"].close()
    found = _free_port(host, port)
    if certificate is None:
        return Server(settings, host, found, found)
    certificate.check()
    after = found + 1 if 0 < port < LAST_PORT else 0
    return Server(settings, host, _free_port(host, after), found, certificate)


def _allow_connections() -> None:
    """Let this process and those that it makes open as many connections as the system allows."""
    try:
        import resource
    except ImportError:  # Windows has no such limit
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
    if soft < most:
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


def _app_of_a_process(settings: Settings, first: int) -> Flask:
    """Return the app, ready to answer; its process ends with the `first` one."""
    app = create_app(settings)
    compile_templates(app)
    gc.collect()
    gc.set_threshold(20_000, 20, 50)
    gc.freeze()  # what is there now stays: nobody need look through it for what can go
    logging.getLogger("granian").setLevel(logging.CRITICAL)
    end_with(first)
    return app


def _free_port(host: str, port: int) -> int:
    """Return `port`, or any that is free for 0, if nobody else listens there."""
    try:
        with closing(socket.socket(_family(host))) as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind((host, port))
            tried.listen(1)
            return int(tried.getsockname()[1])
    except OSError as error:
        why = error.strerror or str(error)
        raise BadInputError(
            f"Can't listen at {host} port {port}: {why}.", Hint("Choose another {host} or {port}.")
        ) from error


def _family(host: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in host else socket.AF_INET
