# SPDX-License-Identifier: MIT
"""Who may do what: codes and sessions; and what every request and answer must keep to."""

from __future__ import annotations

import hmac
import secrets
import time
from dataclasses import field
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from flask import (
    abort,
    current_app,
    g,
    request,
    session,
)

from wiretrack.late import dataclass
from wiretrack.model.tags import drawn, normalise
from wiretrack.store.sessions import has_ended
from wiretrack.web.limits import Bodies, WrongCodes, network_of
from wiretrack.web.registries import for_reading

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from flask import Response

Role = Literal["read", "log", "change"]
ROLES: tuple[Role, ...] = ("read", "log", "change")  # each may do what those before it may
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})
MADE_LENGTH, GROUP = 16, 4  # 16 signs of 32 are 80 bits


@dataclass(frozen=True)
class Code:
    """An access code and what it opens.

    A made one is random and too long to be guessed; a chosen one may be tried only a few times
    a minute.
    """

    text: str
    role: Role = "change"
    made: bool = False


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What `create_app` needs to know."""

    db: Path
    codes: tuple[Code, ...]
    hosts: frozenset[str] = LOOPBACK
    open_records: bool = False
    secure: bool = False
    longest_body: int = 64 * 1024
    processes: int = 1
    lock_file: Path | None = None  # by which several processes write one after the other
    clock: Callable[[], float] = field(default=time.monotonic)


def make_code() -> Code:
    """Return a new random access code of 80 bits, in groups that can be read aloud."""
    signs = drawn(MADE_LENGTH)
    groups = [signs[at : at + GROUP] for at in range(0, MADE_LENGTH, GROUP)]
    return Code("-".join(groups), made=True)


View = TypeVar("View", bound="Callable[..., Any]")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
BEARER = "bearer "
TOO_MANY = 429


@dataclass(frozen=True)
class Visitor:
    """Who asks: the role, and the name for the history; `bearer` sent the code itself."""

    role: Role
    name: str | None
    bearer: bool = False

    def may(self, role: Role) -> bool:
        """Return whether the visitor may do what `role` may."""
        return ROLES.index(self.role) >= ROLES.index(role)


class Access:
    """The access codes of one app, and how often they were tried."""

    def __init__(self, settings: Settings, key: str) -> None:
        self._codes = [(code, _digest(key, _plain(code, code.text))) for code in settings.codes]
        self._key, self._wrong = key, WrongCodes(settings.clock, settings.processes)
        self.bodies = Bodies()
        self._guessable = any(not code.made for code in settings.codes)

    def check(self, typed: str, address: str) -> tuple[Role, str] | None:
        """Return the role that a typed code gives and the mark for the session, or `None`.

        Ends the request with 429 if this address tried too often. Made codes
        can't be guessed, so where there are no others nobody is kept waiting.
        """
        wait_s = self._wrong.wait_s(address) if self._guessable else 0.0
        if wait_s:
            abort(TOO_MANY, description=f"{wait_s:.0f}")
        if self._guessable:
            self._wrong.delay()
        found = None
        for code, digest in self._codes:
            if hmac.compare_digest(_digest(self._key, _plain(code, typed)), digest):
                found = (code.role, digest)
        if found is None and self._guessable:
            self._wrong.note_wrong(address)
        return found

    def role_of(self, mark: object) -> Role | None:
        """Return the role of a session that was opened with a code still in use."""
        if not isinstance(mark, str) or not mark.isascii():
            return None
        found = [c.role for c, digest in self._codes if hmac.compare_digest(mark, digest)]
        return found[0] if found else None


def public(view: View) -> View:
    """Mark a view as open to everybody: it shows nothing of the registry."""
    view.is_public = True  # type: ignore[attr-defined]
    return view


def needs(role: Role) -> Callable[[View], View]:
    """Mark a view as one that only `role` and above may use."""

    def mark(view: View) -> View:
        view.needs = role  # type: ignore[attr-defined]
        return view

    return mark


def takes(longest_body: int) -> Callable[[View], View]:
    """Mark a view as one that takes a longer body than others."""

    def mark(view: View) -> View:
        view.longest_body = longest_body  # type: ignore[attr-defined]
        return view

    return mark


def identify() -> None:
    """Find out who asks, and end the request with 401 or 403 if that one may not."""
    view = current_app.view_functions.get(request.endpoint or "")
    g.visitor = None
    if getattr(view, "is_public", False):
        return
    g.visitor = _visitor()
    wanted: Role = getattr(view, "needs", "read" if request.method in SAFE_METHODS else "log")
    if g.visitor is None:
        if wanted == "read" and current_app.config["OPEN_RECORDS"]:
            return
        abort(401)
    if not g.visitor.may(wanted):
        abort(403, description=f"This access code may not {_DOES[wanted]}.")


_DOES = {"read": "read", "log": "log readings", "change": "change records"}


def refuse_forgery() -> None:
    """End a writing request with 403 unless it comes from a page of ours, or carries the code.

    Under our own no-referrer policy browsers call the origin of a form "null" (Fetch standard,
    "append a request Origin header"); then the token alone decides.
    """
    if request.method in SAFE_METHODS or (g.visitor and g.visitor.bearer):
        return
    own = f"{request.scheme}://{request.host}".lower()
    origin = request.headers.get("Origin")
    site = request.headers.get("Sec-Fetch-Site")
    sent = request.headers.get("X-Form-Token") or request.form.get("form_token", "")
    right = str(session.get("token", ""))
    foreign = (origin or "null").lower() not in ("null", own) or site in ("cross-site", "same-site")
    if foreign or not right or not hmac.compare_digest(sent.encode(), right.encode()):
        abort(403, description="This form is too old or not one of ours. Load the page again.")


def take_turn() -> None:
    """End a form of somebody who hasn't signed in with 503 while too many of them are read."""
    view = current_app.view_functions.get(request.endpoint or "")
    if request.method in SAFE_METHODS or not getattr(view, "is_public", False):
        return
    turn = network_of(address())
    if not access().bodies.enter(turn):
        abort(503, description="Too many sign in at once. Try again in a moment.")
    g.turn = turn


