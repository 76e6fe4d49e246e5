# SPDX-License-Identifier: MIT
"""Who may do what: codes, sign-in, sessions; and what every request and answer must keep to."""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import time
from collections import deque
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from flask import (
    Blueprint,
    abort,
    current_app,
    g,
    make_response,
    redirect,
    render_template,
    request,
    session,
)

from wiretrack.errors import BadInputError
from wiretrack.model.tags import ALPHABET, normalise
from wiretrack.store.sessions import end_session, has_ended
from wiretrack.tasks.free_text import check_text
from wiretrack.web.failures import said
from wiretrack.web.registries import for_reading, for_writing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from flask import Response
    from werkzeug.wrappers import Response as AnyResponse

pages = Blueprint("access", __name__)


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
    signs = "".join(secrets.choice(ALPHABET) for _ in range(MADE_LENGTH))
    groups = [signs[at : at + GROUP] for at in range(0, MADE_LENGTH, GROUP)]
    return Code("-".join(groups), made=True)


WINDOW_S = 60.0
PER_ADDRESS, OVERALL, AMID_ATTACK = 8, 40, 1
DELAY_S, MOST_DELAYED = 1.0, 8
MOST_ADDRESSES = 4096


class WrongCodes:
    """Counts wrong codes of the last minute; each of several processes allows its share of them.

    Many addresses together can't lock anybody out. While they guess, each address has one try a
    minute, which takes a second; whoever knows the code is in at the first one.
    """

    def __init__(self, clock: Callable[[], float], processes: int = 1) -> None:
        self._per_address = max(1, PER_ADDRESS // processes)
        self._together = max(1, OVERALL // processes)
        self._clock, self._lock = clock, Lock()
        self._overall: deque[float] = deque()
        self._by_address: dict[str, deque[float]] = {}
        self._delayed = 0
        self.sleep: Callable[[float], None] = time.sleep

    def wait_s(self, address: str) -> float:
        """Return for how many seconds no code of `address` is looked at; 0 if one may be tried."""
        with self._lock:
            now = self._clock()
            own = self._by_address.get(network_of(address), deque())
            most = AMID_ATTACK if self._attacked(now) else self._per_address
            return max(0.0, own[-most] + WINDOW_S - now) if len(own) >= most else 0.0

    def delay(self) -> None:
        """Let a code take its time while many are guessed; only so many threads wait at once."""
        with self._lock:
            if not self._attacked(self._clock()) or self._delayed >= MOST_DELAYED:
                return
            self._delayed += 1
        try:
            self.sleep(DELAY_S)
        finally:
            with self._lock:
                self._delayed -= 1

    def _attacked(self, now: float) -> bool:
        wrong = self._overall
        return len(wrong) >= self._together and wrong[-self._together] > now - WINDOW_S

    def note_wrong(self, address: str) -> None:
        """Count one wrong code."""
        address = network_of(address)
        with self._lock:
            now = self._clock()
            if len(self._by_address) >= MOST_ADDRESSES:
                self._forget(now)
            for wrong in (self._overall, self._by_address.setdefault(address, deque())):
                wrong.append(now)
                while wrong[0] < now - WINDOW_S:
                    wrong.popleft()

    def _forget(self, now: float) -> None:
        old = [a for a, wrong in self._by_address.items() if wrong[-1] < now - WINDOW_S]
        for address in old or list(self._by_address)[: MOST_ADDRESSES // 2]:
            del self._by_address[address]


def network_of(address: str) -> str:
    """Return what counts as one address: of IPv6 the network, of which one machine has all.

    >>> network_of("10.0.0.7"), network_of("2001:db8:1:2:3:4:5:6")
    ('10.0.0.7', '2001:db8:1:2::/64')
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(ipaddress.ip_network((address, 64), strict=False)) if found.version == 6 else address


View = TypeVar("View", bound="Callable[..., Any]")
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
BEARER = "bearer "
NAME_LENGTH = 80
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


MOST_BODIES, BODIES_PER_ADDRESS = 24, 4


class Bodies:
    """How many who haven't signed in send a form at once: one that never ends holds a thread."""

    def __init__(self) -> None:
        self._lock, self._of = Lock(), dict[str, int]()

    def enter(self, address: str) -> bool:
        """Return whether a form of `address` may be read now; `leave` follows if so."""
        with self._lock:
            own, all_ = self._of.get(address, 0), sum(self._of.values())
            if own >= BODIES_PER_ADDRESS or all_ >= MOST_BODIES:
                return False
            self._of[address] = own + 1
            return True

    def leave(self, address: str) -> None:
        """Say that the form was read."""
        with self._lock:
            self._of[address] -= 1
            if not self._of[address]:
                del self._of[address]


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


@pages.get("/sign-in")
@public
def ask() -> str:
    """Show the sign-in form."""
    return render_template("sign_in.html", wanted=_local(request.args.get("next")), faults={})


@pages.post("/sign-in")
@public
def take() -> AnyResponse | tuple[str, int]:
    """Open a session and go on to the page that was wanted."""
    wanted, faults = _local(request.form.get("next")), {}
    name = request.form.get("name", "")
    try:
        name = check_text("The name", name, NAME_LENGTH) or ""
    except BadInputError as error:
        faults["name"] = said(error)
    found = None if faults else access().check(request.form.get("code", "").strip(), address())
    if found:
        session.clear()
        session.permanent = True
        session["code"], session["name"] = found[1], name
        session["id"] = secrets.token_urlsafe(24)
        form_token()
        return redirect(wanted, 303)
    if not faults:
        faults["code"] = "This is not the access code. It is shown where the server was started."
    status = 401 if "code" in faults else 422
    return render_template("sign_in.html", wanted=wanted, faults=faults, typed=request.form), status


@pages.post("/sign-out")
@public
def leave() -> AnyResponse:
    """End the session, also for copies of its cookie; the browser drops what it kept."""
    if access().role_of(session.get("code")) and "id" in session:
        with for_writing() as registry:
            end_session(registry, str(session["id"]))
    session.clear()
    answer: Any = make_response(redirect("/sign-in", 303))
    answer.headers["Clear-Site-Data"] = '"cache", "storage"'
    return answer  # type: ignore[no-any-return]


@pages.post("/name")
@needs("read")
def rename() -> AnyResponse | tuple[str, int]:
    """Take the name of whoever has the phone now: it stands in the log beside what is entered."""
    try:
        name = check_text("The name", request.form.get("name", ""), NAME_LENGTH) or ""
    except BadInputError as error:
        abort(400, description=said(error))
    if not g.visitor.bearer:
        session["name"] = name
    return redirect("/", 303)


def _local(wanted: str | None) -> str:
    """Return a page of ours to go on to; anything that could lead elsewhere becomes the first."""
    plain = wanted or "/"
    harmless = plain.startswith("/") and not plain.startswith(("//", "/\\"))
    return plain if harmless and plain.isprintable() and "\\" not in plain else "/"
