# SPDX-License-Identifier: MIT
"""What pages share: addresses, parts of lists, answers to work that several do at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from flask import redirect, request

from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError, NotFoundError
from wiretrack.model.tags import looks_like_tag
from wiretrack.web.failures import said
from wiretrack.web.registries import for_writing

if TYPE_CHECKING:
    from collections.abc import Callable

    from werkzeug.wrappers import Response

    from wiretrack.store.store import Registry


_FOLDERS = {
    "conductor": "/",
    "subject": "/subjects/",
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
    return _FOLDERS[what] + quote(code, safe="")


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
    """Work that is done a step at a time: how it is now, its page, the step alone, its address."""

    step: str
    now: Callable[[Registry], Any]
    page: Callable[[Outcome], Response]
    part: Callable[[Outcome], Response]
    address: Callable[[Any], str]


def take_answer(work: Work, take: Callable[[Registry], Any]) -> Response:
    """Return what follows an answer: the step for a page that is open, else the page."""
    outcome = _outcome(work, take)
    if request.headers.get("X-Part"):
        return work.part(outcome)
    if outcome.fault is None:
        return redirect(work.address(outcome.state), 303)
    return work.page(outcome)


def _outcome(work: Work, take: Callable[[Registry], Any]) -> Outcome:
    with for_writing() as registry:
        try:
            return Outcome(take(registry))
        except NotFoundError:
            raise
        except ChangedMeanwhileError:
            return Outcome(work.now(registry), 409, MEANWHILE.format(work.step))
        except BadInputError as error:
            field = error.field if isinstance(error, FieldError) else ""
            return Outcome(work.now(registry), 422, said(error), field)
