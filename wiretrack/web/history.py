# SPDX-License-Identifier: MIT
"""The history of a record: who changed what, and taking a change back."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from flask import Blueprint, abort, redirect, render_template, request

from wiretrack.errors import BadInputError, NotFoundError, RestsOnError
from wiretrack.late import dataclass
from wiretrack.model.words import SUBJECTS
from wiretrack.store.searching import Named, resolve
from wiretrack.tasks.change.history import history
from wiretrack.tasks.change.undoing import undo, ways_back
from wiretrack.web.access import needs, who
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import number_asked, said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from werkzeug.wrappers import Response

    from wiretrack.errors import Hint
    from wiretrack.tasks.change.history import Touched

pages = Blueprint("history", __name__)
MOST = 50  # records that a page tells of at first


@dataclass(frozen=True)
class Told:
    """A change, and what it did to the record and its parts."""

    change: str | None
    at: str
    by: str | None
    rows: Sequence[Touched]
    way: Hint | None  # how it is taken back, or what works instead; None where no id names it


@pages.get("/history/<what>/<path:code>")
def of_record(what: str, code: str) -> str:
    """Show who changed what of a record and its parts, newest first."""
    return _page(what, code)


@pages.post("/history/<what>/<path:code>")
@needs("change")
def take_back(what: str, code: str) -> Response | tuple[str, int]:
    """Take a change back; stay on the page if later work rests on it."""
    change = request.form.get("change", "")
    try:
        with for_writing() as registry:
            undo(registry, change, together="together" in request.form, who=who())
    except RestsOnError as error:
        return _page(what, code, fault=said(error), change=change, along=error.changes), 422
    except BadInputError as error:
        return _page(what, code, fault=said(error), change=change), 422
    try:
        with for_reading() as registry:
            resolve(registry, code, (what,))
    except NotFoundError:
        return redirect("/", 303)  # it was new with that change
    return redirect(request.path, 303)


def _page(what: str, code: str, **more: Any) -> str:
    if what not in SUBJECTS:
        abort(404)
    most = number_asked("most") or MOST
    with for_reading() as registry:
        of: Named = resolve(registry, code, (what,))
        found = history(registry, of, limit=most)
        ways = ways_back(registry, {row.change for row in found if row.change})
    told = [
        Told(*key, [*rows], ways.get(key[0]))
        for key, rows in groupby(found, lambda t: (t.change, t.at, t.by))
    ]
    further = most * 4 if len(found) == most else None
    return render_template("history.html", of=of, told=told, further=further, **more)
