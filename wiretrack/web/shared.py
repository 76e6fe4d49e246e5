# SPDX-License-Identifier: MIT
"""What pages share: addresses, errors in words, answers to work that several do at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from flask import Response, current_app, jsonify, make_response, redirect, render_template, request
from werkzeug.exceptions import HTTPException, InternalServerError

from wiretrack.errors import (
    BadInputError,
    ChangedMeanwhileError,
    FieldError,
    NotFoundError,
    RegistryError,
    ReplayError,
    WiretrackError,
)
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.model.tags import looks_like_tag
from wiretrack.web.registries import for_reading, for_writing

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from flask import Flask
    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.errors import Hint
    from wiretrack.store.store import Registry

# What forms call their fields; a hint that names another field leads nowhere on a page.
LABELS = {
    "tags": "The conductor (its tag; several in series, in order)",
    "against": "What it is in contact with: a tag, or raceway",
    "near": "Read at the near end",
    "far": "Read at the far end",
    "near_joined": "Read at the near end, far ends connected",
    "murray": "Arms, good:faulty",
    "varley": "Arms, good:set",
    "set": "Set at balance",
    "set_ohms": "Set at balance",
    "good": "The good conductor of the loop (its tag)",
    "loop": "Loop's resistance, if measured",
    "fault_ohms": "The fault's own resistance, if known",
    "raceway_ohms": "The raceway end to end, if it is in the way",
    "along": "Read end to end",
    "like": "A like conductor and its reading",
    "at": "Near end: the box where you measured",
    "leads": "Leads' resistance within the readings",
    "cell_temp": "Cells' temperature, at the back of a module",
    "beside": "Like strings read at the same moment",
    "temps": "Conductors' temperature",
}


def said(error: WiretrackError) -> str:
    """Return the whole message of an error, with labels for the fields that its hint names.

    What to do on the command line is left out.
    """
    return words(error.worded(advice))


def advice(hint: Hint) -> str:
    """Return a hint in a page's words; empty where it leads nowhere on a page."""
    return hint.worded(lambda name: f"“{LABELS[name]}”", lambda hint: "")


def field_at_fault(error: BadInputError, typed: Mapping[str, str]) -> str:
    """Return the field whose text the error is about; empty where it is about none alone.

    Errors name the value at fault, either whole or one word of it (a tag of a list).
    """
    told = error.what
    for name, text in typed.items():
        plain = text.strip()
        words = {plain, *plain.replace(",", " ").split(), *plain.split("=")} - {""}
        if any(word == error.value or f"'{word}'" in told for word in words):
            return name
    return ""


TOO_MANY = 429
_STATUS: tuple[tuple[type[WiretrackError], int], ...] = (
    (NotFoundError, 404),
    (ReplayError, 409),
    (ChangedMeanwhileError, 412),
    (FieldError, 422),
    (BadInputError, 400),
    (RegistryError, 503),
)
_WORDS = {
    400: "The server doesn't understand this request.",
    401: "An access code is needed.",
    403: "This access code may not do that.",
    404: "There is no such page. Look for it with Find.",
    405: "That can't be done here.",
    413: "That is too long to be taken.",
    414: "That address is too long.",
    415: "Send JSON, with Content-Type: application/json.",
    TOO_MANY: "Too many wrong codes.",
    500: "The server failed. Nothing was stored by this request; try it again.",
}


def answer_errors(app: Flask) -> None:
    """Make `app` answer every error in words."""
    app.register_error_handler(WiretrackError, _ours)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Exception, _unforeseen)


def _ours(error: WiretrackError) -> Response:
    details: dict[str, Any] = {}
    if isinstance(error, FieldError):
        details["field"] = error.field
    if isinstance(error, FieldError | ChangedMeanwhileError) and error.now is not None:
        details["now"] = error.now
    status = next((status for kind, status in _STATUS if isinstance(error, kind)), 400)
    return _answer(status, said(error), details)


def _http(error: HTTPException) -> Response:
    status = error.code or 500
    if status < 400:
        return make_response(error.get_response())
    own = error.description if error.description != type(error).description else None
    wait_s = own if status == TOO_MANY else None
    told = f"{_WORDS[TOO_MANY]} Wait {wait_s} s." if wait_s else own
    response = _answer(status, told or _WORDS.get(status, error.name), {})
    if wait_s:
        response.headers["Retry-After"] = wait_s
    if status == 401:
        response.headers["WWW-Authenticate"] = 'Bearer realm="wiretrack"'
    if status == 405 and getattr(error, "valid_methods", None):
        response.headers["Allow"] = ", ".join(sorted(error.valid_methods))  # type: ignore[attr-defined]
    return response