def end_turn(_: BaseException | None) -> None:
    """Let the next form be read."""
    if "turn" in g:
        access().bodies.leave(g.pop("turn"))


def form_token() -> str:
    """Return the token that this session's forms carry; who sends the code itself needs none."""
    if g.get("visitor") and g.visitor.bearer:
        return ""
    if "token" not in session:
        session["token"] = secrets.token_urlsafe(24)
    return str(session["token"])


def access() -> Access:
    """Return the codes of the app at hand."""
    found: Access = current_app.extensions["access"]
    return found


def address() -> str:
    """Return the address that asks."""
    return request.remote_addr or "unknown"


def who() -> str | None:
    """Return the visitor's name for the history."""
    visitor: Visitor | None = g.visitor
    return visitor.name if visitor else None


def person() -> str | None:
    """Return the name of whoever signed in, empty if there's none; None without a session."""
    visitor: Visitor | None = g.get("visitor")
    return (visitor.name or "") if visitor and not visitor.bearer else None


def _visitor() -> Visitor | None:
    header = request.headers.get("Authorization")
    if header is not None:
        if header[: len(BEARER)].lower() != BEARER:
            abort(401)
        found = access().check(header[len(BEARER) :].strip(), address())
        if found is None:
            abort(401)
        return Visitor(found[0], None, bearer=True)
    role = access().role_of(session.get("code"))
    if role is None:
        return None
    with for_reading() as registry:
        ended = has_ended(registry, str(session.get("id", "")))
    return None if ended else Visitor(role, session.get("name") or None)


def _plain(code: Code, text: str) -> str:
    """Return a code as it is compared; a made one is read as generously as a tag."""
    if not code.made:
        return text
    return normalise(text).replace("O", "0").replace("I", "1").replace("L", "1")


def _digest(key: str, text: str) -> str:
    return hmac.digest(key.encode(), text.encode("utf-8", "replace"), "sha256").hex()


POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
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
PIECE_BYTES = 64 * 1024  # of a form with files, that werkzeug reads at once and may hold twice


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
    view = current_app.view_functions.get(request.endpoint or "")
    longest = getattr(view, "longest_body", current_app.config["MAX_CONTENT_LENGTH"])
    request.max_content_length = longest
    if longest > current_app.config["MAX_CONTENT_LENGTH"]:
        request.max_form_memory_size = 8 * PIECE_BYTES
    if request.content_length is not None and request.content_length > longest:
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
