# SPDX-License-Identifier: MIT
"""What holds for every request and every answer: hosts, sizes, headers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import abort, current_app, request

if TYPE_CHECKING:
    from flask import Response

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
LONGEST_ADDRESS = 2000


def check_host() -> None:
    """End a request that was sent to another host's name with 400."""
    if bare_host(request.host) not in current_app.config["HOSTS"]:
        abort(400, description="This server isn't called so.")


def bare_host(host: str) -> str:
    """Return a host without its port, in lower case.

    >>> bare_host("WIRES.local:8080"), bare_host("[::1]:80")
    ('wires.local', '[::1]')
    """
    name, _, port = host.rpartition(":")
    return (name if name and port.isdigit() else host).lower()


def check_size() -> None:
    """End a request that is longer than any of ours needs to be."""
    if len(request.full_path) > LONGEST_ADDRESS:
        abort(414)
    length = request.content_length
    if length is not None and length > current_app.config["MAX_CONTENT_LENGTH"]:
        abort(413)


def add_headers(response: Response) -> Response:
    """Add what keeps an answer from being framed, sniffed, cached by others or scripted."""
    for name, value in HEADERS.items():
        response.headers.add(name, value)
    if "Cache-Control" not in response.headers:
        response.headers["Cache-Control"] = "no-store"
    if request.is_secure:
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    return response
