# SPDX-License-Identifier: MIT
"""Just enough of the Internet Printing Protocol to ask how a job fares (RFC 8010, RFC 8011)."""

from __future__ import annotations

import http.client
import os
import socket
import struct
from typing import Any

GET_JOB, GET_PRINTER = 0x0009, 0x000B  # RFC 8011, 5.4.15
SCHEDULER_SOCKETS = ("/run/cups/cups.sock", "/var/run/cups/cups.sock")
PORT, TIMEOUT_S, MOST_BYTES = 631, 5.0, 1_000_000
_OPERATION, _END, _FIRST_VALUE = 0x01, 0x03, 0x10  # delimiter tags, RFC 8010, 3.5.1
_INTEGER, _ENUM = 0x21, 0x23
_NAME, _KEYWORD, _URI, _CHARSET, _LANGUAGE = 0x42, 0x44, 0x45, 0x47, 0x48
Attributes = dict[str, list[Any]]


def ask(operation: int, printer: str, *more: tuple[int, str, Any]) -> Attributes:
    """Return the attributes with which the local spooler answers, empty where it doesn't.

    >>> ask(GET_PRINTER, "a/b")
    {}
    """
    if "/" in printer:
        return {}
    try:
        return read_attributes(_posted(_request(operation, printer, more)))
    except (OSError, http.client.HTTPException, ValueError, struct.error):
        return {}


def job(printer: str, number: int) -> Attributes:
    """Return what the spooler knows of a job."""
    return ask(GET_JOB, printer, (_INTEGER, "job-id", number))


def printer_state(printer: str) -> Attributes:
    """Return what the spooler knows of a printer."""
    return ask(GET_PRINTER, printer)


def read_attributes(answer: bytes) -> Attributes:
    """Return the attributes of an answer by name; of values only numbers and texts.

    Raises
    ------
    ValueError, struct.error
        If it isn't an answer.
    """
    found: Attributes = {}
    at, name = 8, ""
    while answer[at] != _END:
        tag = answer[at]
        at += 1
        if tag < _FIRST_VALUE:
            continue
        told, at = _field(answer, at)
        value, at = _field(answer, at)
        name = told.decode() or name
        number = tag in (_INTEGER, _ENUM)
        read = struct.unpack(">i", value)[0] if number else value.decode("utf-8", "replace")
        found.setdefault(name, []).append(read)
    return found


def _field(answer: bytes, at: int) -> tuple[bytes, int]:
    (length,) = struct.unpack_from(">H", answer, at)
    end = at + 2 + length
    if end >= len(answer):
        raise ValueError("the answer ends too early")
    return answer[at + 2 : end], end


def _request(operation: int, printer: str, more: tuple[tuple[int, str, Any], ...]) -> bytes:
    told = (
        (_CHARSET, "attributes-charset", "utf-8"),
        (_LANGUAGE, "attributes-natural-language", "en"),
        (_URI, "printer-uri", f"ipp://localhost/printers/{printer}"),
        *more,
        (_NAME, "requesting-user-name", os.environ.get("USER", "wiretrack")),
    )
    parts = [struct.pack(">BBHIB", 2, 0, operation, 1, _OPERATION)]
    for tag, name, value in told:
        packed = struct.pack(">i", value) if isinstance(value, int) else str(value).encode()
        head = struct.pack(">BH", tag, len(name)) + name.encode()
        parts.append(head + struct.pack(">H", len(packed)) + packed)
    return b"".join(parts) + bytes([_END])


def _posted(body: bytes) -> bytes:
    connection = _connection()
    try:
        connection.request("POST", "/", body, {"Content-Type": "application/ipp"})
        return connection.getresponse().read(MOST_BYTES)
    finally:
        connection.close()


def _connection() -> http.client.HTTPConnection:
    """Return a connection to the spooler that ``lp`` speaks to: ``CUPS_SERVER``, or the local."""
    server = os.environ.get("CUPS_SERVER", "")
    sockets = (server,) if server.startswith("/") else () if server else SCHEDULER_SOCKETS
    for path in sockets:
        if os.path.exists(path):
            return _SocketConnection(path)
    host, _, port = server.partition("/")[0].partition(":")
    return http.client.HTTPConnection(host or "localhost", int(port or PORT), timeout=TIMEOUT_S)


class _SocketConnection(http.client.HTTPConnection):
    """HTTP through a socket in the file system."""

    def __init__(self, path: str) -> None:
        super().__init__("localhost", timeout=TIMEOUT_S)
        self._path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.sock.settimeout(TIMEOUT_S)
        self.sock.connect(self._path)
