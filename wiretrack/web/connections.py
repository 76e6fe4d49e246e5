# SPDX-License-Identifier: MIT
"""Waitress's server, in one of several processes that listen at the same socket."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from waitress.adjustments import Adjustments
from waitress.server import TcpWSGIServer

from wiretrack.web.workers import Workers

if TYPE_CHECKING:
    import socket

    from flask import Flask

    from wiretrack.web.crew import Place

HEAD_BYTES = 1300  # more than any answer's head, which thus leaves together with its body


class Server(TcpWSGIServer):
    """A server that leaves new connections for a moment to processes that have fewer.

    Its loop asks time and again whether it is `readable`; then it tells how many it has.
    """

    def __init__(self, app: Flask, outer: socket.socket, place: Place, **settings: Any) -> None:
        self._place = place
        adjustments = Adjustments(sockets=[outer], **settings)
        adjustments.send_bytes = HEAD_BYTES
        super().__init__(
            app,
            {},
            _sock=outer,
            dispatcher=Workers(app.extensions["registries"].forget),
            adj=adjustments,
            sockinfo=(outer.family, outer.type, outer.proto, outer.getsockname()),
            bind_socket=False,
        )

    def readable(self) -> bool:
        """Return whether new connections are welcome."""
        self._place.tell(len(self.active_channels))  # type: ignore[arg-type]  # it is a dict
        return bool(super().readable())

    def handle_accept(self) -> None:
        """Take a new connection, or leave it to the others for now; the loop asks again."""
        if not self._place.leaves():
            super().handle_accept()