def _unforeseen(error: Exception) -> Response:
    current_app.logger.error("%s %s", request.method, request.path, exc_info=error)
    return _http(InternalServerError())


def _answer(status: int, message: str, details: dict[str, Any]) -> Response:
    if request.path.startswith("/api/"):
        response = jsonify({"error": message, **details})
    elif status == 401:
        response = make_response(render_template("sign_in.html", wanted=_wanted(), faults={}))
    else:
        response = make_response(render_template("error.html", status=status, message=message))
    response.status_code = status
    return response


def _wanted() -> str:
    """Return the page to go on to after signing in."""
    return request.full_path.rstrip("?") if request.method == "GET" else "/"


_FOLDERS = {
    "conductor": "/",
    "subject": "/subjects/",
    "device": "/notes/device/",  # these have no page but that of their notes
    "terminal": "/notes/terminal/",
    "instrument": "/notes/instrument/",
    "site": "/notes/site/",
    "circuit": "/circuits/",
    "enclosure": "/enclosures/",
    "raceway": "/raceways/",
    "pull": "/pulls/",
    "tests": "/tests/",
    "ringout": "/ringouts/",
    "search": "/searches/",
    "trouble": "/trouble?q=",
    "fault": "/faults/",
    "tree": "/trees/",
    "string": "/strings/",
}


def address_of(what: str, code: str) -> str:
    """Return the address of a page.

    >>> address_of("circuit", "PV 1/2")
    '/circuits/PV%201%2F2'
    """
    if what in ("subject", "reading"):  # what a reading is of; most are of conductors
        what = "conductor" if looks_like_tag(code) else "subject"
    return _FOLDERS[what] + quote(str(code), safe="")


def after(what: str, code: str, change: str | None) -> str:
    """Return the address of a record's page, that offers to take this change back."""
    where = "/" if what == "site" else address_of(what, code)
    return where if change is None else f"{where}{'&' if '?' in where else '?'}did={change}"


HIGHEST = 2**62


def number_asked(name: str) -> int:
    """Return a number of the address; 0 for what is none."""
    typed = request.args.get(name, "")
    is_number = typed.isascii() and typed.isdecimal() and len(typed) < 19
    return min(int(typed), HIGHEST) if is_number else 0


MEANWHILE = "That {} was answered or changed already. Here is the one that stands now."


@dataclass(frozen=True)
class Outcome:
    """The work as it is now; where an answer can't be taken, why, and the field if it's one."""

    state: Any
    status: int = 200
    fault: str | None = None
    field: str = ""


@dataclass(frozen=True)
class Work:
    """Work that is done a step at a time: how it is read and `shown`, the parts of its address.

    `name` is that of its page (and of its template, that of a step alone has ``_step`` behind it),
    `step` what a step is called, `code` the field of its state that its address ends in.
    """

    name: str
    step: str
    code: str
    now: Callable[[Registry, str], Any]
    version: Callable[[Registry, str], str | None]
    shown: Callable[[str, Outcome], str]

    def page(self, outcome: Outcome) -> AnyResponse:
        """Return the whole page."""
        return make_response(self.shown(f"{self.name}.html", outcome), outcome.status)

    def part(self, outcome: Outcome) -> AnyResponse:
        """Return the step alone, for a page that is open already."""
        response = make_response(self.shown(f"{self.name}_step.html", outcome), outcome.status)
        response.set_etag(outcome.state.version)
        return response

    def part_now(self, what: str) -> AnyResponse:
        """Return the step that stands now, alone; 304 while nothing changed."""
        with for_reading() as registry:
            if (self.version(registry, what) or "") in request.if_none_match.as_set():
                return Response(status=304)
            return self.part(Outcome(self.now(registry, what)))

    def take(self, what: str, answer: Callable[[Registry], Any]) -> AnyResponse:
        """Return what follows an answer: the step for a page that is open, else the page."""
        outcome = self._outcome(what, answer)
        if request.headers.get("X-Part"):
            return self.part(outcome)
        if outcome.fault is None:
            return redirect(address_of(self.name, getattr(outcome.state, self.code)), 303)
        return self.page(outcome)

    def _outcome(self, what: str, answer: Callable[[Registry], Any]) -> Outcome:
        with for_writing() as registry:
            try:
                return Outcome(answer(registry))
            except NotFoundError:
                raise
            except ChangedMeanwhileError:
                return Outcome(self.now(registry, what), 409, MEANWHILE.format(self.step))
            except BadInputError as error:
                field = error.field if isinstance(error, FieldError) else ""
                return Outcome(self.now(registry, what), 422, said(error), field)
