# SPDX-License-Identifier: MIT
"""What pages share: addresses, parts of lists, answers to work that several do at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from flask import Response, make_response, redirect, request

from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError, NotFoundError
from wiretrack.late import dataclass
from wiretrack.model.tags import looks_like_tag
from wiretrack.web.failures import said
from wiretrack.web.registries import for_reading, for_writing

if TYPE_CHECKING:
    from collections.abc import Callable

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.store.store import Registry


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
